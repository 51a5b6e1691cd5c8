"""What voids, finishes, gives up or begins a correction never comes up where a finger has just been: the bench and its
neighbours whole, of all pairs of screens a share on the narrowest panels; every pair on every panel by
tests/endurance/screens_hold.py."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.endurance.under_the_finger import enter, faults_of, touched_once
from tests.ui.scenes import SCENES

ROOT = Path(__file__).parents[3]


@pytest.mark.parametrize(("scene", "name"), [("edges", "bench"), ("no-go", "bench"), ("to-correct", "witness")])
def test_nothing_harmful_comes_up_under_the_finger(screen, scene: str, name: str) -> None:
    walked = list(touched_once(screen, lambda: enter(screen, SCENES[scene](), name), set()))
    assert any(after != before for _touched, before, after, _sent in walked)
    assert [fault for step in walked for fault in faults_of(*step)] == []


@pytest.mark.parametrize("size", ["480x320", "720x1280"])
def test_nor_on_the_narrowest_panels(size: str) -> None:
    run = [sys.executable, "-m", "tests.endurance.screens_hold", "harm", "--size", size, "--share", "0.02"]
    done = subprocess.run(run, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
