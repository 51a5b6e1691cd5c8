"""A shop's faults with a real server, many times, counted: nothing lost, nothing twice, in any of them.

    python -m tests.endurance.shop_faults [--times 200] [--kills 20]

Durable as it is installed (fsync on). The suite holds a small seeded version (tests/ui/shop/test_faults.py).
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
from collections import Counter
from contextlib import suppress
from dataclasses import replace
from datetime import date
from pathlib import Path

from core.errors import NotAvailableError
from core.records.archive import Archive
from core.records.outbox import LogKind
from tests.ui.shop.cut_line import CutLine
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import Bench
from ui.shop.access import AccessFile, ShopAccess
from ui.shop.keeping import set_up

_COUNT = (
    "SELECT (SELECT count(*) FROM cornerwise.session_event), (SELECT count(*) FROM cornerwise.machine_event), "
    "(SELECT count(*) FROM (SELECT FROM cornerwise.session_event GROUP BY session, sequence HAVING count(*) > 1) AS t)"
)


class Proof:
    """One bench and its shop; after each fault the shop must have exactly what the bench has."""

    def __init__(self, server: RealServer, keeper: ShopAccess, folder: Path, seed: int) -> None:
        self._server, self._keeper = server, keeper
        self._chance = random.Random(seed)
        self.line = CutLine(server.port)
        self.bench = Bench(folder / "bench", keeper, "bench")
        self.bench.join()
        AccessFile(self.bench.folder).save(replace(self.bench.access, port=self.line.port))
        self.counts: Counter[str] = Counter()

    def measure(self) -> None:
        """Some coupons, and something done to the machine."""
        for _ in range(self._chance.randrange(1, 4)):
            self.bench.measure(self._chance.gauss(0.0, 0.2))
        if self._chance.random() < 0.5:
            self.bench.upset()

    def cut(self) -> None:
        """The line breaks after a random number of bytes."""
        self.measure()
        self.line.cut_after = self._chance.randrange(200, 9_000)
        self._hindered_round("line cut in mid-send")
        self.line.cut_after = None
        self._whole("line cut in mid-send")

    def kill(self) -> None:
        """The server's processes are killed after a random number of bytes."""
        self.measure()
        self.line.cut_after, self.line.at_cut = self._chance.randrange(3_000, 12_000), self._server.kill
        before = self.line.cuts
        self._hindered_round("server killed in mid-send")
        self.line.cut_after, self.line.at_cut = None, lambda: None
        if self.line.cuts > before:
            self._server.start()
        self._whole("server killed in mid-send")

    def forget(self) -> None:
        """Everything that was confirmed is forgotten here, as by a card that was restored, and sent again."""
        self.measure()
        self.bench.round()
        for one in self.bench.archive.sessions():
            self.bench.archive.shop.confirm(LogKind.SESSION, one.id, 0)
        self.counts["duplicate sends"] += len(self.bench.archive.sessions())
        self._whole("everything sent twice")

    def old_card(self, folder: Path) -> None:
        """The card is put back to what it was, and the bench goes on: its chains fork."""
        self.bench.round()
        kept = folder / "kept.sqlite"
        path = self.bench.folder / "archive.sqlite"
        self.bench.archive.close()
        shutil.copyfile(path, kept)
        self.bench.archive = self._open()
        self.measure()
        self.bench.upset()
        self.bench.round()
        before = self._stored()
        self.bench.archive.close()
        for file in self.bench.folder.glob("archive.sqlite*"):
            file.unlink()
        shutil.copyfile(kept, path)
        self.bench.archive = self._open()
        self.bench.upset()
        done = self.bench.round()
        assert len(done.refused) == 1, done.refused
        assert self._stored() == before
        self.counts["old card: fork said, nothing overwritten"] += 1

    def _open(self) -> Archive:
        return Archive.open(self.bench.folder / "archive.sqlite", lambda: self.bench.time)

    def _hindered_round(self, fault: str) -> None:
        try:
            self.bench.round()
        except NotAvailableError:
            self.counts[f"{fault}: rounds that broke"] += 1

    def _whole(self, fault: str) -> None:
        for _ in range(100):
            with suppress(NotAvailableError):
                self.bench.round()
                break
        archive = self.bench.archive
        events = sum(len(archive.events(one.id)) for one in archive.sessions())
        lines = sum(len(archive.machine_events(name)) for name in archive.shop.machine_names())
        assert self._stored() == f"{events}|{lines}|0", (fault, self._stored(), events, lines)
        assert archive.shop.refused() == ()
        self.counts[f"{fault}: whole and once"] += 1

    def _stored(self) -> str:
        return self._server.as_owner(self._keeper.database, _COUNT)


def main() -> int:
    """Run all of them and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    server = RealServer()
    try:
        with tempfile.TemporaryDirectory() as folder:
            keeper = server.shop()
            set_up(keeper, date(2026, 3, 1))
            proof = Proof(server, keeper, Path(folder), args.seed)
            for _ in range(args.times):
                proof.cut()
            for _ in range(args.kills):
                proof.kill()
            for _ in range(5):
                proof.forget()
            proof.old_card(Path(folder))
            proof.line.close()
        for fault, count in sorted(proof.counts.items()):
            print(f"{count:6d}  {fault}")
        print("nothing was lost, nothing was there twice")
    finally:
        server.remove()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
