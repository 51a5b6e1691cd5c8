"""The whole judgement: headline and size apart, cross-checked or not, and when measuring may end."""

import math

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.seats import keyed_seats
from core.metrology.characteristics import GROUPS
from core.metrology.evaluation import NextReading, NextReason, evaluate
from core.metrology.kerf import SizeCause
from core.metrology.sentences import cross_check_note, skew_sentence
from core.metrology.tolerances import limits_for_class, own_limits
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.records.results_json import result
from tests.core.metrology.known_coupons import HOUSE, SETUP, exact_readings, reading, shape
from ui.terminal.verdict import verdict_text

MK = limits_for_class(HOUSE, "mK")
SEATED = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
SQUARENESS, SIZE = CharacteristicGroup.SQUARENESS, CharacteristicGroup.SIZE


def verdicts(evaluation):
    return evaluation.verdict, evaluation.size_verdict


def test_a_square_coupon_of_the_right_size_is_go_in_all_and_settled_when_lengths_are_read_twice():
    evaluation = evaluate(HOUSE, exact_readings(shape(), (EDGES + DIAGONALS) * 2), MK, SETUP)
    assert [group.verdict for group in evaluation.groups] == [Verdict.GO] * 3
    assert all(group.settled for group in evaluation.groups)
    assert (evaluation.settled, evaluation.cross_checked) == (True, True)
    assert evaluation.next_reading is None


def test_read_once_nothing_stands_against_a_slip():
    evaluation = evaluate(HOUSE, exact_readings(shape(), EDGES + DIAGONALS), MK, SETUP)
    assert evaluation.verdict is Verdict.GO
    assert (evaluation.settled, evaluation.cross_checked) == (False, False)
    assert evaluation.group(SQUARENESS).again in DIAGONALS


def test_the_headline_is_the_worst_of_what_was_read_and_names_it():
    """A tapered coupon with an edge 0.5 mm off at a limit of 0.3 was GO once, exit status 0."""
    evaluation = evaluate(HOUSE, exact_readings(shape(taper_x=0.5 / 120.0), (EDGES + DIAGONALS) * 2), MK, SETUP)
    assert (evaluation.group(SQUARENESS).verdict, evaluation.group(SIZE).verdict) == (Verdict.GO, Verdict.NO_GO)
    assert evaluation.verdict is Verdict.NO_GO
    assert evaluation.verdict_of in (CharacteristicGroup.SHAPE, SIZE)
    assert evaluation.settled


def test_kerf_alone_leaves_square_machine_and_shape_alone():
    undersize = exact_readings(shape(scale_x=-0.6 / 120, scale_y=-0.6 / 80), (EDGES + DIAGONALS) * 2)
    evaluation = evaluate(HOUSE, undersize, MK, SETUP)
    assert [group.verdict for group in evaluation.groups] == [Verdict.GO, Verdict.GO, Verdict.NO_GO]
    assert (evaluation.verdict, evaluation.verdict_of) == (Verdict.NO_GO, SIZE)


def test_a_racked_gantry_is_no_go_at_the_right_size():
    evaluation = evaluate(HOUSE, exact_readings(shape(skew_deg=0.6), (EDGES + DIAGONALS) * 2), MK, SETUP)
    assert verdicts(evaluation) == (Verdict.NO_GO, Verdict.GO)
    assert evaluation.verdict_of is SQUARENESS
    assert evaluation.settled


@pytest.mark.parametrize(("coupon", "features", "said"), [
    (HOUSE, TEN_FEATURES, "corners NL and FR are acute, diagonal NL-FR is the longer."),
    (
        HOUSE,
        DIAGONALS * 2,
        "if the diagonals were not taken for one another and no corners are burnt more than others.",
    ),
    (SEATED, DIAGONALS * 2, "corners NL and FR are acute."),
])  # fmt: skip
def test_no_diagonal_is_called_the_longer_whose_readings_are_the_shorter_or_whose_name_alone_says_so(
    coupon, features, said
):
    readings = exact_readings(shape(skew_deg=0.35), features, coupon=coupon)
    assert str(skew_sentence(evaluate(coupon, readings, limits_for_class(coupon, "mK"), SETUP))).endswith(said)


def test_nothing_read_decides_nothing():
    evaluation = evaluate(HOUSE, (), MK, SETUP)
    assert verdicts(evaluation) == (Verdict.UNDECIDED, Verdict.UNDECIDED)
    assert not evaluation.settled


def test_two_diagonals_ask_for_squareness_and_an_edge_widens_it():
    readings = exact_readings(shape(skew_deg=0.02), DIAGONALS * 2)
    assert [group.group for group in evaluate(HOUSE, readings, MK, SETUP).asked] == [SQUARENESS]
    wider = evaluate(HOUSE, [*readings, *exact_readings(shape(), EDGES[:1])], MK, SETUP)
    assert [group.group for group in wider.asked] == list(GROUPS)
    assert wider.verdict is Verdict.UNDECIDED
    named = evaluate(HOUSE, [*readings, *exact_readings(shape(), EDGES[:1])], MK, SETUP, groups=[SQUARENESS])
    assert (named.verdict, named.settled) == (Verdict.GO, True)


@pytest.mark.parametrize("coupon", [HOUSE, SEATED], ids=["corners", "seats"])
def test_the_quick_check_settles_squareness_on_two_diagonals_read_twice(coupon):
    once = exact_readings(shape(skew_deg=0.02), DIAGONALS, coupon)
    quick = evaluate(coupon, once, MK, SETUP)
    assert (quick.verdict, quick.settled, quick.group(CharacteristicGroup.SIZE).asked) == (Verdict.GO, False, False)
    assert evaluate(coupon, once * 2, MK, SETUP).settled


@pytest.mark.parametrize("coupon", [HOUSE, SEATED], ids=["corners", "seats"])
@pytest.mark.parametrize("readings", [DIAGONALS * 2, (EDGES + DIAGONALS) * 2, DIAGONALS * 4])
def test_go_with_repeats_a_millimetre_apart_is_impossible(coupon, readings):
    taken = exact_readings(shape(), readings, coupon)
    place = readings.index(Feature.NL_FR)
    taken[place] = reading(Feature.NL_FR, taken[place].value + 1.0)
    evaluation = evaluate(coupon, taken, MK, SETUP)
    assert evaluation.verdict is Verdict.UNDECIDED
    assert not evaluation.settled
    assert evaluation.next_reading == NextReading(feature=Feature.NL_FR, reason=NextReason.SUSPECT)


def test_twelve_readings_without_a_word_are_too_close_to_the_limit():
    at_limit = exact_readings(shape(skew_deg=math.degrees(math.atan(0.4 / 80.0))), DIAGONALS * 6, SEATED)
    evaluation = evaluate(SEATED, at_limit, MK, SETUP)
    assert evaluation.too_close
    assert (evaluation.settled, evaluation.next_reading) == (False, None)


def apart(feature, middle_mm, pattern):
    return [reading(feature, middle_mm + off_mm) for off_mm in pattern]


@pytest.mark.parametrize(
    "pattern",
    [(-0.5, 0.5), (-0.5, 0.0, 0.5), (-0.5, -0.5, 0.5, 0.5), (-0.5, -0.3, -0.1, 0.1, 0.3, 0.5), (-0.5, *[0.0] * 9, 0.5)],
)
@pytest.mark.parametrize("of", [(Feature.NR_FL,), DIAGONALS, (Feature.NEAR, Feature.FAR), (*EDGES, *DIAGONALS)])
def test_no_go_while_repeats_lie_a_millimetre_apart(pattern, of):
    """Corners read four times say GO whatever the lengths say: and so did the bench, settled."""
    exact = dict(zip(TEN_FEATURES, exact_readings(shape(skew_deg=0.02)), strict=True))
    taken = [exact[feature] for feature in TEN_FEATURES for _ in range(4) if feature not in of]
    taken += [one for feature in of for one in apart(feature, exact[feature].value, pattern)]
    for limits in (MK, own_limits(perpendicularity_mm=0.4)):
        evaluation = evaluate(HOUSE, taken, limits, SETUP)
        assert evaluation.verdict is not Verdict.GO
        assert not evaluation.settled
        assert not evaluation.too_close


@pytest.mark.parametrize("slip_mm", [0.5, -0.4, 1.0])
def test_twelve_readings_one_of_which_does_not_fit_are_not_called_too_close(slip_mm):
    """It said "too close to the limit" of a square coupon, and "read the diagonal again" below it."""
    taken = exact_readings(shape(skew_deg=0.05), (*TEN_FEATURES, *DIAGONALS))
    taken[4] = reading(Feature.NL_FR, taken[4].value + slip_mm)
    evaluation = evaluate(HOUSE, taken, MK, SETUP)
    assert not evaluation.too_close
    assert evaluation.next_reading == NextReading(feature=Feature.NL_FR, reason=NextReason.SUSPECT)
    note = "Not settled: a reading does not fit the others. Read the diagonal NL-FR again."
    assert str(cross_check_note(evaluation)) == note


@pytest.mark.parametrize("slip_mm", [0.5, 0.3, -0.3, -0.5])
@pytest.mark.parametrize("feature", DIAGONALS)
def test_nobody_is_told_to_read_two_things_next(slip_mm, feature):
    taken = exact_readings(shape(skew_deg=0.05))
    place = TEN_FEATURES.index(feature)
    taken[place] = reading(feature, taken[place].value + slip_mm)
    evaluation = evaluate(HOUSE, taken, MK, SETUP)
    note = str(cross_check_note(evaluation))
    assert "Not settled" in note
    assert ("Read the" not in note) or f"Read the {evaluation.next_reading.feature.label} again" in note


@pytest.mark.parametrize("skew_deg", [0.05, 0.0])
def test_a_diagonal_misread_by_half_a_millimetre_settles_nothing(skew_deg):
    taken = exact_readings(shape(skew_deg=skew_deg))
    taken[4] = reading(Feature.NL_FR, taken[4].value + 0.5)
    evaluation = evaluate(HOUSE, taken, MK, SETUP)
    assert not evaluation.settled
    assert not evaluation.cross_checked


def test_contradiction_comes_before_everything():
    readings = [r for r in exact_readings(shape(skew_deg=2.0)) if r.feature is not Feature.NEAR]
    readings.append(reading(Feature.NEAR, 90.0))
    evaluation = evaluate(HOUSE, readings, MK, SETUP)
    assert verdicts(evaluation) == (Verdict.INCONSISTENT, Verdict.INCONSISTENT)
    assert not evaluation.settled


def test_limits_for_size_alone_leave_squareness_undecided():
    evaluation = evaluate(HOUSE, exact_readings(shape()), own_limits(edge_mm=0.3), SETUP)
    assert evaluation.group(SQUARENESS).verdict is Verdict.UNDECIDED
    assert not evaluation.group(SQUARENESS).asked
    assert verdicts(evaluation) == (Verdict.GO, Verdict.GO)


def test_sizes_point_to_their_cause_unless_the_readings_contradict():
    undersize = exact_readings(shape(scale_x=-0.6 / 120, scale_y=-0.6 / 80))
    assert evaluate(HOUSE, undersize, MK, SETUP).size_finding.cause is SizeCause.KERF
    contradictory = [*undersize[:5], reading(Feature.NR_FL, 150.0)]
    assert evaluate(HOUSE, contradictory, MK, SETUP).size_finding is None


def contradicting(lengths_deg, corners_deg, coupon=HOUSE):
    """Lengths that show one skew, corners that show another, all read twice."""
    by_lengths = exact_readings(shape(skew_deg=lengths_deg), (*EDGES, *DIAGONALS), coupon=coupon)
    by_corners = exact_readings(shape(skew_deg=corners_deg), CORNERS, coupon=coupon)
    return [*by_lengths, *by_corners] * 2


@pytest.mark.parametrize(("lengths_deg", "corners_deg"), [(0.15, 0.38), (0.38, 0.15), (0.45, 0.68)])
def test_where_lengths_and_corners_contradict_no_average_of_them_is_told(lengths_deg, corners_deg):
    """The skew on the person's part, squareness in the table and its word were those of the average."""
    evaluation = evaluate(HOUSE, contradicting(lengths_deg, corners_deg), MK, SETUP)
    assert evaluation.adjustment.consistent
    assert evaluation.skew_by.disagree
    assert evaluation.told_skew_deg is None
    names = {one.name: one for one in evaluation.characteristics}
    assert "squareness" not in names
    by_lengths, by_corners = names["squareness-by-lengths"], names["squareness-by-corners"]
    for one, skew_deg in ((by_lengths, lengths_deg), (by_corners, corners_deg)):
        assert one.value == pytest.approx(80.0 * math.tan(math.radians(skew_deg)), abs=0.05)
    if (lengths_deg > 0.3) is not (corners_deg > 0.3):
        assert evaluation.verdict is Verdict.UNDECIDED
        assert {by_lengths.verdict, by_corners.verdict} == {Verdict.UNDECIDED}
    told = str(verdict_text(evaluation))
    averaged = evaluation.adjustment.skew_deg.value
    assert "On a side of" not in told
    assert f"{averaged:.2f}°" not in told
    assert result(evaluation, None)["shape"]["skew_deg"] is None
    assert result(evaluation, None)["skew_by"]["disagree"] is True


def test_no_row_has_a_word_that_its_group_was_denied():
    """Repeats a millimetre apart leave the headline open; the row of squareness said GO beside it."""
    once = exact_readings(shape(), DIAGONALS)
    apart = [*once, *(reading(r.feature, r.value + 1.0) for r in once)]
    evaluation = evaluate(HOUSE, apart, MK, SETUP)
    assert evaluation.verdict is Verdict.UNDECIDED
    assert {one.verdict for one in evaluation.characteristics if one.group is SQUARENESS} == {Verdict.UNDECIDED}
