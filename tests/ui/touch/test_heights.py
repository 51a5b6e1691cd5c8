"""The verdict's word where the panel is narrowest for it, from its pixels, in a process of its own; the rest by
tests/endurance/screens_hold.py."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]


def test_the_words_are_high_enough_upright() -> None:
    run = [sys.executable, "-m", "tests.endurance.screens_hold", "--size", "720x1280", "heights"]
    done = subprocess.run(run, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
