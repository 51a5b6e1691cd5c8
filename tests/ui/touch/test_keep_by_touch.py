"""A card dies: the bench is saved, and taken back on a new card, by touches alone; the fault report as well.

The real bench, archive, download thread and files; a folder stands for the mounted stick. House scenario, SIMULATED.
"""

from __future__ import annotations

from pathlib import Path

from tests.ui.bench.test_keeping import bench_with_stick, measured
from tests.ui.offscreen import Offscreen
from tests.ui.touching import tap_text
from ui.state.stick import DownloadState


def test_saved_on_one_card_and_taken_back_on_another(tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    with bench_with_stick(tmp_path / "old card", stick) as (bench, _until), Offscreen(bench.bench) as screen:
        measured(bench)
        screen.go("menu")
        tap_text(screen, "Save and restore")
        tap_text(screen, "Save the whole bench")
        screen.frames_until(lambda: screen.app.snapshot.keep.state is DownloadState.SAFE)
        screen.frames()
        assert str(screen.app.root.screen.page.word) == "SAFE TO REMOVE"
        tap_text(screen, "Write a fault report")
        assert "no readings" in str(screen.app.root.screen.page.text)
        tap_text(screen, "Without readings")
        screen.frames_until(lambda: "The fault report is on the stick" in str(screen.app.snapshot.keep.text))
        screen.frames()
        assert len(list(stick.glob("*/fault-report-*"))) == 1
    with bench_with_stick(tmp_path / "new card", stick) as (bench, _until), Offscreen(bench.bench) as screen:
        screen.go("keep")
        tap_text(screen, "Take a saved bench back")
        screen.frames_until(lambda: screen.app.snapshot.keep.found is not None)
        screen.frames()
        assert "with 1 coupon." in str(screen.app.root.screen.page.text)
        tap_text(screen, "Leave it")
        screen.frames_until(lambda: screen.app.snapshot.keep.found is None)
        screen.frames()
        tap_text(screen, "Take a saved bench back")
        screen.frames_until(lambda: screen.app.snapshot.keep.found is not None)
        screen.frames()
        tap_text(screen, "Take it back")
        screen.frames_until(lambda: screen.app.snapshot.keep.starts_anew)
        screen.frames()
    assert (tmp_path / "new card" / "fetched-bench" / "archive.sqlite").exists()
