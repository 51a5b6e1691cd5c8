"""A card dies: the bench is saved, and taken back on a new card, by touches alone; the fault report as well; and a
stick that is pulled out in the midst of either.

The real bench, archive, download thread and files; a folder stands for the mounted stick. House scenario, SIMULATED.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from core.records.checksums import verify_folder
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


class Pull:
    """Pulls the stick when so many files on it are to be brought onto the disk: it is gone from where it was mounted,
    and whoever waits gets EIO, as from the kernel. What was on it by then, it keeps."""

    def __init__(self, stick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.stick, self.left = stick, 0
        self._in_hand = stick.with_name("in hand")
        self._fsync = os.fsync
        monkeypatch.setattr(os, "fsync", self._syncing)

    def _syncing(self, handle: int) -> None:
        if self.left and Path(f"/proc/self/fd/{handle}").readlink().is_relative_to(self.stick):
            self.left -= 1
            if not self.left:
                self.stick.rename(self._in_hand)
                raise OSError(errno.EIO, os.strerror(errno.EIO))
        self._fsync(handle)

    def plug_again(self) -> None:
        self._in_hand.rename(self.stick)


@pytest.mark.parametrize("nth", [1, 3])
@pytest.mark.parametrize(
    ("touches", "done"),
    [
        (("Save the whole bench",), "The whole bench is on the stick"),
        (("Write a fault report", "With the newest coupon"), "The fault report is on the stick"),
    ],
    ids=["save", "report"],
)
def test_pulled_out_in_the_midst_it_is_said_and_the_next_try_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, touches: tuple[str, ...], done: str, nth: int
) -> None:
    stick = tmp_path / "stick"
    pull = Pull(stick, monkeypatch)
    with bench_with_stick(tmp_path / "card", stick) as (bench, _until), Offscreen(bench.bench) as screen:
        measured(bench)
        screen.go("keep")
        pull.left = nth
        for words in touches:
            tap_text(screen, words)
        screen.frames_until(lambda: screen.app.snapshot.keep.state is DownloadState.FAILED)
        page = screen.app.root.screen.page
        assert "plain stick was pulled out before it was finished" in str(page.text)
        assert "safe" not in f"{page.word} {page.text}".lower()
        assert not stick.exists()
        pull.plug_again()
        assert list(stick.rglob("*-partial-*")), "nothing was being written"
        for words in touches:
            tap_text(screen, words)
        screen.frames_until(lambda: screen.app.snapshot.keep.state is DownloadState.SAFE)
        assert done in str(screen.app.root.screen.page.text)
    written = [one.parent for one in stick.rglob("SHA256SUMS")]
    assert len(written) == len(touches)  # the report, and the newest coupon beside it
    for folder in written:
        verify_folder(folder)
    assert not list(stick.rglob("*-partial-*"))
