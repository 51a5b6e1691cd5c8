"""Characteristics from an adjustment: values, signs, uncertainties, and which of them count."""

import math
from dataclasses import replace

import numpy as np
import pytest

from core.geometry.features import DIAGONALS, Feature
from core.metrology.adjustment import adjust
from core.metrology.characteristics import Scope, characteristics
from core.metrology.expansion import expansion_difference
from core.metrology.tolerances import limits_for_class, own_limits
from core.metrology.verdict import CharacteristicGroup, Verdict
from tests.core.metrology.known_coupons import HOUSE, SETUP, exact_readings, reading, shape

MK = limits_for_class(HOUSE, "mK")


def judged(readings, limits=MK, **options):
    found = characteristics(adjust(HOUSE, readings, SETUP), limits, **options)
    return {characteristic.name: characteristic for characteristic in found}


def test_a_skewed_coupon_is_acute_at_nl_and_fr_by_shorter_side_times_cosine():
    found = judged(exact_readings(shape(skew_deg=0.5)))
    expected_mm = 80.0 * math.sin(math.radians(0.5))
    for corner, sign in (("nl", 1), ("nr", -1), ("fr", 1), ("fl", -1)):
        assert found[f"perpendicularity-{corner}"].value == pytest.approx(sign * expected_mm, abs=0.003)
        assert found[f"corner-{corner}"].value == pytest.approx(90.0 - sign * 0.5, abs=0.002)
    assert found["diagonal-difference"].value > 1.0


def test_uncertainty_follows_from_the_covariance_by_differences():
    adjustment = adjust(HOUSE, exact_readings(shape(skew_deg=0.4, taper_x=1e-3)), SETUP)
    # The factor of the covariance gives steps of one standard deviation in independent directions.
    steps = np.linalg.cholesky(adjustment.covariance)
    found = characteristics(adjustment, MK)
    variances = np.zeros(len(found))
    for direction in steps.T:
        up, down = (characteristics(_moved(adjustment, sign * 1e-2 * direction), MK) for sign in (1.0, -1.0))
        variances += np.array([(p.value - m.value) / 2e-2 for p, m in zip(up, down, strict=True)]) ** 2
    assert [c.u for c in found] == pytest.approx(list(np.sqrt(variances)), rel=1e-5)


def _moved(adjustment, step):
    return replace(adjustment, parameters=adjustment.parameters + step)


def test_corners_are_information_where_part_2_is_invoked_and_judged_where_not():
    readings = exact_readings(shape())
    assert judged(readings)["corner-nl"].group is CharacteristicGroup.INFORMATION
    assert judged(readings)["corner-nl"].conformance_probability is None
    alone = judged(readings, limits_for_class(HOUSE, "m"))
    assert alone["corner-nl"].group is CharacteristicGroup.SQUARENESS
    assert alone["perpendicularity-nl"].group is CharacteristicGroup.INFORMATION


def test_diagonal_difference_is_judged_when_a_limit_is_set():
    readings = exact_readings(shape(skew_deg=1.0))
    assert judged(readings)["diagonal-difference"].verdict is Verdict.UNDECIDED
    assert judged(readings, own_limits(diagonal_mm=0.5))["diagonal-difference"].verdict is Verdict.NO_GO


def test_edges_are_size_and_the_limits_stand_about_the_nominal():
    near = judged(exact_readings(shape()))["edge-near"]
    assert near.group is CharacteristicGroup.SIZE
    assert (near.nominal, near.lower, near.upper) == (120.0, pytest.approx(119.7), pytest.approx(120.3))


def test_two_diagonals_settle_squareness_by_the_skew_in_the_quick_check():
    found = judged(exact_readings(shape(skew_deg=0.05), DIAGONALS), scope=Scope.SQUARENESS)
    assert found["perpendicularity-mean"].verdict is Verdict.GO
    assert set(found) == {"perpendicularity-mean", "corner-mean", "diagonal-difference"}


def test_in_contradictory_readings_no_value_is_believed():
    readings = [r for r in exact_readings(shape()) if r.feature is not Feature.NL_FR] + [reading(Feature.NL_FR, 130.0)]
    assert {c.verdict for c in judged(readings).values() if c.tolerance is not None} == {Verdict.INCONSISTENT}


def test_warmth_changes_sizes_and_no_squareness():
    readings = exact_readings(shape(skew_deg=0.3))
    cold = judged(readings)
    warm = judged(readings, expansion=expansion_difference("acrylic", 30.0))
    # 120 mm of acrylic, 10 K above 20 degrees, read with a steel caliper: 60e-6 x 10 x 120 mm too long.
    assert cold["edge-near"].value - warm["edge-near"].value == pytest.approx(0.072, abs=0.001)
    assert warm["edge-near"].u > cold["edge-near"].u
    assert warm["perpendicularity-nl"] == cold["perpendicularity-nl"]
    assert warm["diagonal-difference"] == cold["diagonal-difference"]
