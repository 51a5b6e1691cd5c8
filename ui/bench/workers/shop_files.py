"""Joining a shop by a file on the stick, and leaving it, in the download thread: it owns the stick.

Input: what to do. Output: `ShopSlice` reports, posted into the bench's queue. The bench has no network: what is done
here is its own part, the sending service does the rest. A password is read off the stick into a file that nobody else
can read, and goes nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from core.errors import CornerwiseError
from core.records import Archive
from core.said import Part, said
from hardware import FilePlace, find_files, read_file, remove_file
from ui.bench.workers.downloads import Downloads, Post, errand
from ui.bench.workers.work import Work
from ui.state import ShopFile, ShopSlice, ShopStage

if TYPE_CHECKING:
    # Loaded by whoever joins or leaves: most benches belong to no shop.
    from ui.shop import ShopAccess

# What a hand can choose from; a stick of the shop's keeper may carry every bench's.
MOST_FILES = 4


class ShopFiles:
    """Asks the download thread; `place` says which stick, raising NotAvailableError where there is not one. `folder`
    has everything of this bench, `records` opens its archive by a connection of the caller's own."""

    def __init__(
        self, runner: Downloads, place: Callable[[], FilePlace], folder: Path, records: Callable[[], Archive]
    ) -> None:
        self._runner = runner
        self._place = place
        self._folder = folder
        self._records = records

    def look(self) -> None:
        """Look which files admit this bench to a shop."""
        self._ask(self._look, said("looking for a shop's file"))

    def join(self, path: str, *, names: bool, new_bench: bool) -> None:
        """Belong to the shop of this file; with the names of people where they are wanted, as another bench or not."""
        self._ask(lambda: self._join(path, names=names, new_bench=new_bench), said("joining the shop"))

    def wipe(self, path: str) -> None:
        """Take that file off the stick."""
        self._ask(lambda: self._wipe(path), said("wiping the file off the stick"))

    def leave(self) -> None:
        """Be alone again."""
        self._ask(self._leave, said("leaving the shop"))

    def _ask(self, deed: Callable[[], ShopSlice], what: Part) -> None:
        def told(post: Post, work: Work) -> None:
            work.must_end()  # one small file
            post(deed())

        self._runner.run(errand("shop", what, told, partial(ShopSlice, stage=ShopStage.FAILED)))

    def _look(self) -> ShopSlice:
        from ui.shop import ADMITS, joining

        place = self._place()
        found = find_files(place, (ADMITS,)).paths[:MOST_FILES]
        files, damaged = [], None
        for path in found:
            try:
                access = _read(place, path)
            except CornerwiseError as error:
                damaged = error
                continue
            files.append(ShopFile(path=path, shop=access.shop, bench=joining.bench_name("", access)))
        if damaged is not None and not files:
            raise damaged
        return ShopSlice(stage=ShopStage.FOUND, files=tuple(files))

    def _join(self, path: str, *, names: bool, new_bench: bool) -> ShopSlice:
        from ui.shop import joining

        access = _read(self._place(), path)
        join = joining.join_here_anew if new_bench else joining.join_here
        with closing(self._records()) as archive:
            join(archive, access, self._folder, bench=joining.bench_name("", access), names=names)
        return ShopSlice(stage=ShopStage.JOINED, joined_by=path)

    def _wipe(self, path: str) -> ShopSlice:
        remove_file(self._place(), path)
        return ShopSlice(stage=ShopStage.JOINED)

    def _leave(self) -> ShopSlice:
        from ui.shop import joining

        with closing(self._records()) as archive:
            return ShopSlice(stage=ShopStage.IDLE, text=joining.leave(archive, self._folder))


def _read(place: FilePlace, path: str) -> ShopAccess:
    from ui.shop import parse_access

    return parse_access(read_file(place, path).content, path)
