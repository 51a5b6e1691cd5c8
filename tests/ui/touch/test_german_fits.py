"""German is longer than English: nothing is cut, broken or overlaps, and nothing stays in English, on any screen.

All states of all screens, and all panels: tests/endurance/screens.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from kivy.uix.label import Label
from msgspec.structs import replace

from core.said import Part
from tests.ui.english_left import assert_nothing_left, everything_said
from tests.ui.layout_checks import faults, faults_of_place, in_sight
from tests.ui.scenes import SCENES
from tests.ui.touch.test_layout import (
    ELSEWHERE,
    ON_CABLE,
    ON_CORRECT,
    ON_DESIGN,
    ON_DOWNLOAD,
    ON_KEEP,
    ON_MEASURE,
    ON_PRACTICE,
    ON_RECORDS,
    ON_SHOP,
    ON_UPDATE,
    SIZES,
)
from ui.speech.language import Language
from ui.speech.notation import AngleStyle, DecimalMark, LengthUnit, Notation
from ui.state.settings import Settings
from ui.touch.shell import SCREENS

COMMA = Notation(mark=DecimalMark.COMMA)
LONGEST = Notation(lengths=LengthUnit.INCH, angles=AngleStyle.DMS, mark=DecimalMark.COMMA)
NOTATIONS = (COMMA, LONGEST)
SHOWN = {
    **{name: (scene,) for name, scene in ELSEWHERE.items()},
    "bench": (*ON_MEASURE, "history", "drifting", "loosen"),
    "verdict": (*ON_MEASURE, "to-correct", "recut"),
    "numbers": ON_MEASURE,
    "correct": ON_CORRECT,
    "causes": ("empty", "no-go", "to-correct", "inconsistent"),
    "machine": ("empty", "to-correct"),
    "download": ON_DOWNLOAD,
    "update": ON_UPDATE,
    "design": ON_DESIGN,
    "cable": ON_CABLE,
    "coupon": ("terms", "empty", "window", "at-place"),
    "label": ("no-go", "empty"),
    "keep": ON_KEEP,
    "shop": ON_SHOP,
    "menu": (ELSEWHERE["menu"], "shop-practice"),
    "practice": ON_PRACTICE,
    "history": ON_RECORDS,
    "bed": ON_RECORDS,
    "instruments": ("lost", "stranger", "no-go"),
}
ON_OTHER_PANELS = {
    **ELSEWHERE,
    "bench": "hand",
    "verdict": "undecided",
    "numbers": "undecided",
    "correct": "set",
}


def show(screen, scene: str, name: str, notation: Notation) -> None:
    screen.show_on(name, replace(SCENES[scene](), settings=Settings(language=Language.GERMAN, notation=notation)))


def test_no_screen_is_left_out() -> None:
    assert set(SHOWN) == set(SCREENS)


def words_in_sight(screen) -> set[Part | str]:
    return {widget.text for widget in in_sight(screen.app.root) if isinstance(widget, Label)}


def faults_elsewhere(screen, notation: Notation, names: Iterable[str] = ON_OTHER_PANELS) -> list[str]:
    found = []
    for name in names:
        scene = ON_OTHER_PANELS[name]
        show(screen, scene, name, notation)
        found += [f"{scene} on {name}: {fault}" for fault in faults_of_place(screen)]
    return found


@pytest.mark.parametrize("name", SHOWN)
def test_every_screen_in_its_states(looked_at, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    found, heard = [], everything_said(monkeypatch)
    for scene in SHOWN[name]:
        show(looked_at, scene, name, COMMA)
        found += [f"{scene}: {fault}" for fault in faults(looked_at)]
        heard |= words_in_sight(looked_at)
    assert found == []
    assert_nothing_left(heard)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("notation", NOTATIONS, ids=["comma", "longest"])
def test_every_screen_on_other_panels_in_one_notation(looked_at, size: tuple[int, int], notation: Notation) -> None:
    """In the other one on the other panel."""
    share = tuple(ON_OTHER_PANELS)[(SIZES.index(size) + NOTATIONS.index(notation)) % 2 :: 2]
    with looked_at.resized(size):
        assert faults_elsewhere(looked_at, notation, share) == []
