"""The whole judgement: headline and size apart, cross-checked or not, and when measuring may end."""

import pytest

from core.geometry.features import CORNERS, DIAGONALS, EDGES, Feature
from core.metrology.evaluation import NextReading, NextReason, Scope, evaluate
from core.metrology.kerf import SizeCause
from core.metrology.tolerances import limits_for_class, own_limits
from core.metrology.verdict import Verdict
from tests.core.metrology.known_coupons import HOUSE, SETUP, exact_readings, reading, shape

MK = limits_for_class(HOUSE, "mK")


def verdicts(evaluation):
    return evaluation.verdict, evaluation.size_verdict


def test_a_square_coupon_of_the_right_size_is_go_in_both():
    evaluation = evaluate(HOUSE, exact_readings(shape()), MK, SETUP)
    assert verdicts(evaluation) == (Verdict.GO, Verdict.GO)
    assert evaluation.cross_checked
    assert evaluation.settled


def test_kerf_alone_does_not_make_a_square_machine_read_no_go():
    undersize = exact_readings(shape(scale_x=-0.6 / 120, scale_y=-0.6 / 80))
    assert verdicts(evaluate(HOUSE, undersize, MK, SETUP)) == (Verdict.GO, Verdict.NO_GO)


def test_a_racked_gantry_is_no_go_at_the_right_size():
    evaluation = evaluate(HOUSE, exact_readings(shape(skew_deg=0.6)), MK, SETUP)
    assert verdicts(evaluation) == (Verdict.NO_GO, Verdict.GO)
    assert evaluation.settled


def test_nothing_read_decides_nothing():
    evaluation = evaluate(HOUSE, (), MK, SETUP)
    assert verdicts(evaluation) == (Verdict.UNDECIDED, Verdict.UNDECIDED)
    assert not evaluation.settled


def test_lengths_alone_give_a_verdict_but_not_a_cross_checked_one():
    evaluation = evaluate(HOUSE, exact_readings(shape(), EDGES + DIAGONALS), MK, SETUP)
    assert evaluation.verdict is Verdict.GO
    assert not evaluation.cross_checked
    assert not evaluation.settled


@pytest.mark.parametrize("more", [CORNERS, DIAGONALS], ids=["corners", "diagonals again"])
def test_corners_or_both_diagonals_again_cross_check_it(more):
    readings = exact_readings(shape(), EDGES + DIAGONALS + more)
    assert evaluate(HOUSE, readings, MK, SETUP).settled


@pytest.mark.parametrize("more", [CORNERS[:3], DIAGONALS[:1]])
def test_part_of_it_is_not_enough(more):
    readings = exact_readings(shape(), EDGES + DIAGONALS + more)
    assert not evaluate(HOUSE, readings, MK, SETUP).cross_checked


def test_diagonals_that_disagree_with_themselves_check_nothing():
    once = exact_readings(shape(), EDGES + DIAGONALS)
    misread = [reading(Feature.NL_FR, 145.0), *exact_readings(shape(), (Feature.NR_FL,))]
    evaluation = evaluate(HOUSE, once + misread, MK, SETUP)
    assert not evaluation.cross_checked
    assert evaluation.next_reading == NextReading(feature=Feature.NL_FR, reason=NextReason.SUSPECT)
    # However often it is read again, the one that disagrees has to go first.
    more = exact_readings(shape(), (Feature.NL_FR,) * 2)
    assert not evaluate(HOUSE, once + misread + more, MK, SETUP).cross_checked


def test_contradiction_comes_before_everything():
    readings = [r for r in exact_readings(shape(skew_deg=2.0)) if r.feature is not Feature.NEAR]
    readings.append(reading(Feature.NEAR, 90.0))
    evaluation = evaluate(HOUSE, readings, MK, SETUP)
    assert verdicts(evaluation) == (Verdict.INCONSISTENT, Verdict.INCONSISTENT)
    assert not evaluation.settled


def test_the_quick_check_settles_squareness_on_two_diagonals_read_twice():
    once = exact_readings(shape(skew_deg=0.02), DIAGONALS)
    quick = evaluate(HOUSE, once, MK, SETUP, scope=Scope.SQUARENESS)
    assert (quick.verdict, quick.cross_checked, quick.size_judged) == (Verdict.GO, False, False)
    assert evaluate(HOUSE, once * 2, MK, SETUP, scope=Scope.SQUARENESS).settled


def test_limits_for_size_alone_leave_squareness_undecided():
    evaluation = evaluate(HOUSE, exact_readings(shape()), own_limits(edge_mm=0.3), SETUP)
    assert verdicts(evaluation) == (Verdict.UNDECIDED, Verdict.GO)


def test_sizes_point_to_their_cause_unless_the_readings_contradict():
    undersize = exact_readings(shape(scale_x=-0.6 / 120, scale_y=-0.6 / 80))
    assert evaluate(HOUSE, undersize, MK, SETUP).size_finding.cause is SizeCause.KERF
    contradictory = [*undersize[:5], reading(Feature.NR_FL, 150.0)]
    assert evaluate(HOUSE, contradictory, MK, SETUP).size_finding is None
