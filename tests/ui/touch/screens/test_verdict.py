"""The verdict by touch: one word, a lamp for each group, what to do, and the one wide button."""

from __future__ import annotations

import numpy as np
import pytest
from kivy.core.window import Window
from msgspec.structs import replace

from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.machine.before_after import before_after
from core.machine.gantry_correction import Correction, gantry_correction
from core.metrology.verdict import Verdict
from core.records.outline import MOST_LIMITS, outline_of, place_outline
from tests.ui.scenes import MARK_AT_NL, RACKED, SCENES, readings, snapshot
from tests.ui.touching import find_text, tap_text
from ui.bench.desks.machines import LoadMachines
from ui.bench.desks.measuring import CloseSession, SelectFeature
from ui.pages.theme import Shape
from ui.pages.verdict import verdict_page
from ui.speech.language import Language
from ui.speech.speech import Speech
from ui.state.snapshot import MachinesSlice, RecordsSlice

PANEL_MM = 86.0  # the short side of 7 inches, as drawn on data sheets of such panels (from memory)
WORD_MM, ORDER_MM, CAUTION_MM = 12.0, 7.0, 4.0
BOX = (100.0, 100.0, 120.0, 80.0)


def finished(name: str, before: str = "") -> object:
    """The coupon of a scene, finished; with what became of the machine since the one of the scene before."""
    shown = replace(SCENES[name](), closed=True)
    if not before:
        return shown
    comparison = before_after(SCENES[before]().evaluation, [shown.evaluation])
    return replace(shown, records=replace(shown.records, comparison=comparison))


@pytest.mark.parametrize("closed", [False, True])
def test_where_the_machine_is_to_be_described_the_wide_button_leads_there(looked_at, closed: bool) -> None:
    """The order said one thing, the button another: finish the coupon."""
    undescribed = MachinesSlice()
    looked_at.show(replace(SCENES["no-go"](), closed=closed, machines=undescribed, records=RecordsSlice()))
    looked_at.go("verdict")
    find_text(looked_at, "Describe the machine: it gives the move")
    tap_text(looked_at, "Describe the machine")
    assert looked_at.app.root.screen.name == "machine"
    assert looked_at.bench.sent == [LoadMachines()]


def test_what_would_settle_it_is_one_touch_away(screen) -> None:
    shown = SCENES["undecided"]()
    screen.show(shown)
    screen.go("verdict")
    asked = shown.evaluation.next_reading.feature
    tap_text(screen, f"Measure {asked.in_words}")
    assert screen.bench.sent == [SelectFeature(feature=asked)]
    assert screen.app.root.screen.name == "bench"


def test_finishing_closes_the_session(screen) -> None:
    screen.show(SCENES["go"]())
    screen.go("verdict")
    tap_text(screen, "Finish coupon")
    assert screen.bench.sent == [CloseSession()]


def test_a_coupon_that_is_not_settled_can_be_finished_too(screen) -> None:
    screen.show(SCENES["undecided"]())
    screen.go("verdict")
    tap_text(screen, "Finish coupon")
    assert screen.bench.sent == [CloseSession()]


def test_a_finished_coupon_leads_on(screen) -> None:
    screen.show(finished("to-correct"))
    screen.go("verdict")
    assert find_text(screen, "Finish coupon").disabled
    tap_text(screen, "Correct the machine")
    assert screen.app.root.screen.name == "correct"


def test_the_move_stands_first_and_its_caution_directly_below(looked_at) -> None:
    shown = SCENES["to-correct"]()
    looked_at.show(shown)
    looked_at.go("verdict")
    page, ids = verdict_page(shown), looked_at.app.root.screen.ids
    assert isinstance(shown.machines.correction, Correction)
    assert str(page.do.text) == "RIGHT end 5.3 mm NEARER"
    assert "unplugged" in str(page.do.caution)
    order, caution = find_text(looked_at, str(page.do.text)), find_text(looked_at, str(page.do.caution))
    # Nothing stands between them, in either direction.
    assert order.y == pytest.approx(caution.top, abs=2.0)
    assert ids.move.do.end is shown.machines.correction.end


def test_every_move_in_large_type_has_its_caution_in_both_languages() -> None:
    do = verdict_page(SCENES["to-correct"]()).do
    german = Speech(language=Language.GERMAN)
    assert "Netzstecker gezogen" in german.say(do.caution)
    assert german.say(do.text) == "RECHTES Ende 5.3 mm HERAN"


def test_a_move_without_a_witness_names_the_corner_to_read_in_words() -> None:
    """Seats of one width, both diagonals twice: skewed for certain, and nothing says which diagonal is which."""
    shown = snapshot(readings(RACKED, (*DIAGONALS, *DIAGONALS)))
    profile = SCENES["to-correct"]().machines.current
    refused = gantry_correction(shown.evaluation, profile, answers=MARK_AT_NL)
    page = verdict_page(replace(shown, machines=MachinesSlice(current=profile, correction=refused)))
    assert shown.evaluation.verdict is Verdict.NO_GO
    assert str(page.do.text) == "Read corner near left: a move needs a witness"
    assert page.do.measure is Feature.NL
    assert page.do.end is None
    assert not page.do.caution


def test_the_word_is_about_its_group_and_each_group_has_its_own_lamp() -> None:
    page = verdict_page(SCENES["no-go"]())
    assert (str(page.word), str(page.caption)) == ("NO-GO", "squareness")
    assert [lamp.shape for lamp in page.lamps] == [Shape.CROSSED_SQUARE, Shape.DISC, Shape.DISC]
    quick = verdict_page(SCENES["edges"]())
    assert quick.lamps[2].shape is Shape.RING


def test_an_edge_that_is_off_is_said_with_its_amount() -> None:
    long = snapshot(readings((0.006, 0.0, 0.0, 0.0, 0.0), (*TEN_FEATURES, *EDGES, *DIAGONALS)))
    page = verdict_page(replace(long, closed=True))
    assert str(page.do.text) == "Far edge 0.74 mm too long"
    assert str(page.caption) == "size"
    assert page.after.fails
    assert any(page.after.longer)
    assert not page.after.lean


@pytest.mark.parametrize(
    ("before", "now", "word"), [("no-go", "go", "FIXED"), ("go", "no-go", "WORSE"), ("no-go", "no-go", "NO CHANGE")]
)
def test_after_a_recut_the_word_is_what_became_of_the_machine(looked_at, before: str, now: str, word: str) -> None:
    looked_at.show(finished(now, before))
    looked_at.go("verdict")
    ids = looked_at.app.root.screen.ids
    assert str(ids.band.word) == word
    assert ids.before.outline is not None
    assert ids.after.outline is not None
    assert ids.before.width > 60
    assert ids.after.width > 60
    assert ids.before.outline.fails == (before == "no-go")


def test_what_is_go_never_leaves_its_band() -> None:
    outline = outline_of(SCENES["go"]().evaluation)
    corners = np.array(place_outline(outline, BOX, 10.0))
    nominal = np.array([(100, 100), (220, 100), (220, 180), (100, 180)])
    assert np.abs(corners - nominal).max() <= 10.0


def test_the_limit_is_as_long_whatever_it_is_in_millimetres() -> None:
    """Of a coupon as large as a plate and of a small one, just at the limit: the same drawing."""
    outline = replace(outline_of(SCENES["no-go"]().evaluation), lean=1.0)
    (x, _), *_ = place_outline(outline, BOX, 10.0)
    assert x == pytest.approx(90.0)


def test_what_is_far_off_stays_on_the_drawing_and_outside_the_band() -> None:
    outline = replace(outline_of(SCENES["no-go"]().evaluation), lean=40.0)
    (x, _), *_ = place_outline(outline, BOX, 10.0)
    assert x == pytest.approx(100.0 - 10.0 * MOST_LIMITS)


def test_a_positive_skew_leans_to_the_right() -> None:
    """NL and FR acute, the diagonal from NL to FR the longer: the far edge stands to the right."""
    nl, nr, fr, fl = place_outline(outline_of(SCENES["no-go"]().evaluation), BOX, 10.0)
    assert SCENES["no-go"]().evaluation.adjustment.skew_deg.value > 0
    assert np.hypot(fr[0] - nl[0], fr[1] - nl[1]) > np.hypot(fl[0] - nr[0], fl[1] - nr[1])


def test_a_contradictory_coupon_draws_no_outline_and_gives_no_value() -> None:
    """Not even where a comparison with the coupon before was worked out."""
    page = verdict_page(finished("inconsistent", "no-go"))
    assert page.after is None
    assert str(page.word) == "INCON|SISTENT"
    assert "±" not in str(page.do.text)


def test_without_readings_there_is_no_verdict() -> None:
    page = verdict_page(SCENES["empty"]())
    assert (page.shape, str(page.word), page.after) == (Shape.RING, "NO VERDICT", None)


@pytest.mark.parametrize("scene", ["no-go", "go", "undecided", "to-correct"])
def test_word_order_and_caution_are_read_from_afar(looked_at, scene: str) -> None:
    """Heights of capitals out of the pixels, on 7 inches."""
    looked_at.show(SCENES[scene]())
    looked_at.go("verdict")
    ids, mm = looked_at.app.root.screen.ids, PANEL_MM / Window.height
    assert capital_px(looked_at, ids.band, skip_px=90 * looked_at.app.scale) * mm >= WORD_MM - 0.2
    first = first_line(looked_at, ids.order)
    assert first * mm >= ORDER_MM - 0.2
    if ids.caution.opacity:
        assert first_line(looked_at, ids.caution) * mm >= CAUTION_MM - 0.3


def capital_px(screen, widget, skip_px: float) -> int:
    """How high the largest lettering in a widget stands: the first run of rows with ink in them."""
    x, y = widget.to_window(widget.x, widget.y)
    area = screen.pixels()[round(Window.height - y - widget.height) : round(Window.height - y), round(x + skip_px) :]
    area = area[:, : round(widget.width - skip_px)]
    return _first_run(area)


def first_line(screen, label) -> int:
    """The height of the first letter of a label: a capital."""
    x, y = label.to_window(label.x, label.y)
    left = round(x + label.padding[0])
    box = screen.pixels()[round(Window.height - y - label.height) : round(Window.height - y), left:]
    return _first_run(box[:, : round(0.6 * label.font_size)])


def _first_run(area) -> int:
    ground = area[0, -1].astype(int)
    inked = (np.abs(area.astype(int) - ground).max(axis=2) > 90).any(axis=1)
    rows = np.flatnonzero(inked)
    gaps = np.flatnonzero(np.diff(rows) > 1)
    return int((gaps[0] if len(gaps) else len(rows) - 1) + 1)
