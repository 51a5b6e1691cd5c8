"""All numbers: the rows of the table, failing ones first, skew by lengths beside skew by corners."""

from __future__ import annotations

from msgspec.structs import replace

from core.geometry.features import Feature
from core.machine.before_after import before_after
from core.metrology.expansion import expansion_difference
from core.metrology.sentences import size_sentence
from core.metrology.verdict import Verdict
from core.said import worded
from tests.ui.scenes import SCENES
from tests.ui.touching import feature_place, find_text, tap_text
from ui.bench.desks.measuring import SelectFeature
from ui.pages.causes import Page, causes_page
from ui.pages.numbers import EMPTY, numbers_page
from ui.pages.theme import Shape


def tap_edge(screen, feature: Feature) -> None:
    screen.tap(*feature_place(screen, feature))


def test_a_touched_feature_is_measured(screen) -> None:
    screen.show(SCENES["undecided"]())
    screen.go("verdict")
    tap_text(screen, "All numbers")
    assert screen.app.root.screen.name == "numbers"
    tap_edge(screen, Feature.NEAR)
    assert screen.bench.sent == [SelectFeature(feature=Feature.NEAR)]
    assert screen.app.root.screen.name == "bench"


def test_a_finished_coupon_takes_no_reading(screen) -> None:
    screen.show(replace(SCENES["no-go"](), closed=True))
    screen.go("numbers")
    tap_edge(screen, Feature.NEAR)
    assert screen.bench.sent == []


def test_the_table_shows_value_u_and_limits() -> None:
    view = numbers_page(SCENES["no-go"]())
    first = view.rows[0]
    assert (str(first.label), str(first.limits), first.shape) == ("squareness", "± 0.40 mm", Shape.CROSSED_SQUARE)
    assert worded(first.value).startswith("+0.6")
    assert "±" in worded(first.value)
    assert {row.shape for row in view.rows if str(row.limits) == "no limit"} == {Shape.RING}


def test_failing_rows_stand_first_and_information_last() -> None:
    rows = numbers_page(SCENES["no-go"]()).rows
    shapes = [row.shape for row in rows]
    order = [Shape.CROSSED_SQUARE, Shape.SPLIT_DISC, Shape.HALF_DIAMOND, Shape.DISC, Shape.RING]
    assert {Shape.CROSSED_SQUARE, Shape.DISC} <= set(shapes)
    assert shapes == sorted(shapes, key=order.index)
    assert len(rows) == len(SCENES["no-go"]().evaluation.characteristics)


def test_skew_by_lengths_stands_beside_skew_by_corners() -> None:
    evaluation = SCENES["no-go"]().evaluation
    told = str(numbers_page(SCENES["no-go"]()).skews)
    assert f"lengths +{evaluation.skew_by.lengths.value:.2f}" in told
    assert f"corners +{evaluation.skew_by.corners.value:.2f}" in told
    assert not numbers_page(SCENES["edges"]()).skews


def test_a_contradictory_coupon_shows_explanations_and_no_values() -> None:
    view = numbers_page(SCENES["inconsistent"]())
    assert view.rows == ()
    assert not view.skews
    assert any("ight edge" in str(sentence) for sentence in view.explanations)


def test_kerf_and_scale_are_told_apart_as_evaluate_does(screen) -> None:
    (note,) = numbers_page(SCENES["window-read"]()).notes
    assert str(note).startswith("Told apart by the window: the cut takes 0.2")
    assert str(note) in str(size_sentence(SCENES["window-read"]().evaluation))
    screen.show(SCENES["window-read"]())
    screen.go("numbers")
    assert find_text(screen, note)
    assert "Told apart by the window" in str(causes_page(SCENES["window-read"](), Page.WHY).text)


def test_warmth_that_was_made_up_for_is_said() -> None:
    warm = SCENES["go"]()
    evaluation = replace(warm.evaluation, expansion=expansion_difference("acrylic", 27.5))
    assert tuple(map(str, numbers_page(replace(warm, evaluation=evaluation)).notes)) == (
        "Sizes are those at 20 °C, from acrylic at 27.5 °C.",
    )


def test_in_an_exercise_the_size_is_for_the_person_to_explain() -> None:
    asked = replace(SCENES["window-read"](), practice=SCENES["practice-open"]().practice)
    assert numbers_page(asked).notes == ()


def test_a_finished_contradictory_coupon_shows_no_value_either() -> None:
    """Not even where a comparison with the coupon before was worked out."""
    contradicting = SCENES["inconsistent"]()
    comparison = before_after(SCENES["no-go"]().evaluation, [contradicting.evaluation])
    records = replace(contradicting.records, comparison=comparison)
    sentences = numbers_page(replace(contradicting, closed=True, records=records)).sentences
    assert len(sentences) == 1
    assert "±" not in str(sentences[0])


def test_without_readings_there_are_no_numbers() -> None:
    assert numbers_page(SCENES["empty"]()) == EMPTY


def test_no_row_has_a_word_that_another_reading_may_turn() -> None:
    """Both diagonals once: the head counts in amber, and the row of squareness was red. Finished so it stays."""
    before = SCENES["edges"]()
    assert before.evaluation is not None
    assert before.evaluation.verdict is Verdict.NO_GO
    for snapshot in (before, replace(before, closed=True)):
        assert {one.shape for one in numbers_page(snapshot).rows} <= {Shape.HALF_DIAMOND, Shape.RING}
