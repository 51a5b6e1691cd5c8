"""Named explanations of contradictory readings: the right one first, with the value expected there."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.seats import keyed_seats
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import adjust
from core.metrology.evaluation import evaluate
from core.metrology.findings import Explanation, ExplanationKind
from core.metrology.measuring_model import predicted_readings
from core.metrology.misreading_candidates import candidates
from core.metrology.misreadings import explain, sentence, sign_open
from core.metrology.readings import Reading, Unit
from core.metrology.sentences import cross_check_note
from core.metrology.tolerances import limits_for_class
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.metrology.witness import Answers, MarkSeen, MoveHeld, move_evidence
from tests.core.metrology.blunders import WITH_TARGET, Blunder, false_alarms, score
from tests.core.metrology.known_coupons import exact_readings, shape
from tests.core.metrology.simulated_readings import HOUSE_COUPON, random_truth, reading, simulate

SETUP = MeasuringSetup()
KEYED = replace(HOUSE_COUPON, seats=keyed_seats(HOUSE_COUPON.width_mm, HOUSE_COUPON.height_mm))
CHECKED = replace(SETUP, gauge=replace(SETUP.gauge, zero_sd=0.03))
CLEAN = simulate(np.random.default_rng(1), random_truth(np.random.default_rng(2), SETUP), setup=SETUP)
VALUE = {r.feature: r.value for r in CLEAN}


def explained(readings: list[Reading]) -> tuple[Explanation, ...]:
    return explain(HOUSE_COUPON, readings, SETUP, adjust(HOUSE_COUPON, readings, SETUP))


def with_value(feature: Feature, value: float) -> list[Reading]:
    return [reading(feature, value) if r.feature is feature else r for r in CLEAN]


def test_consistent_readings_need_no_explanation() -> None:
    assert explained(CLEAN) == ()


@pytest.mark.parametrize("name", WITH_TARGET)
def test_the_right_explanation_comes_first(name: str) -> None:
    """Small and seeded; the 500 cases a kind are printed by tests/endurance/blunder_table.py."""
    blunder: Blunder
    blunder, least_skew_deg = WITH_TARGET[name]
    result = score(blunder, least_skew_deg, cases=25, seed=1)
    assert result.first >= 23


def test_clean_coupons_seldom_alarm() -> None:
    assert false_alarms(cases=600, seed=2) <= 3  # 0.3 % and its scatter


def test_the_expected_value_is_the_true_one() -> None:
    for explanation in (
        explained(with_value(Feature.NEAR, VALUE[Feature.NEAR] / 25.4))[0],
        explained(with_value(Feature.NEAR, VALUE[Feature.NEAR] + 2.5))[0],
    ):
        assert explanation.features == (Feature.NEAR,)
        assert explanation.expected == pytest.approx(VALUE[Feature.NEAR], abs=0.5)
    deviation = explained(with_value(Feature.FR, VALUE[Feature.FR] - 90.0))[0]
    assert deviation.kind is ExplanationKind.DEVIATION_FROM_90
    assert deviation.expected == pytest.approx(VALUE[Feature.FR], abs=0.3)


def test_an_outlying_repeat_is_found_among_its_fellows() -> None:
    readings = [*CLEAN, *CLEAN, reading(Feature.NL_FR, VALUE[Feature.NL_FR] + 8.0)]
    best = explained(readings)[0]
    assert (best.kind, best.features) == (ExplanationKind.MISREAD, (Feature.NL_FR,))
    assert best.expected == pytest.approx(VALUE[Feature.NL_FR], abs=0.1)


def test_a_gauge_showing_deviations_at_all_corners_is_one_slip() -> None:
    readings = [reading(r.feature, 90.0 - r.value) if r.feature in CORNERS else r for r in CLEAN]
    best = explained(readings)[0]
    assert best.kind is ExplanationKind.DEVIATION_FROM_90
    assert set(best.features) == set(CORNERS)
    assert best.expected is None


def test_a_unit_changed_half_way_is_one_slip() -> None:
    changed = (Feature.LEFT, *DIAGONALS)
    readings = [reading(r.feature, r.value / 25.4) if r.feature in changed else r for r in CLEAN]
    best = explained(readings)[0]
    assert best.kind is ExplanationKind.INCH_FOR_MM
    assert set(best.features) == set(changed)


def test_millimetres_taken_as_inches_are_found() -> None:
    best = explained(with_value(Feature.RIGHT, VALUE[Feature.RIGHT] * 25.4))[0]
    assert (best.kind, best.features) == (ExplanationKind.INCH_FOR_MM, (Feature.RIGHT,))


def test_two_readings_alone_are_enough_to_find_inches() -> None:
    best = explained([reading(Feature.NEAR, 120.0 / 25.4)])[0]
    assert best.kind is ExplanationKind.INCH_FOR_MM
    assert best.expected == pytest.approx(120.0, abs=0.05)


def test_exchanged_diagonals_leave_the_sign_open() -> None:
    skewed = np.array([0.001, -0.001, 0.012, 0.0, 0.0, 0.0, 0.1, 0.1])
    readings = simulate(np.random.default_rng(3), skewed, setup=SETUP)
    exchanged = dict(zip(DIAGONALS, reversed(DIAGONALS), strict=True))
    swapped = [reading(exchanged.get(r.feature, r.feature), r.value) for r in readings]
    explanations = explained(swapped)
    assert explanations[0].kind is ExplanationKind.DIAGONALS_EXCHANGED_OR_TURNED_OVER
    assert sign_open(explanations)
    assert not sign_open(explained(with_value(Feature.NEAR, VALUE[Feature.NEAR] + 2.5)))


def test_opposite_edges_entered_for_one_another_are_named_first() -> None:
    """On a tapered coupon the corners know which of the two is the longer; it was called a coupon turned over."""
    tapered = exact_readings(shape(skew_deg=0.1, taper_x=0.004), (*DIAGONALS, *TEN_FEATURES))
    other = {Feature.NEAR: Feature.FAR, Feature.FAR: Feature.NEAR}
    found = explained([reading(other.get(r.feature, r.feature), r.value) for r in tapered])
    assert (found[0].kind, set(found[0].features)) == (ExplanationKind.NEIGHBOURS_EXCHANGED, set(other))


def test_explanations_are_ranked_and_restore_consistency() -> None:
    explanations = explained(with_value(Feature.NL, VALUE[Feature.NL] + 4.0))
    costs = [explanation.cost for explanation in explanations]
    assert costs == sorted(costs)
    assert len({(e.kind, e.features) for e in explanations}) == len(explanations)


@pytest.mark.parametrize("kind", list(ExplanationKind))
def test_every_kind_has_a_sentence(kind: ExplanationKind) -> None:
    cases = [((Feature.NEAR,), 119.98), ((Feature.NL, Feature.NR), None)]
    if kind is ExplanationKind.GAUGE_ZERO:
        cases = [(CORNERS, -1.5)]  # concerns all corners, and always knows the error it found
    for features, expected in cases:
        text = str(sentence(kind, features, expected))
        assert text[0].isupper()
        assert text.endswith(".")
        assert "None" not in text


def test_digits_of_inches_are_transposed_in_inches() -> None:
    shown = 4.7244  # 120.0 mm
    readings = [
        Reading(feature=r.feature, value=4.2744 * 25.4, unit=Unit.INCH) if r.feature is Feature.NEAR else r
        for r in simulate(np.random.default_rng(4), np.zeros(8), setup=SETUP)
    ]
    found = {e.kind: e for e in explained(readings)}
    assert found[ExplanationKind.DIGITS_TRANSPOSED].expected == pytest.approx(shown * 25.4, abs=0.1)


def test_thousands_of_readings_do_not_make_thousands_of_candidates() -> None:
    assert len(list(candidates(HOUSE_COUPON, CLEAN * 1000))) < 300


def test_a_gauge_that_was_not_zeroed_is_named_with_its_error() -> None:
    gauge = [r if r.feature.is_length else reading(r.feature, r.value + 2.1) for r in CLEAN]
    best = explained(gauge)[0]
    assert best.kind is ExplanationKind.GAUGE_ZERO
    assert best.features == CORNERS
    assert "° too large" in str(best.text)


def test_one_misread_corner_is_no_matter_of_the_zero() -> None:
    best = explained(with_value(Feature.NR, VALUE[Feature.NR] + 3.0))[0]
    assert (best.kind, best.features) == (ExplanationKind.MISREAD, (Feature.NR,))


def _typed_as_minutes(corner_deg: float) -> float:
    minutes = round(60.0 * corner_deg)
    return minutes // 60 + (minutes % 60) / 100.0


@pytest.mark.parametrize(("kind", "of_lengths", "of_corners"), [
    (ExplanationKind.ALL_LENGTHS_INCH, lambda v: v / 25.4, None),
    (ExplanationKind.ALL_LENGTHS_MM, lambda v: v * 25.4, None),
    (ExplanationKind.ALL_LENGTHS_CM, lambda v: v / 10.0, None),
    (ExplanationKind.ALL_LENGTHS_M, lambda v: v / 1000.0, None),
    (ExplanationKind.CALIPER_ZERO, lambda v: v - 25.0, None),
    (ExplanationKind.CALIPER_ZERO, lambda v: v + 25.0, None),
    (ExplanationKind.RADIANS, None, np.radians),
    (ExplanationKind.GON, None, lambda v: v / 0.9),
    (ExplanationKind.MINUTES, None, _typed_as_minutes),
    (ExplanationKind.GAUGE_ZERO, None, lambda v: v + 2.1),
    (ExplanationKind.DEVIATION_FROM_90, None, lambda v: v - 90.0),
])  # fmt: skip
def test_one_cause_behind_all_readings_is_named_and_no_feature_is_read_again_for_it(
    kind, of_lengths, of_corners
) -> None:
    """All lengths keyed in inches were answered by one edge to be read again: in inches it comes out as before."""
    truth, setup, features = shape(skew_deg=0.2), SETUP, TEN_FEATURES
    if kind is ExplanationKind.MINUTES:  # seen near a whole degree only, by a gauge whose zero is known
        truth, setup, features = shape(skew_deg=0.02), CHECKED, TEN_FEATURES * 2
    spoilt = [
        reading(r.feature, float((of_lengths if r.feature.is_length else of_corners)(r.value)))
        if (of_lengths if r.feature.is_length else of_corners)
        else r
        for r in exact_readings(truth, features)
    ]
    evaluation = evaluate(HOUSE_COUPON, spoilt, limits_for_class(HOUSE_COUPON, "mK"), setup)
    best = evaluation.explanations[0]
    assert (best.kind, best.of_all) == (kind, True)
    assert str(best.first) in str(best.text)
    assert evaluation.next_reading is None


@pytest.mark.parametrize(("factor", "kind"), [
    (1.0 / 25.4, ExplanationKind.INCH_FOR_MM),
    (0.1, ExplanationKind.POINT_MISPLACED),
    (10.0, ExplanationKind.POINT_MISPLACED),
])  # fmt: skip
def test_a_single_length_in_another_unit_is_the_one_to_read_again(factor: float, kind: ExplanationKind) -> None:
    spoilt = with_value(Feature.FAR, VALUE[Feature.FAR] * factor)
    evaluation = evaluate(HOUSE_COUPON, spoilt, limits_for_class(HOUSE_COUPON, "mK"), SETUP)
    best = evaluation.explanations[0]
    assert (best.kind, best.features, best.of_all) == (kind, (Feature.FAR,), False)
    assert best.expected == pytest.approx(VALUE[Feature.FAR], abs=0.5)
    assert evaluation.next_reading is not None
    assert evaluation.next_reading.feature is Feature.FAR


@pytest.mark.parametrize("coupon", [HOUSE_COUPON, KEYED], ids=["corners", "keyed"])
@pytest.mark.parametrize("off_mm", [-5.0, 5.0])
def test_edges_all_off_by_more_than_a_machine_may_are_asked_about_the_caliper_first(coupon, off_mm) -> None:
    """They were NO-GO, settled, the kerf suspected: a caliper at zero on a master of 5 mm shows the same of a good
    coupon, and only the diagonals tell the two apart."""
    limits = limits_for_class(coupon, "mK")
    edges = [reading(edge, coupon.nominal(edge) + off_mm) for edge in EDGES] * 2
    alone = evaluate(coupon, edges, limits, SETUP)
    best = alone.explanations[0]
    assert (best.kind, best.of_all) == (ExplanationKind.CALIPER_ZERO, True)
    assert alone.adjustment.consistent
    assert (alone.verdict, alone.settled, alone.size_finding) == (Verdict.UNDECIDED, False, None)
    assert alone.next_reading is not None
    assert alone.next_reading.feature in DIAGONALS
    assert "a caliper not at zero" in str(cross_check_note(alone)), "why a diagonal is asked for"

    by_zero = [*edges, *[reading(d, coupon.nominal(d) + off_mm) for d in DIAGONALS] * 2]
    spoilt = evaluate(coupon, by_zero, limits, SETUP)
    assert (spoilt.verdict, spoilt.explanations[0].kind) == (Verdict.INCONSISTENT, ExplanationKind.CALIPER_ZERO)

    cut_so = np.array([off_mm / coupon.width_mm, off_mm / coupon.height_mm, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    values, _ = predicted_readings(coupon, cut_so, SETUP)
    of_such_a_coupon = [reading(f, float(v)) for f, v in zip(TEN_FEATURES, values, strict=True) if f.is_length] * 2
    cut = evaluate(coupon, of_such_a_coupon, limits, SETUP)
    assert (cut.verdict, cut.verdict_of, cut.settled) == (Verdict.NO_GO, CharacteristicGroup.SIZE, True)
    assert not cut.explanations


@pytest.mark.parametrize("said", [HOUSE_COUPON, KEYED], ids=["said to have none", "said to be keyed"])
@pytest.mark.parametrize("skew_deg", [-0.8, -0.5, 0.0, 0.3])
@pytest.mark.parametrize("kerf_mm", [0.0, 1.5])
def test_a_coupon_whose_seats_are_not_as_said_gets_no_word_on_its_squareness(said, skew_deg, kerf_mm) -> None:
    """A square coupon with the seats of the cut file, judged from corner to corner, was NO-GO, settled; one without
    them, skewed by -0.5 degrees and said to be keyed, NO-GO with names proven by its seats: a move the wrong way."""
    cut = KEYED if said is HOUSE_COUPON else HOUSE_COUPON
    limits = limits_for_class(said, "mK")
    of_kerf = shape(skew_deg=skew_deg, scale_x=-kerf_mm / cut.width_mm, scale_y=-kerf_mm / cut.height_mm)
    twice = exact_readings(of_kerf, DIAGONALS * 2, coupon=cut)
    quick = evaluate(said, twice, limits, SETUP)
    best = quick.explanations[0]
    assert (best.kind, best.of_all, best.features) == (ExplanationKind.OTHER_SEATS, True, ())
    assert (quick.verdict, quick.settled, quick.told_skew_deg) == (Verdict.UNDECIDED, False, None)
    assert move_evidence(quick, Answers(mark=MarkSeen.NL)).held is MoveHeld.NOT_SETTLED
    assert quick.next_reading is not None
    assert quick.next_reading.feature in EDGES, "the sizes tell"
    assert str(best.first) in str(cross_check_note(quick))

    edges = exact_readings(of_kerf, EDGES, coupon=cut)
    whole = evaluate(said, [*twice, *edges], limits, SETUP)
    assert (whole.verdict, whole.explanations[0].kind) == (Verdict.INCONSISTENT, ExplanationKind.OTHER_SEATS)
    as_cut = evaluate(cut, [*twice, *edges], limits, SETUP)
    assert not as_cut.explanations, "and told right it is judged"


@pytest.mark.parametrize("coupon", [HOUSE_COUPON, KEYED], ids=["corners", "keyed"])
def test_a_coupon_of_another_size_is_no_matter_of_its_seats_once_an_edge_was_read(coupon) -> None:
    """Cut on its lines with a bit of 3 mm; and what a laser takes is never taken for seats."""
    limits = limits_for_class(coupon, "mK")
    for kerf_mm, features in ((3.0, DIAGONALS * 2 + EDGES), (1.5, DIAGONALS * 2), (-1.5, DIAGONALS * 2)):
        cut = shape(skew_deg=0.1, scale_x=-kerf_mm / coupon.width_mm, scale_y=-kerf_mm / coupon.height_mm)
        assert not evaluate(coupon, exact_readings(cut, features, coupon=coupon), limits, SETUP).explanations


def test_a_coupon_that_has_no_room_for_keys_may_have_equal_seats_or_none() -> None:
    narrow = Coupon(width_mm=1000.0, height_mm=20.0)
    readings = [reading(diagonal, narrow.nominal(diagonal)) for diagonal in DIAGONALS] * 2
    assert not evaluate(narrow, readings, limits_for_class(narrow, "mK"), SETUP).explanations


def test_what_a_kerf_takes_is_no_matter_of_the_zero() -> None:
    edges = [reading(edge, HOUSE_COUPON.nominal(edge) - 1.5) for edge in EDGES] * 2
    found = evaluate(HOUSE_COUPON, edges, limits_for_class(HOUSE_COUPON, "mK"), SETUP)
    assert (found.verdict, found.settled, found.explanations) == (Verdict.NO_GO, True, ())
