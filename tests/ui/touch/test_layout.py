"""Every screen on three panels: no text cut, no text over text, targets a glove can hit, words that can be read.

What is shared out here, a part to each panel or screen, is held whole by tests/endurance/screens.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from msgspec.structs import replace

from core.said import said
from tests.ui.contrast import contrast_ratio
from tests.ui.layout_checks import faults, faults_of_place
from tests.ui.scenes import SCENES
from tests.ui.touched import TOUCHED, touch_until
from tests.ui.touching import find_text
from ui.bench.desks.measuring import TakeBack
from ui.pages.theme import DARK, LIGHT, Shape
from ui.speech.language import Language
from ui.state.settings import Settings
from ui.state.snapshot import Message, Undoable
from ui.touch.shell import SCREENS

ON_CORRECT = (
    "empty", "to-correct", "cautions", "play", "gaps", "loosen", "set", "inside", "set-without-cable",
    "gaps-without-cable", "recut",
)  # fmt: skip
ON_DOWNLOAD = ("no-stick", "writing", "stick-pulled", "downloaded")
ON_DESIGN = ("not-adjustable", "designs", "design-ready", "design-writing", "design-written", "design-failed")
ON_CABLE = ("cable", "cable-wrong", "cable-several", "first")
ON_PRACTICE = ("practice", "practice-open", "practice-asked", "practice-answered")
ON_UPDATE = tuple(name for name in SCENES if name.startswith("update"))
ON_KEEP = tuple(name for name in SCENES if name.startswith("keep"))
ON_SHOP = tuple(name for name in SCENES if name.startswith("shop"))
ON_RECORDS = ("history", "drifting", "shared", "grid", "grid-begun")
OFF_MEASURE = (
    *ON_CORRECT[1:],
    *ON_DOWNLOAD,
    *ON_DESIGN,
    *ON_CABLE[:-1],
    *ON_PRACTICE,
    *ON_RECORDS,
    *ON_UPDATE,
    *ON_KEEP,
    *ON_SHOP,
)
ON_MEASURE = [name for name in SCENES if name not in OFF_MEASURE]
MEASURING = ("bench", "verdict", "numbers")
# A screen that nothing here names is looked at beside a coupon that is no-go.
ELSEWHERE = {
    **dict.fromkeys(sorted(set(SCREENS) - {"bench", "verdict", "numbers", "correct"}), "no-go"),
    "practice": "practice-answered",
    "menu": "practice",
    "coupon": "terms",
    "limits": "terms",
    "machine": "to-correct",
    "instruments": "stranger",
    "cable": "cable-several",
    "history": "drifting",
    "bed": "grid",
    "download": "stick-pulled",
    "design": "design-ready",
    "keep": "keep-found",
    "shop": "shop-hindered",
    "causes": "not-adjustable",
    "witness": "no-mark",
    "setup": "empty",
    "check": "first",
    "update": "update-refused",
}
# The smallest panel and the upright one; the others: tests/endurance/screens.
SIZES = ((480, 320), (720, 1280))


def faults_of(screen, scene: str, name: str, check=faults) -> list[str]:
    screen.show_on(name, SCENES[scene]())
    return [f"{scene} on {name}: {fault}" for fault in check(screen)]


def faults_when_touched(screen, names: Iterable[str] = TOUCHED) -> list[str]:
    found = []
    for name in names:
        touch_until(screen, name)
        found += [f"{name}: {fault}" for fault in faults_of_place(screen)]
    return found


def faults_elsewhere(screen) -> list[str]:
    """One state of every screen, and a coupon with a window."""
    shown = {**ELSEWHERE, "bench": "hand", "verdict": "undecided", "numbers": "undecided", "correct": "set"}
    windowed = {"bench": "window-read", "verdict": "window-read", "numbers": "window-read"}
    return [
        fault
        for name, scene in (*shown.items(), *windowed.items())
        for fault in faults_of(screen, scene, name, faults_of_place)
    ]


@pytest.mark.parametrize("name", MEASURING)
def test_every_state_of_measuring_on_one_screen_of_it(looked_at, name: str) -> None:
    with_a_move = ("to-correct", "recut") if name == "verdict" else ()
    share = ON_MEASURE[MEASURING.index(name) :: len(MEASURING)]
    assert [fault for scene in (*share, *with_a_move) for fault in faults_of(looked_at, scene, name)] == []


def test_the_correction_at_every_stage(looked_at) -> None:
    assert [fault for scene in ON_CORRECT for fault in faults_of(looked_at, scene, "correct")] == []


def test_what_must_not_give_the_answer_of_an_exercise_away(looked_at) -> None:
    doors = ("bench", "verdict", "correct", "causes", "practice")
    assert [fault for name in doors for fault in faults_of(looked_at, "practice-open", name)] == []


def test_the_download_in_every_state(looked_at) -> None:
    assert [fault for scene in ON_DOWNLOAD for fault in faults_of(looked_at, scene, "download")] == []


def test_saving_and_restoring_in_every_state(screen) -> None:
    assert [fault for scene in ON_KEEP for fault in faults_of(screen, scene, "keep")] == []
    screen.app.root.screen.answer("report")
    screen.frames()
    assert faults(screen) == []


def test_the_shop_in_every_state(looked_at) -> None:
    assert [fault for scene in ON_SHOP for fault in faults_of(looked_at, scene, "shop")] == []
    assert faults_of(looked_at, "shop-practice", "menu") == []


def test_the_design_in_every_state(looked_at) -> None:
    assert [fault for scene in ON_DESIGN for fault in faults_of(looked_at, scene, "design")] == []
    assert faults_of(looked_at, "not-adjustable", "correct") == []


def test_the_update_in_every_state(looked_at) -> None:
    assert [fault for scene in ON_UPDATE for fault in faults_of(looked_at, scene, "update")] == []
    assert faults_of(looked_at, "update-taken-back", "bench") == []


def test_setup_on_an_installed_bench_has_room_for_its_doors() -> None:
    """Without a kernel's panel there is neither clock to set nor switch: they are given here."""
    from tests.ui.offscreen import Offscreen
    from tests.ui.stand_in_bench import StandInBench

    given = {"switch_off": lambda: "", "set_clock": lambda _moment: ""}
    with Offscreen(StandInBench(SCENES["update"]()), **given) as screen:
        assert faults_of(screen, "update", "setup") == []
        ids = screen.app.root.screen.ids
        assert ids.off.x == ids.rows.children[-1].ids.choices.x
        screen.show(replace(SCENES["update"](), settings=Settings(language=Language.GERMAN)))
        assert faults(screen) == []
        for size in SIZES:
            with screen.resized(size):
                assert faults_of(screen, "update", "setup", faults_of_place) == []


def test_the_page_of_a_cable_with_every_setting_in_sight(looked_at) -> None:
    found = []
    for scene in ON_CABLE:
        found += faults_of(looked_at, scene, "cable")
        page = looked_at.app.root.screen
        for name, _words in page.ids.rows.choices:
            page.turn_to(name)
            looked_at.frames()
            found += [f"{scene} at {name}: {fault}" for fault in faults_of_place(looked_at)]
    assert found == []


def test_the_other_screens(looked_at) -> None:
    assert [fault for name, scene in ELSEWHERE.items() for fault in faults_of(looked_at, scene, name)] == []


def test_what_comes_up_when_something_is_touched(screen) -> None:
    found = []
    for name in TOUCHED:
        touch_until(screen, name)
        found += [f"{name}: {fault}" for fault in faults(screen)]
    assert found == []


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
def test_what_comes_up_there_when_something_is_touched(screen, size: tuple[int, int]) -> None:
    share = tuple(TOUCHED)[SIZES.index(size) :: len(SIZES)]
    with screen.resized(size):
        assert faults_when_touched(screen, share) == []


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
def test_other_panels(looked_at, size: tuple[int, int]) -> None:
    # The surface in memory keeps the size it was made with: places are judged here, pixels on the panel of 800 x 480.
    with looked_at.resized(size):
        assert faults_elsewhere(looked_at) == []


def test_the_dark_theme(looked_at) -> None:
    looked_at.app.palette = DARK
    shown = {**ELSEWHERE, "bench": "edges", "verdict": "no-go", "numbers": "no-go", "correct": "set"}
    assert [fault for name, scene in shown.items() for fault in faults_of(looked_at, scene, name)] == []


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_what_is_drawn_without_a_label_can_be_read(palette) -> None:
    pairs = [(palette.lamp(shape).ink, palette.lamp(shape).fill) for shape in Shape]
    pairs += [(palette.ink, palette.paper), (palette.ink, palette.panel), (palette.accent_ink, palette.accent)]
    assert min(contrast_ratio(ink, ground) for ink, ground in pairs) >= 4.5


def test_the_checks_find_what_is_wrong(screen) -> None:
    """A check that cannot fail is none: each fault is put on the screen once."""
    from kivy.uix.label import Label

    from ui.touch.widgets.basics import KeyButton

    root = screen.app.root.screen
    ground = screen.app.palette.paper
    root.add_widget(Label(text="cut", font_size=90, size_hint=(None, None), size=(20, 20), pos=(300, 200)))
    root.add_widget(Label(text="over", size_hint=(None, None), size=(90, 30), pos=(300, 200), color=(0, 0, 0, 1)))
    root.add_widget(KeyButton(text="small", size_hint_x=None, width=30, pos=(500, 50)))
    faint = (*(part * 0.85 for part in ground[:3]), 1)
    root.add_widget(Label(text="faint", size_hint=(None, None), size=(90, 30), pos=(20, 170), color=faint))
    screen.frames()
    found = " | ".join(faults(screen))
    for word in ("cut: 'cut'", "'over'", "target 30 x 56 px: 'small'", "'faint'"):
        assert word in found


@pytest.mark.parametrize("language", Language)
def test_the_usual_panel_stood_upright(looked_at, language: Language) -> None:
    """800 x 480 turned by a quarter, as Setup offers: one line for Back, the whole keypad below a grid's choices, and
    the figures of both diagonals apart."""
    with looked_at.resized((480, 800)):
        for scene, name in (
            ("practice-asked", "practice"),
            ("first", "verdict"),
            ("no-go", "coupon"),
            ("grid", "coupon"),
        ):
            looked_at.show(replace(SCENES[scene](), settings=Settings(language=language)))
            looked_at.go(name)
            looked_at.frames()
            assert faults_of_place(looked_at) == [], (scene, name)
            back = looked_at.app.root.ids.back
            assert back.texture_size[1] < 2 * back.font_size
        keys = looked_at.app.root.screen.ids.numbers.children
        starts = find_text(looked_at, "Start this coupon")
        lowest_px = min(key.to_window(*key.pos)[1] for key in keys)
        assert lowest_px >= starts.to_window(*starts.pos)[1] + starts.height


@pytest.mark.parametrize("language", Language)
def test_what_is_told_beside_undo_has_room_upright(looked_at, language: Language) -> None:
    with looked_at.resized((720, 1280)):
        told = Message(text=said("Measure the new coupon: it will be held against the one before."))
        undo = Undoable(command=TakeBack(number=1))
        looked_at.show(replace(SCENES["recut"](), message=told, undo=undo, settings=Settings(language=language)))
        looked_at.go("verdict")
        assert faults_of_place(looked_at) == []
