"""The long proofs and benchmarks are run seldom: that they still find what they are made of is seen each time."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SELDOM = [
    ".".join(file.relative_to(ROOT).with_suffix("").parts)
    for folder in ("endurance", "benchmarks")
    for file in sorted((ROOT / "tests" / folder).rglob("*.py"))
    if file.name not in ("conftest.py", "__main__.py")
]


def ended(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False)


def test_every_fixture_of_theirs_is_there() -> None:
    done = ended("-m", "pytest", "-q", "--setup-plan", "-p", "no:cacheprovider", "tests/endurance")
    assert done.returncode == pytest.ExitCode.OK, done.stdout


def test_each_finds_what_it_imports() -> None:
    # Some are begun as files: Python then looks beside them.
    imports = "; ".join(("import sys", "sys.path.append('tests/endurance')", *(f"import {name}" for name in SELDOM)))
    done = ended("-c", imports)
    assert done.returncode == 0, done.stderr
