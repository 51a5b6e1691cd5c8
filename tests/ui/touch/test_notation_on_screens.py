"""Screens in inches, minutes of arc and decimal commas: nothing is left in another notation.

Every screen in every state: tests/endurance/screens.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

import pytest
from kivy.uix.label import Label
from msgspec.structs import replace

from tests.ui.layout_checks import faults, in_sight
from tests.ui.scenes import SCENES, snapshot
from tests.ui.touch.test_layout import ELSEWHERE, MEASURING, ON_CORRECT, ON_MEASURE
from ui.speech.notation import AngleStyle, DecimalMark, LengthUnit, Notation
from ui.state.settings import Settings
from ui.touch.shell import SCREENS
from ui.touch.widgets import lettering
from ui.touch.widgets.digits import Digits

ALL = Settings(notation=Notation(lengths=LengthUnit.INCH, angles=AngleStyle.DMS, mark=DecimalMark.COMMA))
# In the state that the layout is looked at in, unless more of what they show is a quantity.
SHOWN_ON = {
    **{name: (scene,) for name, scene in ELSEWHERE.items()},
    "coupon": ("empty", "no-go"),
    "bench": (*ON_MEASURE, "history", "drifting"),
    "verdict": (*ON_MEASURE, "to-correct", "recut"),
    "numbers": (*ON_MEASURE, "to-correct", "recut"),
    "correct": ON_CORRECT,
    "machine": ("empty", "to-correct"),
    "history": ("history",),
    "instruments": ("lost", "stranger"),
    "causes": ("empty", "no-go", "to-correct"),
    "check": ("no-go",),
    "setup": ("no-go",),
}
# What is stamped on a feeler leaf, and the program's own version, are no quantities of the bench.
# What an instrument shows on its own display stays in its unit, with the person's decimal mark.
NO_QUANTITY = re.compile(
    r"(?:leaf|leaves|block) [\d.,]+(?: \+ (?:(?:leaf|leaves) )?[\d.,]+)* mm|\d+\.\d+\.\d+|last: \d+,\d+ mm"
)
OTHER_NOTATION = re.compile(r"\d mm\b|\d,\d+°|\d degrees?\b(?! C)|\d\.\d")


@pytest.fixture
def lettered(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Everything that is drawn without a label."""
    texts: list[str] = []
    make = lettering.picture

    def keep(text: str, *rest: object) -> object:
        texts.append(text)
        return make(text, *rest)

    monkeypatch.setattr(lettering, "picture", keep)
    return texts


def drawn_texts(screen) -> list[str]:
    widgets = in_sight(screen.app.root)
    return [widget._label.text.replace("\u00a0", " ") for widget in widgets if isinstance(widget, Label)] + [
        widget.text for widget in widgets if isinstance(widget, Digits)
    ]


def left_on(screen, lettered: list[str], name: str, scenes: Iterable[str]) -> list[str]:
    left = []
    for scene in scenes:
        screen.show_on(name, replace(SCENES[scene](), settings=ALL))
        texts = [NO_QUANTITY.sub("", text) for text in drawn_texts(screen) + lettered]
        left += [f"{scene}: {text}" for text in texts if OTHER_NOTATION.search(text)]
        lettered.clear()
    return left


@pytest.mark.parametrize("name", sorted(SCREENS))
def test_nothing_is_left_in_another_notation(looked_at, lettered: list[str], name: str) -> None:
    assert left_on(looked_at, lettered, name, SHOWN_ON[name]) == []


def test_the_check_finds_what_is_left(looked_at) -> None:
    looked_at.show(SCENES["no-go"]())
    looked_at.go("numbers")
    assert [text for text in drawn_texts(looked_at) if OTHER_NOTATION.search(text)]


def test_a_change_is_drawn_at_once_and_back(looked_at) -> None:
    looked_at.go("numbers")
    looked_at.show(SCENES["no-go"]())
    plain = drawn_texts(looked_at)
    looked_at.show(replace(SCENES["no-go"](), settings=ALL))
    assert drawn_texts(looked_at) != plain
    looked_at.show(SCENES["no-go"]())
    assert drawn_texts(looked_at) == plain


@pytest.mark.parametrize("name", sorted(set(SCREENS) - {"correct", "causes"}))
def test_the_longest_notation_fits(looked_at, name: str) -> None:
    scenes = {**dict.fromkeys((*MEASURING, "check", "setup"), "undecided"), "coupon": "empty", "history": "history"}
    looked_at.show_on(name, replace(SCENES[scenes.get(name) or ELSEWHERE[name]](), settings=ALL))
    assert faults(looked_at) == []


@pytest.mark.parametrize("value", [88.8, 89.95, 90.0, 91.25])
def test_large_digits_stand_still(looked_at, value: float) -> None:
    """Whatever is live, the figures have the same height and their right end the same place."""
    looked_at.go("bench")
    shown = []
    for live in (value, 90.0):
        looked_at.show(replace(snapshot(corner_value=live), settings=ALL))
        digits = [widget for widget in in_sight(looked_at.app.root) if isinstance(widget, Digits)]
        shown.append([(round(widget.font_px, 1), len(widget.text)) for widget in digits if widget.font_px > 50])
    assert shown[0] == shown[1]
