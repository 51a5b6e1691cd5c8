"""Sizes at 20 degrees: what heat does to the coupon less what it does to the caliper."""

import pytest

from core.errors import BadInputError
from core.metrology.adjustment import Estimate
from core.metrology.expansion import MATERIALS, Material, expansion_difference
from core.said import said

INVAR_LIKE = Material(name="none", label=said("none"), expansion_per_k=0.0, half_width_per_k=0.0)


def test_at_20_degrees_only_the_doubt_about_the_temperature_is_left():
    at_20 = expansion_difference("acrylic", 20.0, u_temperature_k=1.0)
    assert at_20.difference == 0.0
    assert at_20.u == pytest.approx(71.5e-6 - 11.5e-6)


def test_a_caliper_that_does_not_expand_shows_the_whole_of_it():
    # 300 mm of acrylic, 5 K: 0.105 mm (70e-6 per K: from memory; the rest is arithmetic).
    warm = expansion_difference("acrylic", 25.0, caliper=INVAR_LIKE)
    assert 300.0 * warm.difference == pytest.approx(0.105, abs=0.003)


def test_equal_materials_cancel_but_not_their_uncertainty():
    steel = expansion_difference("steel", 30.0)
    assert steel.difference == 0.0
    assert steel.u == pytest.approx(10.0 * MATERIALS["steel"].u_per_k * 2**0.5)


def test_a_length_read_warm_is_shorter_at_20_degrees():
    length = expansion_difference("aluminium", 35.0).at_reference(Estimate(value=400.0, u=0.02))
    assert length.value == pytest.approx(400.0 - 400.0 * 11e-6 * 15, abs=1e-4)
    assert length.u > 0.02


@pytest.mark.parametrize(("material", "temperature_c"), [("butter", 20.0), ("steel", 90.0), ("steel", float("nan"))])
def test_what_no_workshop_has_is_refused(material, temperature_c):
    with pytest.raises(BadInputError, match="it must"):
        expansion_difference(material, temperature_c)
