"""Machines and the guided correction from the text bench, leaving in the middle included."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from core.machine.directions import Axis, Side
from core.machine.holding import HowHeld
from core.records.archive import Archive
from core.records.saved_bench import ARCHIVE
from core.records.session import Session
from core.said import Said
from tests.ui.terminal.test_text_bench import TYPED, run
from ui.bench.desks.machines import SaveMachine
from ui.bench.steps import empty_snapshot
from ui.terminal.commands import parse_line
from ui.terminal.machine import parse_machine_line

DESCRIBED = "machine template-router span_mm=640 held=screws screw_pitch_mm=1 process=router"
MEASURED = ["new 120x80", "mark", *TYPED, *TYPED]
# Power off, stored energy, cutter out, the maker first: asked again when it is taken up later.
CAUTIONS = ["done"] * 4
PLAY = ["done"]


def test_a_machine_is_described_and_used_for_the_next_coupon(tmp_path: Path) -> None:
    _, shown = run(tmp_path, [DESCRIBED, "machine", "new 120x80", "quit"])
    assert "* template-router: span 640 mm" in shown
    assert "Coupon 120 x 80 mm on template-router" in shown


def test_a_correction_goes_on_after_leaving(tmp_path: Path) -> None:
    first = [DESCRIBED, *MEASURED, "correct", *CAUTIONS, *PLAY, "gap 32.10", "quit"]
    _, before = run(tmp_path, first)
    assert "Read the gap at the right end." in before
    _, after = run(tmp_path, [*CAUTIONS, "gap 32.40", "done", "quit"])
    assert "support, warranty and licensed practice prevail" in " ".join(after.split())
    assert "Still off and unplugged?" in after
    assert "The right end has 3.90 mm to go" in after
    assert "Stop when the gap at the right end is 36.30 mm" in " ".join(after.split())


def test_no_correction_before_the_mark_is_confirmed(tmp_path: Path) -> None:
    _, shown = run(tmp_path, [DESCRIBED, "new 120x80", *TYPED, *TYPED, "correct", "quit"])
    assert "== " not in shown
    assert "mark" in shown


def test_a_machine_described_while_a_coupon_is_open_is_the_one_it_was_cut_on(tmp_path: Path) -> None:
    """No invented machine here: nothing but the person's own words leads from the coupon to its correction."""
    _, shown = run(tmp_path, ["new 120x80", *MEASURED[1:], DESCRIBED, "correct", "quit"])
    assert "Power off, unplugged" in shown
    _, resumed = run(tmp_path, [*CAUTIONS, *PLAY, "quit"])
    assert "Read the gap at the left end." in resumed
    with closing(Archive.open(tmp_path / ARCHIVE, lambda: datetime(2026, 3, 1, tzinfo=UTC))) as archive:
        (summary,) = archive.sessions()
        assert summary.machine == "template-router"
        opened = Session.from_events(archive.events(summary.id)).opened
    assert (opened.machine, opened.span_mm) == ("template-router", 640.0)


def test_a_finished_coupon_keeps_the_machine_it_was_cut_on(tmp_path: Path) -> None:
    other = "machine plotter span_mm=400 held=shims"
    run(tmp_path, [DESCRIBED, *MEASURED, "close", other, "quit"])
    with closing(Archive.open(tmp_path / ARCHIVE, lambda: datetime(2026, 3, 1, tzinfo=UTC))) as archive:
        assert [summary.machine for summary in archive.sessions()] == ["template-router"]


def test_an_open_coupon_follows_the_machine_that_the_person_chooses(tmp_path: Path) -> None:
    other = "machine plotter span_mm=400 held=shims"
    run(tmp_path, [other, DESCRIBED, *MEASURED, "machine plotter", "quit"])
    with closing(Archive.open(tmp_path / ARCHIVE, lambda: datetime(2026, 3, 1, tzinfo=UTC))) as archive:
        assert [summary.machine for summary in archive.sessions()] == ["plotter"]


def test_a_gap_that_is_none_is_refused(tmp_path: Path) -> None:
    _, shown = run(tmp_path, [DESCRIBED, *MEASURED, "correct", *CAUTIONS, *PLAY, "gap 900", "gap x", "done", "quit"])
    assert "900.00 mm is no gap" in shown
    assert "'x' is not a number" in shown
    assert "Read the gap: press the data button" in shown


def test_a_crash_in_the_middle_voids_the_coupons_number(tmp_path: Path) -> None:
    _, shown = run(tmp_path, [DESCRIBED, *MEASURED, "correct", "event crash hit a clamp", "quit"])
    assert "The machine crashed meanwhile" in shown


# What the coupon reads after the right end was moved by what the first one asked for. SIMULATED.
REPAIRED = [
    "nl-fr 144.04", "nr-fl 144.02", "near 119.85", "right 79.86", "far 119.87", "left 79.84",
    "nl 90.0", "nr 90.0", "fr 90.0", "fl 90.0",
]  # fmt: skip
# The same move made the wrong way.
DOUBLED = [
    "nl-fr 143.21", "nr-fl 144.83", "near 119.85", "right 79.86", "far 119.87", "left 79.84",
    "nl 90.7", "nr 89.3", "fr 90.7", "fl 89.3",
]  # fmt: skip
# Loosen, set, tighten, each after "still off"; run by hand after "slowly"; re-align after three, re-cut after five.
SET_GAPS = ["gap 32.10", "gap 36.30"]
GAPS = ["gap 32.10", "gap 32.40", *["done"] * 6, *SET_GAPS, *["done"] * 2, *SET_GAPS]
FINISHED = ["done"] * 10
CORRECTED = [*CAUTIONS, *PLAY, *GAPS, *FINISHED]


@pytest.mark.parametrize(("recut", "words"), [(REPAIRED, "Fixed, on one coupon"), (DOUBLED, "Moved the wrong way")])
def test_from_no_go_to_the_proof_of_what_became_of_it(tmp_path: Path, recut: list[str], words: str) -> None:
    run(tmp_path, [DESCRIBED, *MEASURED, "correct", "close"])
    _, corrected = run(tmp_path, [*CORRECTED, "quit"])
    assert "Measure the new coupon" in corrected
    _, shown = run(tmp_path, ["new 120x80", "mark", *recut, *recut, "close"])
    assert "Against the coupon before" in shown
    assert words in shown


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("machine m", "There is no machine 'm'"),
        ("machine m held=screws", "needs its span"),
        ("machine m span_mm=abc", "is not a number"),
        ("machine m span_mm=640 held=glue", "must be one of cross-shaft"),
        ("machine m colour=red", "a field of a machine is one of"),
        ("machine m span_mm=1", "must lie between"),
    ],
)
def test_what_cannot_be_a_machine_is_said(line: str, words: str) -> None:
    answer = parse_line(line, empty_snapshot(simulated=False))
    assert isinstance(answer, Said)
    assert words in str(answer)


def test_every_kind_of_field_is_read() -> None:
    line = "machine m span_mm=640,5 gantry_axis=y movable=near held=belt-clamps controller_skew_set=yes front_words=N"
    command = parse_machine_line(line.split(), empty_snapshot(simulated=False))
    assert isinstance(command, SaveMachine)
    profile = command.profile
    assert profile.span_mm == 640.5
    assert profile.gantry_axis is Axis.Y
    assert profile.held is HowHeld.BELT_CLAMPS
    assert profile.controller_skew_set
    assert profile.front_words == "N"
    assert profile.movable == (Side.NEAR,)
