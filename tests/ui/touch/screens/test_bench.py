"""The bench under real touches: every feature of the drawing is a button, every button a command."""

from __future__ import annotations

import numpy as np
import pytest
from kivy.core.window import Window
from msgspec.structs import replace

from core.geometry.features import DIAGONALS, TEN_FEATURES, WINDOW, Feature
from core.machine.gantry_correction import gantry_correction
from core.metrology.readings import Method, Quantity, Unit
from core.metrology.witness import Answers
from core.said import said
from tests.ui.scenes import DOUBT, RACKED, ROUTER, SCENES, readings, snapshot
from tests.ui.touching import find_text, shown_widgets, tap_feature, tap_text
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import AnswerQuestion, SelectFeature, TakeBack, TypeReading, VoidReading
from ui.bench.desks.practice import StopHand
from ui.bench.desks.work import StopWork
from ui.state.snapshot import Message, Undoable
from ui.touch.shell import SCREENS
from ui.touch.widgets.digits import Digits
from ui.touch.widgets.figure_geometry import ENDS


@pytest.mark.parametrize("feature", TEN_FEATURES)
def test_touching_a_feature_chooses_it(looked_at, feature: Feature) -> None:
    tap_feature(looked_at, feature)
    assert looked_at.bench.sent == [SelectFeature(feature=feature)]


@pytest.mark.parametrize("feature", [*TEN_FEATURES, *WINDOW])
def test_of_a_coupon_with_a_window_every_feature_is_a_button_too(looked_at, feature: Feature) -> None:
    looked_at.show(SCENES["window"]())
    tap_feature(looked_at, feature)
    assert looked_at.bench.sent == [SelectFeature(feature=feature)]


def test_take_sends_the_quantity_in_hand(screen) -> None:
    tap_text(screen, "Take reading")
    tap_feature(screen, Feature.NR)
    tap_text(screen, "Take reading")
    taken = [command for command in screen.bench.sent if isinstance(command, TakeReading)]
    assert taken == [TakeReading(quantity=Quantity.LENGTH), TakeReading(quantity=Quantity.ANGLE)]


def test_a_reading_under_way_cannot_be_taken_twice(screen) -> None:
    screen.show(replace(SCENES["first"](), pending=Feature.NL_FR))
    tap_text(screen, "Take reading")
    assert screen.bench.sent == []


def test_the_value_of_a_reading_is_touched_to_void_it_with_the_reason(screen) -> None:
    shown = SCENES["edges"]()
    screen.show(shown)
    tap_feature(screen, Feature.NR_FL)
    assert screen.bench.sent == [SelectFeature(feature=Feature.NR_FL)]
    tap_text(screen, "Slipped")
    (read,) = (item for item in shown.readings if item.reading.feature is Feature.NR_FL)
    assert screen.bench.sent[1:] == [VoidReading(number=read.number, reason="slipped")]
    assert find_text(screen, "Take reading")


def test_of_a_feature_read_twice_the_wrong_reading_is_chosen_first(screen) -> None:
    values = (144.71, 144.93)
    twice = snapshot(
        tuple(replace(one, value=value) for one, value in zip(readings(RACKED, DIAGONALS), values, strict=True))
    )
    twice = replace(
        twice,
        readings=tuple(replace(item, reading=replace(item.reading, feature=Feature.NL_FR)) for item in twice.readings),
        evaluation=None,
    )
    screen.show(twice)
    tap_feature(screen, Feature.NL_FR)
    tap_text(screen, "144.93 mm")
    tap_text(screen, "Burr or dirt")
    assert screen.bench.sent[1:] == [VoidReading(number=twice.readings[1].number, reason="burr or dirt")]


def test_keeping_the_reading_sends_nothing_more(screen) -> None:
    screen.show(SCENES["edges"]())
    tap_feature(screen, Feature.NL_FR)
    tap_text(screen, "Keep it")
    assert screen.bench.sent == [SelectFeature(feature=Feature.NL_FR)]
    assert find_text(screen, "2 of 4")


def test_no_question_stands_before_the_first_reading(screen) -> None:
    screen.show(SCENES["mark"]())
    assert find_text(screen, "0 of 4")


def test_where_the_mark_was_is_asked_once_when_a_move_is_wanted(screen) -> None:
    wanted = replace(SCENES["to-correct"](), answers=Answers())
    correction = gantry_correction(wanted.evaluation, ROUTER, answers=Answers())
    screen.show(replace(wanted, machines=replace(wanted.machines, correction=correction)))
    tap_text(screen, "See what to do")
    assert screen.app.root.screen.name == "witness"


def test_an_answer_carries_the_name_of_its_question(screen) -> None:
    screen.show(SCENES["question"]())
    tap_text(screen, "diagonal NL-FR")
    assert screen.bench.sent == [AnswerQuestion(question=DOUBT.name, answer="nl-fr")]


def test_taking_over_stops_the_hand(screen) -> None:
    screen.show(SCENES["hand"]())
    tap_text(screen, "Take over")
    assert screen.bench.sent == [StopHand()]


def test_both_cursors_are_on_the_drawing_in_every_state(looked_at) -> None:
    for name, scene in SCENES.items():
        shown = scene()
        looked_at.show(shown)
        looked_at.app.root.go("bench")
        if shown.session is None or shown.closed:
            continue
        figured = looked_at.app.root.screen.ids.figure.shown
        assert {figured.next, figured.other} == {shown.next_length, shown.next_corner}, name


# ---- the word


def test_a_settled_word_fills_the_half_and_says_what_to_do(screen) -> None:
    screen.show(SCENES["no-go"]())
    assert not [one for one in shown_widgets(screen) if isinstance(one, Digits)]
    tap_text(screen, "See what to do")
    assert screen.app.root.screen.name == "verdict"


def test_measuring_more_puts_the_word_aside_until_there_is_another(screen) -> None:
    shown = SCENES["go"]()
    screen.show(shown)
    tap_text(screen, "Measure more")
    assert find_text(screen, "Take reading")
    assert [one for one in shown_widgets(screen) if isinstance(one, Digits)]
    screen.show(SCENES["no-go"]())
    assert find_text(screen, "See what to do")


def test_whoever_reads_on_has_put_the_word_aside(screen) -> None:
    screen.show(snapshot(readings(RACKED, DIAGONALS * 2), length=Feature.NEAR, length_value=11.2))
    assert find_text(screen, "See what to do")
    read_on = snapshot(readings(RACKED, (*DIAGONALS * 2, Feature.NEAR)), length=Feature.RIGHT, length_value=11.2)
    screen.show(read_on)
    assert [one for one in shown_widgets(screen) if isinstance(one, Digits)]


def test_jaws_on_a_feature_not_read_yet_bring_the_digits_back(screen) -> None:
    quick = snapshot(readings(RACKED, DIAGONALS * 2), length=Feature.NEAR, length_value=11.2)
    screen.show(quick)
    assert find_text(screen, "Measure more")
    screen.show(snapshot(readings(RACKED, DIAGONALS * 2), length=Feature.NEAR, length_value=119.9))
    assert [one for one in shown_widgets(screen) if isinstance(one, Digits)]


@pytest.mark.parametrize(
    ("scene", "words", "screen_name"),
    [
        ("no-go", "See what to do", "verdict"),
        ("loosen", "Go on correcting", "correct"),
        ("practice-asked", "Say what is wrong", "practice"),
    ],
)
def test_the_one_next_step(looked_at, scene: str, words: str, screen_name: str) -> None:
    looked_at.show(SCENES[scene]())
    looked_at.go("bench")
    tap_text(looked_at, words)
    assert looked_at.app.root.screen.name == screen_name


def test_a_finished_coupon_says_what_comes_next(screen) -> None:
    screen.go("menu")
    screen.show(replace(SCENES["go"](), closed=True))
    screen.go("bench")
    tap_text(screen, "Next coupon")
    assert screen.app.root.screen.name == "coupon"


# ---- typed


def test_numbers_are_keyed_in_one_after_the_other_and_the_keypad_stays(screen) -> None:
    screen.show(snapshot())
    tap_text(screen, "Type")
    tap_text(screen, "144.")
    tap_text(screen, "3")
    tap_text(screen, "4")
    tap_text(screen, "Take reading")
    assert screen.bench.sent == [TypeReading(feature=Feature.NL_FR, shown=144.34, unit=Unit.MM)]
    (taken,) = snapshot(readings(RACKED, DIAGONALS[:1])).readings
    typed = replace(taken, reading=replace(taken.reading, method=Method.TYPED))
    screen.show(replace(snapshot(readings(RACKED, DIAGONALS[:1]), length=Feature.NR_FL), readings=(typed,)))
    assert screen.app.root.screen.entry_text == ""
    tap_text(screen, "145.")
    tap_text(screen, "Take reading")
    assert screen.bench.sent[-1] == TypeReading(feature=Feature.NR_FL, shown=145.0, unit=Unit.MM)


def test_a_number_begun_is_not_lost_by_going_away_and_coming_back(screen) -> None:
    tap_text(screen, "Type")
    for key in "1443":
        tap_text(screen, key)
    tap_text(screen, "Instrument")
    tap_text(screen, "Type")
    screen.go("menu")
    tap_text(screen, "< Back")
    assert screen.app.root.screen.entry_text == "1443"


def test_a_number_that_is_refused_stays_to_be_mended(screen) -> None:
    tap_text(screen, "Type")
    for key in "1443":
        tap_text(screen, key)
    tap_text(screen, "Take reading")
    screen.show(replace(SCENES["first"](), message=Message(text="cannot be", alarm=True)))
    assert screen.app.root.screen.entry_text == "1443"


def test_inches_are_sent_as_inches(screen) -> None:
    tap_text(screen, "Type")
    for key in "5.683":
        tap_text(screen, key)
    assert "means inches" in str(screen.app.root.screen.hint)
    tap_text(screen, "mm")
    assert "means inches" not in str(screen.app.root.screen.hint)
    tap_text(screen, "Take reading")
    assert screen.bench.sent == [TypeReading(feature=Feature.NL_FR, shown=5.683, unit=Unit.INCH)]


def test_nothing_can_be_taken_before_a_figure_is_there(screen) -> None:
    tap_text(screen, "Type")
    tap_text(screen, ".")
    tap_text(screen, "Take reading")
    assert screen.bench.sent == []


def test_corners_are_typed_in_degrees(screen) -> None:
    tap_text(screen, "Type")
    tap_feature(screen, Feature.NR)
    screen.show(snapshot(corner=Feature.NR))
    tap_text(screen, "89.")
    tap_text(screen, "6")
    tap_text(screen, "Take reading")
    assert screen.bench.sent[-1] == TypeReading(feature=Feature.NR, shown=89.6, unit=Unit.DEG)


def test_what_was_done_last_is_taken_back_at_once_from_wherever_one_is(screen) -> None:
    screen.show(SCENES["go"]())
    tap_text(screen, "Undo")
    assert screen.bench.sent == []
    command = TakeBack(number=17)
    screen.show(replace(SCENES["go"](), undo=Undoable(command=command)))
    for name in ("bench", "verdict", "instruments"):
        screen.go(name)
        screen.bench.sent.clear()
        tap_text(screen, "Undo")
        assert screen.bench.sent[-1] == command, name


# ---- ways


@pytest.mark.parametrize(
    ("name", "words"),
    [(name, str(screen.door.words)) for name, screen in SCREENS.items() if screen.door and name != "practice"],
)
def test_every_door_of_the_menu_opens_and_back_leads_back(looked_at, name: str, words: str) -> None:
    tap_text(looked_at, "Menu")
    tap_text(looked_at, words)
    assert looked_at.app.root.screen.name == name
    tap_text(looked_at, "< Back")
    assert looked_at.app.root.screen.name == "menu"
    tap_text(looked_at, "< Back")
    assert looked_at.app.root.screen.name == "bench"


def test_back_goes_back_to_where_one_came_from(screen) -> None:
    screen.show(SCENES["to-correct"]())
    for name in ("menu", "causes", "design"):
        screen.go(name)
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "causes"
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "menu"


def test_going_where_one_came_from_is_going_back(screen) -> None:
    for name in ("verdict", "numbers", "verdict"):
        screen.go(name)
    tap_text(screen, "< Back")
    assert screen.app.root.screen.name == "bench"


@pytest.mark.parametrize("name", sorted(set(SCREENS) - {"bench"}))
def test_the_bench_is_one_touch_away(looked_at, name: str) -> None:
    looked_at.show(SCENES["no-go"]())
    looked_at.go(name)
    tap_text(looked_at, "Bench")
    assert looked_at.app.root.screen.name == "bench"
    assert looked_at.app.root.ids.back.disabled


def test_what_works_now_is_not_told_in_the_colour_of_what_went_wrong_before(screen) -> None:
    wrong = replace(SCENES["edges"](), message=Message(text=said("zebra"), alarm=True))
    screen.show(wrong)
    assert screen.app.root.alarm
    screen.show(replace(wrong, work=SCENES["keep-saving"]().work))
    assert not screen.app.root.alarm


def test_what_takes_long_is_stopped_where_one_measures(screen) -> None:
    """The bench has no line below: the key comes up beside the words, and measuring goes on meanwhile."""
    screen.show(SCENES["edges"]())
    assert not [widget for widget in shown_widgets(screen) if getattr(widget, "text", "") == said("Stop")]
    waiting = replace(SCENES["edges"](), work=SCENES["keep-saving"]().work)
    screen.show(waiting)
    assert find_text(screen, "saving the whole bench: 42 %")
    tap_text(screen, "Stop")
    assert screen.bench.sent == [StopWork(key=1)]
    tap_text(screen, "Take reading")
    assert isinstance(screen.bench.sent[-1], TakeReading)
    screen.show(replace(waiting, work=replace(waiting.work, can_stop=False)))
    assert not [widget for widget in shown_widgets(screen) if getattr(widget, "text", "") == said("Stop")]


@pytest.mark.parametrize("diagonal", DIAGONALS)
def test_no_figure_is_covered_by_the_instrument(looked_at, diagonal: Feature) -> None:
    """The beam across a diagonal would run through what was read at its corners: it leaves their ground clear."""
    taken = readings(RACKED, TEN_FEATURES)
    looked_at.show(snapshot(taken, length=diagonal))
    figure = looked_at.app.root.screen.ids.figure
    ink = np.array(looked_at.app.palette.accent[:3]) * 255
    pixels = looked_at.pixels()
    for corner in ENDS[diagonal]:
        x, y = figure.to_window(*(a + b for a, b in zip(figure.figure.value_at(corner), figure.pos, strict=True)))
        area = pixels[round(Window.height - y) - 6 : round(Window.height - y) + 6, round(x) - 18 : round(x) + 18]
        assert not (np.abs(area - ink).max(axis=2) < 40).any(), corner
