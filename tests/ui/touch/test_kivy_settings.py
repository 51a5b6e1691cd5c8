"""Kivy's folder where there is none to be had: a home that is missing or read-only costs nobody the bench."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ASKED = (
    "import os; from ui.touch.kivy_settings import set_environment; set_environment(); print(os.environ['KIVY_HOME'])"
)


@pytest.mark.parametrize("home", ["/proc", "/dev/null"])
def test_without_a_home_that_takes_files_it_is_elsewhere(tmp_path: Path, home: str) -> None:
    kept = {name: value for name, value in os.environ.items() if name not in ("KIVY_HOME", "XDG_CACHE_HOME")}
    done = subprocess.run(
        [sys.executable, "-c", ASKED],
        env={**kept, "HOME": home, "TMPDIR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.strip()).is_relative_to(tmp_path)
