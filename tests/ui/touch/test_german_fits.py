"""German is longer than English: nothing is cut, broken or overlaps, on any screen, in any notation, on any panel."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.ui.layout_checks import faults, faults_of_place
from tests.ui.scenes import CALIPER_CABLE, SCENES
from tests.ui.touch.test_layout import (
    ELSEWHERE,
    ON_CORRECT,
    ON_DOWNLOAD,
    ON_KEEP,
    ON_MEASURE,
    ON_PRACTICE,
    ON_RECORDS,
    SIZES,
)
from ui.speech.language import Language
from ui.speech.notation import AngleStyle, DecimalMark, LengthUnit, Notation
from ui.state.settings import Settings

COMMA = Notation(mark=DecimalMark.COMMA)
LONGEST = Notation(lengths=LengthUnit.INCH, angles=AngleStyle.DMS, mark=DecimalMark.COMMA)
SHOWN = {
    **{name: (scene,) for name, scene in ELSEWHERE.items()},
    "bench": (*ON_MEASURE, "history", "drifting", "loosen"),
    "verdict": (*ON_MEASURE, "to-correct", "recut"),
    "numbers": ON_MEASURE,
    "correct": ON_CORRECT,
    "causes": ("empty", "no-go", "to-correct", "inconsistent"),
    "machine": ("empty", "to-correct"),
    "download": ON_DOWNLOAD,
    "keep": ON_KEEP,
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
    screen.show(replace(SCENES[scene](), settings=Settings(language=Language.GERMAN, notation=notation)))
    screen.app.looked_at = CALIPER_CABLE.port if name == "cable" else ""
    screen.go(name)


@pytest.mark.parametrize("name", SHOWN)
def test_every_screen_in_its_states(screen, name: str) -> None:
    found = []
    for scene in SHOWN[name]:
        show(screen, scene, name, COMMA)
        found += [f"{scene}: {fault}" for fault in faults(screen)]
    assert found == []


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
@pytest.mark.parametrize("notation", [COMMA, LONGEST], ids=["comma", "longest"])
def test_other_panels(screen, size: tuple[int, int], notation: Notation) -> None:
    with screen.resized(size):
        found = []
        for name, scene in ON_OTHER_PANELS.items():
            show(screen, scene, name, notation)
            found += [f"{scene} on {name}: {fault}" for fault in faults_of_place(screen)]
    assert found == []
