"""Characteristics from an adjustment: values, signs, uncertainties, and which of them count."""

import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.features import Feature
from core.metrology.adjustment import adjust
from core.metrology.characteristics import characteristics, measurands
from core.metrology.expansion import expansion_difference
from core.metrology.tolerances import limits_for_class, own_limits
from core.metrology.verdict import CharacteristicGroup, Verdict
from tests.core.metrology.known_coupons import HOUSE, SETUP, exact_readings, reading, shape

MK = limits_for_class(HOUSE, "mK")


def judged(readings, limits=MK, expansion=None):
    adjustment = adjust(HOUSE, readings, SETUP)
    found = characteristics(adjustment, measurands(adjustment, limits), expansion)
    return {characteristic.name: characteristic for characteristic in found}


def test_skew_is_squareness_and_leaves_no_corner_beyond_it():
    found = judged(exact_readings(shape(skew_deg=0.5)))
    assert found["squareness"].value == pytest.approx(80.0 * math.tan(math.radians(0.5)), abs=0.003)
    assert found["squareness"].group is CharacteristicGroup.SQUARENESS
    for corner, sign in (("nl", 1), ("nr", -1), ("fr", 1), ("fl", -1)):
        assert found[f"perpendicularity-{corner}"].value == pytest.approx(0.0, abs=0.003)
        assert found[f"corner-{corner}"].value == pytest.approx(90.0 - sign * 0.5, abs=0.002)
    assert found["diagonal-difference"].value > 1.0


def test_a_taper_is_shape_and_no_squareness():
    """A far edge 0.6 mm longer than the near one leans both sides by half of it: 80 sin(0.3 / 80) at every corner."""
    found = judged(exact_readings(shape(taper_x=0.3 / 120.0)))
    assert found["squareness"].value == pytest.approx(0.0, abs=0.003)
    assert found["taper-x"].value == pytest.approx(0.6, abs=0.01)
    assert found["taper-x"].group is CharacteristicGroup.SHAPE
    assert (found["taper-x"].lower, found["taper-x"].upper) == (pytest.approx(-0.6), pytest.approx(0.6))
    assert abs(found["perpendicularity-nl"].value) == pytest.approx(0.3, abs=0.01)
    assert found["perpendicularity-nl"].group is CharacteristicGroup.SHAPE


def test_uncertainty_follows_from_the_covariance_by_differences():
    adjustment = adjust(HOUSE, exact_readings(shape(skew_deg=0.4, taper_x=1e-3)), SETUP)
    # The factor of the covariance gives steps of one standard deviation in independent directions.
    steps = np.linalg.cholesky(adjustment.covariance)
    found = characteristics(adjustment, measurands(adjustment, MK))
    variances = np.zeros(len(found))
    for direction in steps.T:
        up, down = (measurands(_moved(adjustment, sign * 1e-2 * direction), MK) for sign in (1.0, -1.0))
        variances += np.array([(p.value - m.value) / 2e-2 for p, m in zip(up, down, strict=True)]) ** 2
    assert [c.u for c in found] == pytest.approx(list(np.sqrt(variances)), rel=1e-5)


def _moved(adjustment, step):
    return replace(adjustment, parameters=adjustment.parameters + step)


def test_corners_are_information_where_part_2_is_invoked_and_judged_where_not():
    readings = exact_readings(shape())
    assert judged(readings)["corner-nl"].group is CharacteristicGroup.INFORMATION
    assert judged(readings)["corner-nl"].conformance_probability is None
    alone = judged(readings, limits_for_class(HOUSE, "m"))
    assert alone["corner-nl"].group is CharacteristicGroup.SHAPE
    assert alone["perpendicularity-nl"].group is CharacteristicGroup.INFORMATION
    assert alone["skew"].group is CharacteristicGroup.SQUARENESS
    assert alone["skew"].upper == pytest.approx(1.0 / 3.0)


def test_diagonal_difference_is_judged_when_a_limit_is_set():
    readings = exact_readings(shape(skew_deg=1.0))
    assert judged(readings)["diagonal-difference"].verdict is Verdict.UNDECIDED
    limited = judged(readings, own_limits(diagonal_mm=0.5))["diagonal-difference"]
    assert (limited.verdict, limited.group) == (Verdict.NO_GO, CharacteristicGroup.SQUARENESS)
    both = judged(readings, own_limits(diagonal_mm=0.5, perpendicularity_mm=0.4))["diagonal-difference"]
    assert both.group is CharacteristicGroup.SHAPE


def test_edges_are_size_and_the_limits_stand_about_the_nominal():
    near = judged(exact_readings(shape()))["edge-near"]
    assert near.group is CharacteristicGroup.SIZE
    assert (near.nominal, near.lower, near.upper) == (120.0, pytest.approx(119.7), pytest.approx(120.3))


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
    assert warm["squareness"] == cold["squareness"]
    assert warm["diagonal-difference"] == cold["diagonal-difference"]
