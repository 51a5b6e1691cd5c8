"""Processor seconds of the suite by file, with what a test's own processes took: they say more than time on the wall.

.venv/bin/pytest -p tests.benchmarks.suite_seconds -n auto --dist worksteal
"""

from __future__ import annotations

import os
from collections import Counter
from typing import Any

import pytest

MOST_FILES = 40
_begun: dict[str, float] = {}
_by_file: Counter[str] = Counter()


def processor_s() -> float:
    """Of this process, and of its children that have ended."""
    return sum(os.times()[:4])


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    _begun[item.nodeid] = processor_s()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    report = yield
    if call.when == "teardown" and item.nodeid in _begun:
        report.user_properties.append(("processor_s", processor_s() - _begun.pop(item.nodeid)))
    return report


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Where the run is shared, each process tells of its tests by their reports."""
    _by_file[report.nodeid.partition("::")[0]] += dict(report.user_properties).get("processor_s", 0.0)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    terminalreporter.section(f"processor seconds, {sum(_by_file.values()):.0f} in all")
    for name, seconds in _by_file.most_common(MOST_FILES):
        terminalreporter.write_line(f"{seconds:7.1f} {name}")
