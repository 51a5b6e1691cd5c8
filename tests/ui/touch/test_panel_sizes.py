"""The pixels of a small panel and of one that stands upright, each in a process of its own.

All sizes and more screens: `python -m tests.endurance.panel_sizes`.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]


@pytest.mark.parametrize("size", ["480x320", "720x1280"])
def test_words_can_be_read_there(size: str) -> None:
    run = [sys.executable, "-m", "tests.endurance.panel_sizes", "--size", size, "bench:edges", "verdict:inconsistent"]
    done = subprocess.run(run, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
