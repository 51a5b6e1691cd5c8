"""What the bench says, and which instrument it shows large."""

from __future__ import annotations

from itertools import product

import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, WINDOW, Feature
from core.geometry.seats import keyed_seats
from core.machine.gantry_correction import Refusal, RefusalReason, gantry_correction
from core.metrology.live import LiveState
from core.metrology.readings import Quantity, Reading, Unit
from core.metrology.verdict import Verdict
from core.said import said, worded
from hardware.panel import Lamps
from tests.ui.scenes import CHECKED, RACKED, ROUTER, SCENES, SQUARE, at_place, live, readings, snapshot
from ui.bench.desks.measuring import VOID_REASONS
from ui.bench.lamp_box import lamps
from ui.pages.bench import (
    KEEP,
    BenchPage,
    Doing,
    bench_page,
    figured_result,
    moved_page,
    standing,
    word_of,
)
from ui.pages.correct import correct_page
from ui.pages.keypad import starts
from ui.pages.live_cursor import live_cursor
from ui.pages.theme import SHAPE_OF, Shape
from ui.pages.verdict import verdict_page
from ui.pages.what_to_do import what_to_do
from ui.state.snapshot import Snapshot
from ui.touch.in_hand import InHand


@pytest.mark.parametrize(
    ("value", "shape", "word"),
    [
        (None, Shape.RING, ""),
        (97.4, Shape.RING, ""),
        (120.01, Shape.DISC, "GO"),
        (120.29, Shape.HALF_DIAMOND, "UNDECIDED"),
        (120.6, Shape.CROSSED_SQUARE, "NO-GO"),
    ],
)
def test_the_lamp_follows_the_indication(value: float | None, shape: Shape, word: str) -> None:
    view = live_cursor(live(Feature.NEAR, value), snapshot())
    assert (view.shape, str(view.word)) == (shape, word)


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
    near = next(one for one in figured_result(twice).values if one.feature is Feature.NEAR)
    assert (worded(near.text), near.count) == ("119.96", 2)


def page(shown: Snapshot, quantity: Quantity = Quantity.LENGTH, **doing: object) -> BenchPage:
    return bench_page(shown, quantity, Doing(**doing))


@pytest.mark.parametrize("name", SCENES)
@pytest.mark.parametrize("quantity", Quantity)
def test_a_moved_page_is_the_page_made_anew(name: str, quantity: Quantity) -> None:
    """Whatever the jaws say, and at whatever feature: what is kept of the page is what would be made again."""
    before = SCENES[name]()
    made, kept = page(before, quantity), 0
    for feature in (before.live_length.feature, Feature.NEAR, Feature.NL_FR):
        for state, value in product(LiveState, (None, 79.9, 120.6)):
            newest = replace(before.live_length, feature=feature, state=state, value=value, hold_fraction=0.4)
            now = replace(before, revision=before.revision + 1, live_length=newest)
            moved = moved_page(made, before, now, quantity)
            assert moved in (None, page(now, quantity))
            kept += moved is not None
    assert kept


def test_a_question_of_the_bench_comes_before_everything_else() -> None:
    asked = SCENES["question"]()
    panel = page(asked, voiding=4).asked
    assert panel is not None
    assert panel.name == asked.question.name


def test_voiding_names_the_reading_and_asks_why() -> None:
    panel = page(SCENES["edges"](), voiding=SCENES["edges"]().readings[-1].number).asked
    assert panel is not None
    assert str(panel.title) == "diagonal near right to far left"
    assert [name for name, _ in panel.choices] == [*VOID_REASONS, KEEP]


def test_the_instrument_that_moves_is_shown_large() -> None:
    hand, still = InHand(), snapshot(length_value=50.0, corner_value=90.0)
    assert hand.follow(still) is Quantity.LENGTH
    moved = replace(still, live_corner=live(Feature.NL, 89.0))
    assert hand.follow(moved) is Quantity.ANGLE
    noise = replace(moved, live_length=live(Feature.NL_FR, 50.05))
    assert hand.follow(noise) is Quantity.ANGLE
    assert page(noise, hand.quantity).live.quantity is Quantity.ANGLE


def test_a_touched_feature_is_shown_large_until_the_other_instrument_moves() -> None:
    hand = InHand()
    hand.follow(snapshot())
    hand.touch(Quantity.ANGLE)
    assert hand.follow(snapshot()) is Quantity.ANGLE
    assert hand.follow(snapshot(length_value=120.0)) is Quantity.LENGTH


def test_every_feature_has_its_place_on_the_drawing() -> None:
    assert [one.feature for one in figured_result(snapshot()).values] == list(TEN_FEATURES)
    assert [one.feature for one in figured_result(SCENES["window"]()).values] == [*TEN_FEATURES, *WINDOW]


def test_a_window_still_unread_is_named_when_the_coupon_is_settled() -> None:
    unread, read = SCENES["window-unread"](), SCENES["window-read"]()
    assert unread.evaluation.settled
    assert "The window is still unread: it tells kerf from scale." in str(
        page(replace(unread, live_length=live(Feature.NEAR, 11.0))).answer.about
    )
    assert read.evaluation.settled is False or "window" not in str(page(read).answer.about)


def test_the_window_has_its_value_live_and_read_and_no_limit_of_its_own() -> None:
    view = page(SCENES["window"]()).live
    assert (view.feature, view.limit, str(view.word), round(view.deviation, 2)) == (WINDOW[0], None, "", 0.21)
    assert view.takeable
    read = page(SCENES["window-read"]()).figure
    values = {one.feature: worded(one.text) for one in read.values}
    assert (values[Feature.WINDOW_WIDTH], values[Feature.WINDOW_HEIGHT]) == ("60.21", "40.19")
    assert read.next is Feature.WINDOW_HEIGHT


def test_the_line_on_top_names_the_place_of_a_coupon_of_a_grid_and_which_one_it_is() -> None:
    def said(place: str, grid: str = "G1") -> str:
        return str(page(at_place(place, grid)).title).removeprefix("router · 120 x 80 mm · ")

    assert said("B2") == "B2, coupon 3 of grid G1"
    assert said("B1") == "B1, coupon 2 of grid G1"  # measured once more
    assert said("A1", "G2") == "A1, coupon 1 of grid G2"
    assert said("A1", "spring") == "A1, of grid spring"
    assert str(page(snapshot()).title) == "template router · 120 x 80 mm"


def test_with_no_coupon_the_first_press_is_shown_that_would_begin_one() -> None:
    idle = page(SCENES["empty"]())
    assert (idle.figure.next, idle.figure.coupon.width_mm) == (Feature.NL_FR, 120.0)
    assert (str(idle.band.head), idle.answer, idle.asked) == ("0 of 4", None, None)


def read(shape: tuple[float, ...], *features: Feature, **shown: object) -> Snapshot:
    return snapshot(readings(shape, features), length=Feature.NEAR, length_value=11.2, **shown)


def test_the_band_counts_the_quick_check_then_the_whole_coupon_then_says_the_word() -> None:
    one, three = DIAGONALS[:1], (*DIAGONALS, DIAGONALS[0])
    assert str(page(read(SQUARE, *one)).band.head) == "1 of 4"
    assert str(page(read(SQUARE, *three)).band.head) == "3 of 4"
    assert str(page(read(SQUARE, *DIAGONALS * 2)).band.head) == "GO"
    assert str(page(read(SQUARE, *DIAGONALS * 2, Feature.NEAR)).band.head) == "5 of 12"
    assert str(page(read(SQUARE, *CHECKED)).band.head) == "GO"
    assert str(page(SCENES["inconsistent"]()).band.head) == "INCONSISTENT"


def test_the_word_of_a_quick_check_says_what_it_is_not_about() -> None:
    answer = page(read(SQUARE, *DIAGONALS * 2)).answer
    assert (str(answer.word), str(answer.about)) == ("GO", "square; shape and size not measured")
    assert str(page(read(SQUARE, *CHECKED)).answer.about) == "squareness, shape, size"


def test_no_word_fills_the_half_before_it_is_settled() -> None:
    for features in (DIAGONALS[:1], DIAGONALS, (*DIAGONALS, DIAGONALS[0]), (*DIAGONALS * 2, Feature.NEAR)):
        assert page(read(SQUARE, *features)).answer is None
    assert page(SCENES["inconsistent"]()).answer is None
    assert page(SCENES["undecided"]()).answer is None


@pytest.mark.parametrize("name", SCENES)
def test_every_head_shows_the_coupon_as_the_bench_does(name: str) -> None:
    snapshot = SCENES[name]()
    shape, words = standing(snapshot)
    if snapshot.evaluation is None:
        assert (shape, str(words)) == (Shape.RING, "no verdict")
    elif snapshot.closed:
        assert (shape, words) == (SHAPE_OF[snapshot.evaluation.verdict], word_of(snapshot.evaluation))
    else:
        band = bench_page(snapshot, Quantity.LENGTH, Doing()).band
        assert (shape, words) == (band.shape, band.head)


def test_a_word_that_another_reading_may_turn_is_nowhere_the_coupons() -> None:
    page = verdict_page(SCENES["edges"]())  # both diagonals, far apart, read once each
    assert (page.shape, str(page.word)) == (Shape.HALF_DIAMOND, "UNDE|CIDED")
    assert page.lamps[0].shape is Shape.HALF_DIAMOND
    assert page.after is not None
    assert not page.after.fails
    settled = verdict_page(SCENES["no-go"]())
    assert settled.shape is settled.lamps[0].shape is Shape.CROSSED_SQUARE
    assert settled.after is not None
    assert settled.after.fails


@pytest.mark.parametrize("name", ["inconsistent", "first"])
def test_where_no_outline_can_be_drawn_what_is_to_be_read_is(name: str) -> None:
    page = verdict_page(SCENES[name]())
    assert page.after is None
    assert page.figure is not None
    assert page.figure.next is (page.do.measure or SCENES[name]().next_length)
    assert verdict_page(SCENES["no-go"]()).figure is None


def test_the_small_go_is_said_of_the_feature_only_once_the_jaws_have_come_near() -> None:
    assert not page(SCENES["on-the-way"]()).bar.word
    assert str(page(SCENES["edge-outside"]()).bar.word) == "NO-GO"
    assert not page(SCENES["window"]()).bar.word  # a window has no limit of its own


def test_only_what_fails_is_red() -> None:
    failing = {value.feature for value in page(SCENES["no-go"]()).figure.values if value.fails}
    assert failing >= set(DIAGONALS)
    assert not failing & set(EDGES)
    assert not any(value.fails for value in page(SCENES["go"]()).figure.values)


def test_readings_that_a_key_begins_are_the_whole_millimetres_around_nominal() -> None:
    seated = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
    assert starts(seated, Feature.NEAR, Unit.MM) == ("119.", "120.")
    assert starts(seated, Feature.NL_FR, Unit.MM) == ("136.", "137.")
    assert starts(seated, Feature.NR_FL, Unit.MM) == ("139.", "140.")
    assert starts(seated, Feature.NL, Unit.DEG) == ("89.", "90.")
    assert starts(seated, Feature.NEAR, Unit.INCH) == ("4.72", "4.73")


def test_the_word_comes_back_when_the_witness_that_a_move_lacked_is_read() -> None:
    """Whoever reads the corners for it has put the word aside, and must not have to look for the move."""
    lacking, there = SCENES["no-witness"](), SCENES["to-correct"]()
    keys = [page(one).answer.key for one in (lacking, there)]
    assert keys[0] != keys[1]


def read_out() -> Snapshot:
    """A square coupon corner to corner, all of it read once and the diagonals twice: near enough to its limits that
    nothing that is still to be read would settle it."""
    edges = dict.fromkeys((Feature.NEAR, Feature.FAR), 119.86) | dict.fromkeys((Feature.LEFT, Feature.RIGHT), 79.85)
    values = {**edges, Feature.NL_FR: 144.04, Feature.NR_FL: 144.02, **dict.fromkeys(CORNERS, 90.0)}
    taken = [*values.items(), *((diagonal, values[diagonal]) for diagonal in DIAGONALS)]
    return snapshot(
        tuple(
            Reading(feature=feature, value=value, unit=Unit.MM if feature.is_length else Unit.DEG)
            for feature, value in taken
        ),
        length_value=11.2,
    )


def test_a_coupon_that_can_tell_no_more_is_to_be_finished_and_not_called_settled() -> None:
    shown = read_out()
    assert shown.evaluation is not None
    assert (shown.evaluation.settled, shown.evaluation.next_reading) == (False, None)
    answer = page(shown).answer
    assert answer is not None
    assert (answer.shape, str(answer.about)) == (Shape.HALF_DIAMOND, "too close to the limit")
    assert verdict_page(shown).finishes
    assert "finish" in str(verdict_page(shown).do.text)
    finished = page(replace(shown, closed=True)).answer
    assert finished is not None
    assert "not settled" in worded(finished.about)


def test_a_finished_coupons_word_has_the_shape_of_a_settled_one_only_if_it_was() -> None:
    finished = replace(read_out(), closed=True)
    answer = page(finished).answer
    assert answer is not None
    assert (answer.shape, str(answer.word)) == (Shape.HALF_DIAMOND, "GO")
    shape, word = standing(finished)
    assert (shape, str(word)) == (Shape.HALF_DIAMOND, "GO, not settled")
    told = verdict_page(finished)
    assert (told.shape, str(told.word)) == (Shape.HALF_DIAMOND, "GO")
    assert "not settled" in worded(told.caption)
    assert lamps(finished, Quantity.LENGTH) is lamps(read_out(), Quantity.LENGTH) is Lamps.UNDECIDED
    assert str(told.do.text) == "Cut a larger coupon, or a second one"
    assert {lamp.shape for lamp in told.lamps} <= {Shape.HALF_DIAMOND, Shape.DISC, Shape.RING}
    settled = replace(SCENES["no-go"](), closed=True)
    assert lamps(settled, Quantity.LENGTH) is Lamps.NO_GO
    assert standing(settled)[0] is verdict_page(settled).shape is Shape.CROSSED_SQUARE


def test_beside_a_coupon_whose_correction_was_made_the_next_one_is_wanted() -> None:
    made = Refusal(reason=RefusalReason.SPENT, text=said("It was made."))
    shown = replace(SCENES["to-correct"](), closed=True)
    assert page(shown).answer.screen == "correct"
    shown = replace(shown, machines=replace(shown.machines, correction=made))
    assert page(shown).answer.screen == "coupon"
    assert [name for name, _words in correct_page(shown).actions] == ["coupon"]
    assert str(correct_page(shown).title) == "Now the new coupon"


@pytest.mark.parametrize("described", [False, True])
def test_a_finished_coupon_that_was_read_too_seldom_for_a_move_promises_none(described: bool) -> None:
    """Finished behind two readings, it said that the machine, once described, gives the move; the move was refused."""
    shown = replace(snapshot(readings(RACKED, DIAGONALS)), closed=True)
    correction = gantry_correction(shown.evaluation, ROUTER, answers=shown.answers) if described else None
    shown = replace(shown, machines=replace(shown.machines, correction=correction))
    assert shown.evaluation.verdict is Verdict.NO_GO
    assert str(what_to_do(shown).text) == "Measure it anew: too little was read for a move"
    assert not what_to_do(shown).describe
    assert page(shown).answer.screen == "coupon"


def test_with_nothing_left_for_one_instrument_the_other_is_named() -> None:
    shown = snapshot(readings(RACKED, CORNERS))
    lengths = replace(shown, live_corner=replace(shown.live_corner, feature=None))
    assert str(page(lengths, Quantity.ANGLE).hint) == "Now the calipers: diagonal near left to far right."


def test_with_nothing_to_hear_the_digits_place_says_what_to_do() -> None:
    none, lost = page(SCENES["no-instrument"]()), page(SCENES["lost"]())
    assert str(none.missing) == "Plug an instrument in, or type."
    assert str(lost.missing) == "Plug it in again, or type."
    assert not page(SCENES["first"]()).missing


def test_an_instrument_that_is_silent_but_plugged_in_is_not_asked_for() -> None:
    silent = replace(SCENES["no-instrument"](), instruments=SCENES["first"]().instruments)
    assert not page(silent).missing


def test_what_to_do_without_an_instrument_goes_once_another_is_heard() -> None:
    before = SCENES["lost"]()
    kept = page(before)
    heard = replace(before, live_length=replace(SCENES["first"]().live_length, feature=before.next_length))
    moved = moved_page(kept, before, heard, Quantity.LENGTH)
    assert moved is not None
    assert kept.missing
    assert not moved.missing
