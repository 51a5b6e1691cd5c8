"""What the measuring screen says, and which instrument it shows large."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.geometry.features import TEN_FEATURES, WINDOW, Feature
from core.metrology.live import LiveState
from core.metrology.readings import Quantity
from core.metrology.witness import Answers
from tests.ui.scenes import RACKED, SCENES, at_place, live, readings, snapshot
from ui.pages.live_cursor import live_cursor
from ui.pages.measure import VOID_REASONS, callouts, decision_panel, measure_page, reading_to_void
from ui.pages.theme import Shape
from ui.touch.in_hand import InHand


@pytest.mark.parametrize(
    ("value", "shape", "word"),
    [
        (None, Shape.RING, "NO SIGNAL"),
        (97.4, Shape.RING, "ON THE WAY"),
        (120.01, Shape.DISC, "GO"),
        (120.29, Shape.HALF_DIAMOND, "UNDECIDED"),
        (120.6, Shape.CROSSED_SQUARE, "NO-GO"),
    ],
)
def test_the_lamp_follows_the_indication(value: float | None, shape: Shape, word: str) -> None:
    view = live_cursor(live(Feature.NEAR, value), snapshot())
    assert (view.shape, view.word) == (shape, word)


def test_digits_keep_their_places_while_jaws_move() -> None:
    views = [live_cursor(live(Feature.NEAR, value), snapshot()) for value in (9.5, 99.999, 120.0, None)]
    assert {view.figures for view in views} == {5}
    assert [view.digits for view in views] == ["9.50", "100.00", "120.00", "–––.––"]


def test_a_stale_indication_cannot_be_taken() -> None:
    stale = replace(live(Feature.NEAR, 120.0), state=LiveState.STALE)
    assert not live_cursor(stale, snapshot()).takeable
    assert live_cursor(stale, snapshot()).digits == "–––.––"


def test_repeats_are_shown_as_their_mean_and_number() -> None:
    twice = snapshot(readings(RACKED, (Feature.NEAR, Feature.NEAR)))
    near = next(one for one in callouts(twice, ()) if one.feature is Feature.NEAR)
    assert (near.text, near.count) == ("119.96", 2)


def test_a_question_of_the_bench_comes_before_everything_else() -> None:
    asked = replace(SCENES["question"](), answers=Answers())
    panel = decision_panel(asked, voiding=4, mark_put_off=False)
    assert panel is not None
    assert panel.name == asked.question.name


def test_voiding_names_the_reading_and_asks_why() -> None:
    panel = decision_panel(SCENES["edges"](), voiding=SCENES["edges"]().readings[-1].number, mark_put_off=False)
    assert panel is not None
    assert "NR-FL" in str(panel.title)
    assert panel.choices[: len(VOID_REASONS)] == VOID_REASONS


def test_the_mark_is_asked_for_once_it_may_be_put_off() -> None:
    assert decision_panel(SCENES["mark"](), voiding=None, mark_put_off=False).name == "mark"
    assert decision_panel(SCENES["mark"](), voiding=None, mark_put_off=True) is None


def test_the_instrument_that_moves_is_shown_large() -> None:
    hand, still = InHand(), snapshot(length_value=50.0, corner_value=90.0)
    assert hand.follow(still) is Quantity.LENGTH
    moved = replace(still, live_corner=live(Feature.NL, 89.0))
    assert hand.follow(moved) is Quantity.ANGLE
    noise = replace(moved, live_length=live(Feature.NL_FR, 50.05))
    assert hand.follow(noise) is Quantity.ANGLE
    assert measure_page(noise, hand.quantity).large.quantity is Quantity.ANGLE


def test_a_touched_feature_is_shown_large_until_the_other_instrument_moves() -> None:
    hand = InHand()
    hand.follow(snapshot())
    hand.touch(Quantity.ANGLE)
    assert hand.follow(snapshot()) is Quantity.ANGLE
    assert hand.follow(snapshot(length_value=120.0)) is Quantity.LENGTH


def test_every_feature_has_its_place_on_the_drawing() -> None:
    assert [one.feature for one in callouts(snapshot(), ())] == list(TEN_FEATURES)
    assert [one.feature for one in callouts(SCENES["window"](), ())] == [*TEN_FEATURES, *WINDOW]


def test_a_window_still_unread_is_named_when_the_coupon_is_settled() -> None:
    unread, read = SCENES["window-unread"](), SCENES["window-read"]()
    assert unread.evaluation.settled
    assert measure_page(unread, Quantity.LENGTH).advice.endswith(
        "The window is still unread: it tells kerf from scale."
    )
    assert "window" not in measure_page(read, Quantity.LENGTH).advice


def test_the_window_has_its_value_live_and_read_and_no_limit_of_its_own() -> None:
    view = measure_page(SCENES["window"](), Quantity.LENGTH).large
    assert (view.name, view.target, view.word, view.note) == ("window width", "60.00 mm", "NO LIMIT", "+0.21 mm off")
    assert view.takeable
    read = {one.feature: one for one in callouts(SCENES["window-read"](), (Feature.WINDOW_HEIGHT,))}
    assert (read[Feature.WINDOW_WIDTH].text, read[Feature.WINDOW_WIDTH].at_cursor) == ("60.21", False)
    assert (read[Feature.WINDOW_HEIGHT].text, read[Feature.WINDOW_HEIGHT].at_cursor) == ("40.19", True)


def test_the_reading_of_the_feature_that_is_up_is_voided_before_the_newest() -> None:
    all_read = SCENES["no-go"]()
    assert reading_to_void(all_read, Feature.RIGHT).feature is Feature.RIGHT
    assert reading_to_void(SCENES["edges"](), Feature.RIGHT).feature is Feature.NR_FL
    assert reading_to_void(snapshot(), Feature.RIGHT) is None


def test_a_coupon_of_a_grid_names_its_place_and_which_one_it_is() -> None:
    def said(place: str, grid: str = "G1") -> tuple[str, str]:
        view = measure_page(at_place(place, grid), Quantity.LENGTH)
        return view.heading, view.advice

    assert said("B2") == ("Measure B2", "router: coupon 3 of grid G1")
    assert said("B1") == ("Measure B1", "router: coupon 2 of grid G1")  # measured once more
    assert said("A1", "G2") == ("Measure A1", "router: coupon 1 of grid G2")
    assert said("A1", "spring") == ("Measure A1", "router: of grid spring")
    assert measure_page(snapshot(), Quantity.LENGTH).heading == "Measure"


def test_without_an_open_coupon_the_screen_leads_on() -> None:
    assert decision_panel(SCENES["empty"](), voiding=None, mark_put_off=False).choices[0][0] == "coupon"
    closed = replace(SCENES["go"](), closed=True)
    assert decision_panel(closed, voiding=None, mark_put_off=False).choices[0][0] == "verdict"
