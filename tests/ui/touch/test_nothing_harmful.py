"""What voids, finishes, gives up or begins a correction never comes up where a finger has just been: the bench and its
neighbours whole, of all pairs of screens a share on the narrowest panels; every pair on every panel by
tests/endurance/screens_hold.py."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.endurance.screens_hold import languages
from tests.endurance.under_the_finger import (
    EVERYWHERE,
    HARMFUL,
    at_leisure,
    enter,
    faults_of,
    overlap,
    targets,
    told_by_the_second,
    touched_once,
)
from tests.ui.scenes import SCENES
from ui.pages.theme import TOUCH_GUARD_S
from ui.state.settings import Settings

ROOT = Path(__file__).parents[3]


@pytest.mark.parametrize(("scene", "name"), [("edges", "bench"), ("no-go", "bench"), ("to-correct", "witness")])
def test_nothing_harmful_comes_up_under_the_finger(screen, scene: str, name: str) -> None:
    walked = list(touched_once(screen, lambda: enter(screen, SCENES[scene](), name), set()))
    assert any(after != before for _touched, before, after, _sent in walked)
    assert [fault for step in walked for fault in faults_of(*step)] == []


# A screen, its scene, and the scene that the bench's answer to a touch makes of it.
ANSWERED = (
    ("cable", "first", "cable"),
    ("cable", "cable-wrong", "cable"),
    ("keep", "keep", "keep-found"),
    ("update", "update", "update-found"),
    ("update", "update-refused", "update-found"),
)


@pytest.mark.parametrize("settings", languages(), ids=["en", "de"])
@pytest.mark.parametrize(("name", "scene", "answer"), ANSWERED)
def test_nor_by_what_the_bench_answers(screen, name: str, scene: str, answer: str, settings: Settings) -> None:
    enter(screen, replace(SCENES[scene](), settings=settings), name)
    before = [one for one in targets(screen) if one[1] not in EVERYWHERE]
    screen.show(replace(SCENES[answer](), settings=settings))
    harmful = [one for one in targets(screen) if one[1] in HARMFUL and one not in before]
    assert harmful or answer == "cable"
    assert [(new[1], old[1]) for new in harmful for old in before if overlap(new[0], old[0])] == []


@pytest.mark.parametrize(("scene", "name"), [("no-go", "bench"), ("cautions", "correct")])
def test_a_second_quick_touch_tells_the_bench_nothing(
    screen, monkeypatch: pytest.MonkeyPatch, scene: str, name: str
) -> None:
    monkeypatch.setattr(screen.app, "guard_s", TOUCH_GUARD_S)
    with at_leisure(screen):
        walked = list(touched_once(screen, lambda: enter(screen, SCENES[scene](), name), set(), twice=True))
    assert walked
    assert [fault for touched, _before, _after, sent in walked for fault in told_by_the_second(touched, sent)] == []


@pytest.mark.parametrize("size", ["480x320", "720x1280"])
def test_nor_on_the_narrowest_panels(size: str) -> None:
    run = [sys.executable, "-m", "tests.endurance.screens_hold", "harm", "--size", size, "--share", "0.02"]
    done = subprocess.run(run, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
