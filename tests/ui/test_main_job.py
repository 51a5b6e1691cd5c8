"""The whole main job, nothing mocked between bytes and verdict: a simulated machine cuts a coupon, instruments write
their wire formats into pseudo-terminals, the ordinary links read them, the archive commits, the verdict comes."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from core.geometry.features import TEN_FEATURES
from core.records.archive import Archive
from core.records.saved_bench import ARCHIVE
from core.records.session import Session
from firmware_bridge.simulation.workshop import scenario
from ui.start import BenchOptions, assembled, utc_now
from ui.terminal.exit_status import ExitStatus
from ui.terminal.text_bench import TextBench

SPEED = 20.0


def measure(folder: Path, name: str) -> tuple[int, str, Session]:
    """Let the simulated hand measure a whole coupon; returns exit status, what the terminal showed, and the record."""
    out = io.StringIO()
    with assembled(BenchOptions(folder=folder, scenario=name, speed=SPEED)) as bench:
        status = TextBench(bench, out, columns=None).run((), quit_at_end=False)
    archive = Archive.open(folder / ARCHIVE, utc_now)
    try:
        session = Session.from_events(archive.events(archive.sessions()[0].id))
    finally:
        archive.close()
    return status, out.getvalue(), session


@pytest.mark.parametrize(
    ("name", "expected"),
    [("racked", ExitStatus.NO_GO), ("good", ExitStatus.GO), ("turned-over", ExitStatus.INCONSISTENT)],
)
def test_a_coupon_is_measured_over_serial_bytes_to_its_verdict(tmp_path: Path, name: str, expected: ExitStatus) -> None:
    status, shown, session = measure(tmp_path, name)
    assert status == expected
    assert {reading.feature for reading in session.active} == set(TEN_FEATURES)
    assert session.closed is not None
    assert session.opened.simulated
    assert "SIMULATED" in shown


def test_the_skew_found_is_the_hidden_one(tmp_path: Path) -> None:
    _, _, session = measure(tmp_path, "racked")
    closed = session.closed
    assert closed is not None
    assert closed.skew_deg is not None
    assert closed.skew_u95_deg is not None
    assert abs(closed.skew_deg - scenario("racked").gantry.skew_deg) <= closed.skew_u95_deg
