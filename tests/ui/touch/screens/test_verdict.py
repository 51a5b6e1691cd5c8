"""The verdict screen by touch: what to do next, and the rows of its table."""

from __future__ import annotations

from dataclasses import replace

from core.geometry.features import Feature
from core.machine.before_after import before_after
from core.metrology.expansion import expansion_difference
from core.metrology.sentences import size_sentence
from tests.ui.scenes import SCENES
from tests.ui.touching import find_text, tap_text
from ui.bench.desks.measuring import CloseSession, SelectFeature
from ui.pages.causes import Page, causes_page
from ui.pages.theme import Shape
from ui.pages.verdict import EMPTY, verdict_page


def test_what_would_settle_it_is_one_touch_away(screen) -> None:
    snapshot = SCENES["undecided"]()
    screen.show(snapshot)
    screen.go("verdict")
    asked = snapshot.evaluation.next_reading.feature
    tap_text(screen, f"Measure {asked.label}")
    assert screen.bench.sent == [SelectFeature(feature=asked)]
    assert screen.app.root.screen.name == "measure"


def test_finishing_closes_the_session(screen) -> None:
    screen.show(SCENES["go"]())
    screen.go("verdict")
    tap_text(screen, "Finish coupon")
    assert screen.bench.sent == [CloseSession()]


def test_a_finished_coupon_leads_on_and_takes_no_reading(screen) -> None:
    screen.show(replace(SCENES["no-go"](), closed=True))
    screen.go("verdict")
    sheet = screen.app.root.screen.ids.sheet
    screen.tap(*sheet.to_window(*sheet.to_parent(*sheet.sheet.label_centre(Feature.NEAR))))
    assert screen.bench.sent == []
    assert find_text(screen, "Finish coupon").disabled
    tap_text(screen, "Correct the machine")
    assert screen.app.root.screen.name == "correct"


def test_the_table_shows_value_u_and_limits() -> None:
    view = verdict_page(SCENES["no-go"]())
    first = view.rows[0]
    assert (first.label, first.limits, first.word) == ("squareness", "± 0.40 mm", "NO-GO")
    assert first.value.startswith("+0.6")
    assert "±" in first.value
    assert {row.shape for row in view.rows if row.word == "information"} == {Shape.RING}


def test_a_contradictory_coupon_shows_explanations_and_no_values() -> None:
    view = verdict_page(SCENES["inconsistent"]())
    assert view.rows == ()
    assert any("ight edge" in sentence for sentence in view.explanations)


def test_kerf_and_scale_are_told_apart_as_evaluate_does(screen) -> None:
    (note,) = verdict_page(SCENES["window-read"]()).notes
    assert note.startswith("Told apart by the window: the cut takes 0.2")
    assert note in size_sentence(SCENES["window-read"]().evaluation)
    screen.show(SCENES["window-read"]())
    screen.go("verdict")
    assert find_text(screen, note)
    assert "Told apart by the window" in str(causes_page(SCENES["window-read"](), Page.WHY).text)


def test_warmth_that_was_made_up_for_is_said() -> None:
    warm = SCENES["go"]()
    evaluation = replace(warm.evaluation, expansion=expansion_difference("acrylic", 27.5))
    assert verdict_page(replace(warm, evaluation=evaluation)).notes == (
        "Sizes are those at 20 °C, from acrylic at 27.5 °C.",
    )


def test_in_an_exercise_the_size_is_for_the_person_to_explain() -> None:
    asked = replace(SCENES["window-read"](), practice=SCENES["practice-open"]().practice)
    assert verdict_page(asked).notes == ()


def test_a_finished_contradictory_coupon_shows_no_value_either() -> None:
    """Not even where a comparison with the coupon before was worked out."""
    contradicting = SCENES["inconsistent"]()
    comparison = before_after(SCENES["no-go"]().evaluation, [contradicting.evaluation])
    records = replace(contradicting.records, comparison=comparison)
    sentences = verdict_page(replace(contradicting, closed=True, records=records)).sentences
    assert len(sentences) == 1
    assert "±" not in sentences[0]


def test_without_readings_there_is_no_verdict() -> None:
    assert verdict_page(SCENES["empty"]()) == EMPTY
