"""A move needs a witness: the constructed coupons on which a wrong name once gave a confident wrong move.

Coupons 120 x 80 mm of known skew, read exactly, one fault each.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.seats import equal_seats, keyed_seats
from core.metrology.adjustment import Estimate
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.readings import Reading
from core.metrology.sentences import cross_check_note, headline, skew_sentence
from core.metrology.tolerances import limits_for_class
from core.metrology.two_skews import two_skews
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.metrology.witness import (
    Answers,
    Light,
    MarkSeen,
    MoveHeld,
    WitnessKind,
    came_as_foretold,
    corners_agree,
    move_evidence,
    trial_share,
)
from tests.core.metrology.known_coupons import HOUSE, SETUP, exact_readings, reading, shape
from tests.core.metrology.simulated_readings import random_truth, simulate

MK = limits_for_class(HOUSE, "mK")
KEYED = replace(HOUSE, seats=keyed_seats(120.0, 80.0))
EQUAL = replace(HOUSE, seats=equal_seats(120.0, 80.0))
AT_NL = Answers(mark=MarkSeen.NL)
EXCHANGED = {Feature.NL_FR: Feature.NR_FL, Feature.NR_FL: Feature.NL_FR}
NL, NR, FR, FL = CORNERS


def judged(coupon: Coupon, readings: list[Reading]) -> Evaluation:
    return evaluate(coupon, readings, MK, SETUP)


def racked(coupon: Coupon, skew_deg: float, features: tuple[Feature, ...]) -> list[Reading]:
    return exact_readings(shape(skew_deg=skew_deg), features, coupon)


def exchanged(readings: list[Reading]) -> list[Reading]:
    return [reading(EXCHANGED.get(r.feature, r.feature), r.value) for r in readings]


def misread(readings: list[Reading], feature: Feature, error: float) -> list[Reading]:
    return [reading(r.feature, r.value + (error if r.feature is feature else 0.0)) for r in readings]


@pytest.mark.parametrize("coupon", [HOUSE, EQUAL, KEYED], ids=["corners", "seats", "keyed"])
@pytest.mark.parametrize("skew_deg", [0.12, 0.35, 0.6])
def test_diagonals_taken_for_one_another_give_no_move(coupon: Coupon, skew_deg: float) -> None:
    """Read twice with four edges: NO-GO, settled, and the move 3.90 mm the wrong way, once."""
    lengths = exchanged(racked(coupon, skew_deg, DIAGONALS * 2 + EDGES))
    assert move_evidence(judged(coupon, lengths), AT_NL).witness is None
    ten = lengths + racked(coupon, skew_deg, CORNERS)
    assert move_evidence(judged(coupon, ten), AT_NL).witness is None


def test_a_diagonal_misread_half_a_millimetre_gives_no_move() -> None:
    once = misread(racked(HOUSE, 0.05, TEN_FEATURES), Feature.NL_FR, 0.5)
    assert move_evidence(judged(HOUSE, once), AT_NL).held is MoveHeld.NOT_SETTLED


@pytest.mark.parametrize("features", [DIAGONALS * 2, TEN_FEATURES + DIAGONALS], ids=["quick", "ten"])
def test_two_corners_burnt_more_than_the_others_give_no_move(features: tuple[Feature, ...]) -> None:
    burnt = misread(racked(HOUSE, 0.0, features), Feature.NL_FR, -0.55)
    assert move_evidence(judged(HOUSE, burnt), AT_NL).witness is None


def test_keyed_seats_are_a_witness_by_themselves_where_no_exchange_could_show_the_skew() -> None:
    """An exchange shows the key less the skew: 0.8 degrees may be 1.5 exchanged, but -1.5 would have to be 3.8."""
    proven = WitnessKind.KEYED_SEATS
    for skew_deg, witness in ((0.35, proven), (0.6, proven), (-0.6, proven), (-1.5, proven), (0.8, None), (-1.8, None)):
        evidence = move_evidence(judged(KEYED, racked(KEYED, skew_deg, DIAGONALS * 2)), AT_NL)
        assert evidence.witness is witness
        assert evidence.skew_deg.value == pytest.approx(skew_deg, abs=0.01)
    assert move_evidence(judged(EQUAL, racked(EQUAL, 0.35, DIAGONALS * 2)), AT_NL).held is MoveHeld.NO_WITNESS


@pytest.mark.parametrize("skew_deg", [0.0, 0.12, -0.35, 0.6])
@pytest.mark.parametrize("size", [(120.0, 80.0), (80.0, 120.0), (300.0, 200.0), (300.0, 100.0)])
def test_exchanged_diagonals_of_keyed_seats_are_never_a_settled_word(
    skew_deg: float, size: tuple[float, float]
) -> None:
    """They look like more than two degrees: a square coupon was NO-GO, settled, though no move was said."""
    coupon = Coupon(width_mm=size[0], height_mm=size[1], seats=keyed_seats(*size))
    limits = limits_for_class(coupon, "mK")
    wrong = exchanged(racked(coupon, skew_deg, DIAGONALS * 2))
    evaluation = evaluate(coupon, wrong, limits, SETUP)
    assert not evaluation.settled
    assert evaluation.next_reading is not None
    assert evaluation.next_reading.feature is NL
    assert "taken for one another" in str(cross_check_note(evaluation))
    assert move_evidence(evaluation, AT_NL).held is MoveHeld.NO_WITNESS
    # The corners of the coupon as it is say that it does not lean so.
    seen = evaluate(coupon, wrong + racked(coupon, skew_deg, CORNERS * 2), limits, SETUP)
    assert not seen.settled
    assert move_evidence(seen, AT_NL).witness is None


@pytest.mark.parametrize("skew_deg", [1.2, -1.8, 2.4, 2.8])
def test_so_large_a_skew_that_is_the_coupons_own_is_settled_by_its_corners(skew_deg: float) -> None:
    lengths = racked(KEYED, skew_deg, DIAGONALS * 2)
    assert not judged(KEYED, lengths).settled
    whole = judged(KEYED, lengths + racked(KEYED, skew_deg, CORNERS * 2))
    assert whole.group(CharacteristicGroup.SQUARENESS).settled
    assert whole.verdict is Verdict.NO_GO
    assert move_evidence(whole, AT_NL).witness is WitnessKind.CORNERS
    # Without a gauge a try square held against the light does as well, unless the coupon would, its diagonals
    # exchanged, lean the same way by another amount (1.2 degrees may be 1.1, and 2.2 may be 0.1).
    light = {
        1.0: Answers(mark=MarkSeen.NL, light_at_nl=Light.BLADE_END, light_at_nr=Light.CORNER),
        -1.0: Answers(mark=MarkSeen.NL, light_at_nl=Light.CORNER, light_at_nr=Light.BLADE_END),
    }
    evidence = move_evidence(judged(KEYED, lengths), light[math.copysign(1.0, skew_deg)])
    assert (evidence.witness is WitnessKind.TRY_SQUARE) is (skew_deg in (2.8, -1.8))


@pytest.mark.parametrize("skew_deg", [0.1, 0.35, 0.8])
def test_exchanged_keyed_diagonals_whose_lean_the_square_confirms_give_no_move(skew_deg: float) -> None:
    """They look like 2.3 degrees less their own: the same way, by six times as much."""
    wrong = exchanged(racked(KEYED, skew_deg, DIAGONALS * 2))
    truthful = replace(AT_NL, light_at_nl=Light.BLADE_END, light_at_nr=Light.CORNER)
    assert move_evidence(judged(KEYED, wrong), truthful).witness is None


def test_corners_are_a_witness_with_seats_an_opposite_pair_is_enough_for_a_large_skew() -> None:
    checked = replace(SETUP, gauge=replace(SETUP.gauge, zero_sd=0.03))
    pair = racked(EQUAL, 0.6, (*DIAGONALS * 2, NL, FR))
    assert move_evidence(evaluate(EQUAL, pair, MK, checked), AT_NL).witness is WitnessKind.CORNERS
    # Not zeroed today, two corners say nothing; and from corner to corner burning could feign it.
    assert move_evidence(judged(EQUAL, racked(EQUAL, 0.4, (*DIAGONALS * 2, NL, FR))), AT_NL).witness is None
    assert (
        move_evidence(evaluate(HOUSE, racked(HOUSE, 0.6, (*DIAGONALS * 2, NL, FR)), MK, checked), AT_NL).witness is None
    )
    whole = judged(HOUSE, racked(HOUSE, 0.6, DIAGONALS * 2 + CORNERS))
    assert move_evidence(whole, AT_NL).witness is WitnessKind.CORNERS


@pytest.mark.parametrize("coupon", [HOUSE, KEYED], ids=["corners", "keyed"])
def test_corners_agree_by_rough_skews_where_they_do_by_both_ways(
    coupon: Coupon, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Just within each limit and just beyond it, and far from all of them."""
    rng = np.random.default_rng(18)
    roughly = []
    evaluations = []
    for count in (1, 2, 3) * 40:
        readings = simulate(rng, random_truth(rng, SETUP), setup=SETUP, coupon=coupon, repeats=count)
        off = {Feature.NL: rng.normal(0.0, 0.3), Feature.NL_FR: rng.normal(0.0, 0.3)}
        moved = [replace(r, value=r.value + off.get(r.feature, 0.0)) for r in readings]
        evaluations.append(judged(coupon, moved))
        roughly.append(corners_agree(evaluations[-1]))
    monkeypatch.setattr("core.metrology.witness.rough_skews", two_skews)
    assert roughly == [corners_agree(evaluation) for evaluation in evaluations]
    assert 20 < sum(roughly) < 100


def test_a_disagreement_is_named_where_its_average_is_next_to_nothing() -> None:
    """Diagonals exchanged, all four corners contradicting: -0.12 and +0.12 degrees, the best fit -0.07 in between."""
    ten = exchanged(racked(HOUSE, 0.12, DIAGONALS * 2 + EDGES)) + racked(HOUSE, 0.12, CORNERS)
    evaluation = judged(HOUSE, ten)
    assert not evaluation.adjustment.skew_deg.sign_is_sure
    assert move_evidence(evaluation, AT_NL).held is MoveHeld.DISAGREE
    told = str(skew_sentence(evaluation))
    assert "they do not agree" in told
    assert "acute" not in told


@pytest.mark.parametrize(
    ("skew_deg", "burnt_mm", "features"),
    [
        (0.35, 0.5, TEN_FEATURES + DIAGONALS),
        (0.35, 0.5, TEN_FEATURES + DIAGONALS + CORNERS),
        (0.32, 0.4, TEN_FEATURES + DIAGONALS + CORNERS),
    ],
)
def test_no_word_is_said_by_the_average_of_lengths_and_corners_that_say_different_ones(
    skew_deg: float, burnt_mm: float, features: tuple[Feature, ...]
) -> None:
    """Bad coupons, two corners burnt: the lengths 0.14, the corners 0.35 of at most 0.29 degrees; GO, settled, once."""
    evaluation = judged(HOUSE, misread(racked(HOUSE, skew_deg, features), Feature.NL_FR, -burnt_mm))
    assert evaluation.skew_by.disagree
    assert evaluation.verdict is Verdict.UNDECIDED
    assert not evaluation.settled
    assert str(headline(evaluation)) == "Lengths and corners say different words."
    assert "another than by the corners" in str(cross_check_note(evaluation))


def test_a_move_so_small_that_its_direction_may_be_chance_is_not_given() -> None:
    """Beyond its U by 95 % is wrong about the sign of eight coupons in ten thousand that are next to square."""
    small = judged(KEYED, racked(KEYED, 0.045, DIAGONALS * 2))
    skew = small.adjustment.skew_deg
    assert skew.value > skew.U95
    evidence = move_evidence(small, AT_NL)
    assert evidence.held is MoveHeld.NOT_SIGNIFICANT
    assert "sure of its direction" in str(evidence.why)
    assert move_evidence(judged(KEYED, racked(KEYED, 0.08, DIAGONALS * 2)), AT_NL).witness is WitnessKind.KEYED_SEATS


def test_lengths_and_corners_that_disagree_are_named_and_never_averaged() -> None:
    readings = misread(racked(HOUSE, 0.0, DIAGONALS * 2 + EDGES + CORNERS), Feature.NL_FR, -0.5)
    evaluation = judged(HOUSE, readings)
    assert evaluation.skew_by.disagree
    evidence = move_evidence(evaluation, AT_NL)
    assert evidence.held is MoveHeld.DISAGREE
    assert "burnt unequally" in str(evidence.why)


@pytest.mark.parametrize(
    ("mark", "sign"), [(MarkSeen.NL, 1.0), (MarkSeen.FR, 1.0), (MarkSeen.NR, -1.0), (MarkSeen.FL, -1.0)]
)
def test_a_design_turned_a_quarter_turns_the_move(mark: MarkSeen, sign: float) -> None:
    evidence = move_evidence(judged(KEYED, racked(KEYED, 0.5, DIAGONALS * 2)), Answers(mark=mark))
    assert evidence.skew_deg.value == pytest.approx(0.5 * sign, abs=0.01)


@pytest.mark.parametrize(
    ("mark", "held"),
    [
        (None, MoveHeld.MARK_NOT_CONFIRMED),
        (MarkSeen.UNKNOWN, MoveHeld.MARK_UNKNOWN),
        (MarkSeen.MIRRORED, MoveHeld.MARK_UNKNOWN),
    ],
)
def test_without_the_mark_no_move(mark: MarkSeen | None, held: MoveHeld) -> None:
    evidence = move_evidence(judged(KEYED, racked(KEYED, 0.5, DIAGONALS * 2)), Answers(mark=mark))
    assert (evidence.witness, evidence.held) == (None, held)


def test_a_try_square_against_the_light_gives_the_direction_where_there_are_seats() -> None:
    evaluation = judged(EQUAL, racked(EQUAL, 0.5, DIAGONALS * 2))
    leaning = replace(AT_NL, light_at_nl=Light.BLADE_END, light_at_nr=Light.CORNER)
    assert move_evidence(evaluation, leaning).witness is WitnessKind.TRY_SQUARE
    other_way = replace(AT_NL, light_at_nl=Light.CORNER, light_at_nr=Light.BLADE_END)
    assert move_evidence(evaluation, other_way).held is MoveHeld.DISAGREE
    wrong_square = replace(AT_NL, light_at_nl=Light.CORNER, light_at_nr=Light.CORNER)
    assert "not square" in str(move_evidence(evaluation, wrong_square).why)
    burnt = judged(HOUSE, racked(HOUSE, 0.5, DIAGONALS * 2))
    assert move_evidence(burnt, leaning).held is MoveHeld.NO_WITNESS


def test_the_reversal_check_is_a_witness_where_it_agrees_in_sign_and_size() -> None:
    evaluation = judged(EQUAL, racked(EQUAL, 0.5, DIAGONALS * 2))
    for value, witness in ((0.45, WitnessKind.REVERSAL), (-0.45, None), (1.2, None), (0.01, None)):
        answers = replace(AT_NL, reversal_deg=Estimate(value=value, u=0.05))
        assert move_evidence(evaluation, answers).witness is witness


def test_with_no_witness_a_quarter_is_tried_and_the_rest_only_when_it_came_as_foretold() -> None:
    evaluation = judged(EQUAL, racked(EQUAL, 0.5, DIAGONALS * 2))
    trial = move_evidence(evaluation, replace(AT_NL, names_confirmed=True))
    assert (trial.witness, trial.share) == (WitnessKind.TRIAL_STEP, 0.25)
    rest = move_evidence(evaluation, replace(AT_NL, names_confirmed=True, foretold=True))
    assert (rest.witness, rest.share) == (WitnessKind.FORETOLD, 1.0)
    otherwise = move_evidence(evaluation, replace(AT_NL, names_confirmed=True, foretold=False))
    assert otherwise.held is MoveHeld.DISAGREE
    assert "trial step" in str(otherwise.why)
    # A quarter that could not be seen is a half.
    small = move_evidence(judged(EQUAL, racked(EQUAL, 0.31, DIAGONALS * 2)), replace(AT_NL, names_confirmed=True))
    assert small.share in (0.25, 0.5)
    assert (trial_share(Estimate(value=0.3, u=0.015)), trial_share(Estimate(value=0.3, u=0.025))) == (0.25, 0.5)


@pytest.mark.parametrize(
    ("after_deg", "came"),
    [(0.37, True), (0.375, True), (0.63, False), (0.2, False), (0.5, None), (0.47, None), (-0.37, False)],
)
def test_a_trial_step_came_as_foretold_within_its_uncertainty_and_by_more_than_that(
    after_deg: float, came: bool | None
) -> None:
    before, after = Estimate(value=0.5, u=0.01), Estimate(value=after_deg, u=0.01)
    assert came_as_foretold(before, after, Estimate(value=-0.125, u=0.005)) is came
