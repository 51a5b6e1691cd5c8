"""The measuring screen under real touches: every feature of the drawing is a button, every button a command."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.geometry.features import TEN_FEATURES, WINDOW, Feature, FeatureKind
from core.metrology.readings import Quantity
from tests.ui.scenes import DOUBT, SCENES
from tests.ui.touching import find_text, shown_widgets, tap_text
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import AnswerQuestion, ConfirmMark, SelectFeature, VoidReading
from ui.bench.desks.practice import StopHand


@pytest.fixture(autouse=True)
def _measuring(screen) -> None:
    screen.go("measure")


def place_of(sheet, feature: Feature) -> tuple[float, float]:
    """Where a person would put the finger: the edge itself, the corner, the value on a diagonal."""
    if feature.kind is FeatureKind.CORNER:
        x, y = sheet.sheet.corner(feature)
    else:
        x, y = sheet.sheet.label_centre(feature)
    return sheet.to_window(*sheet.to_parent(x, y))


@pytest.mark.parametrize("feature", TEN_FEATURES)
def test_touching_a_feature_chooses_it(screen, feature: Feature) -> None:
    screen.tap(*place_of(screen.app.root.screen.ids.sheet, feature))
    assert screen.bench.sent == [SelectFeature(feature=feature)]


@pytest.mark.parametrize("feature", [*TEN_FEATURES, *WINDOW])
def test_of_a_coupon_with_a_window_every_feature_is_a_button_too(screen, feature: Feature) -> None:
    screen.show(SCENES["window"]())
    screen.tap(*place_of(screen.app.root.screen.ids.sheet, feature))
    assert screen.bench.sent == [SelectFeature(feature=feature)]


def test_a_coupon_without_a_window_after_one_with_it_shows_none(screen) -> None:
    screen.show(SCENES["window"]())
    assert find_text(screen, "inner X")
    screen.show(SCENES["first"]())
    assert not [one for one in shown_widgets(screen) if str(getattr(one, "text", "")).startswith("inner")]


def test_take_sends_the_quantity_in_hand(screen) -> None:
    tap_text(screen, "Take reading")
    screen.tap(*place_of(screen.app.root.screen.ids.sheet, Feature.NR))
    tap_text(screen, "Take reading")
    taken = [command for command in screen.bench.sent if isinstance(command, TakeReading)]
    assert taken == [TakeReading(quantity=Quantity.LENGTH), TakeReading(quantity=Quantity.ANGLE)]


def test_a_reading_under_way_cannot_be_taken_twice(screen) -> None:
    screen.show(replace(SCENES["first"](), pending=Feature.NL_FR))
    tap_text(screen, "Take reading")
    assert screen.bench.sent == []


def test_voiding_asks_for_the_reason_first(screen) -> None:
    screen.show(SCENES["edges"]())
    tap_text(screen, "Void")
    assert screen.bench.sent == []
    tap_text(screen, "Slipped")
    last = SCENES["edges"]().readings[-1]
    assert screen.bench.sent == [VoidReading(number=last.number, reason="slipped")]
    assert find_text(screen, "Take reading")


def test_keeping_the_reading_sends_nothing(screen) -> None:
    screen.show(SCENES["edges"]())
    tap_text(screen, "Void")
    tap_text(screen, "Keep it")
    assert screen.bench.sent == []


def test_the_mark_is_asked_for_before_the_first_reading(screen) -> None:
    screen.show(SCENES["mark"]())
    tap_text(screen, "It lies so")
    assert screen.bench.sent == [ConfirmMark()]


def test_an_answer_carries_the_name_of_its_question(screen) -> None:
    screen.show(SCENES["question"]())
    tap_text(screen, "diagonal NL-FR")
    assert screen.bench.sent == [AnswerQuestion(question=DOUBT.name, answer="nl-fr")]


def test_taking_over_stops_the_hand(screen) -> None:
    screen.show(SCENES["hand"]())
    tap_text(screen, "Take over")
    assert screen.bench.sent == [StopHand()]


def test_both_cursors_are_in_sight_in_every_state(screen) -> None:
    for name, scene in SCENES.items():
        snapshot = scene()
        screen.show(snapshot)
        # A scene with a finished coupon brings its verdict into sight by itself.
        screen.app.root.go("measure")
        texts = [str(getattr(widget, "text", "")) for widget in screen.app.root.screen.walk()]
        for cursor in filter(None, (snapshot.next_length, snapshot.next_corner)):
            assert str(cursor.label) in texts, name
