"""A shop's faults with a real server, many times, counted: nothing lost, nothing twice, in any of them.

    python -m tests.endurance.shop_faults [--times 150] [--kills 15]

Durable as it is installed (fsync on). After each fault the shop must have exactly what the bench has. The suite holds a
small seeded version (tests/ui/shop/test_faults.py, test_hostile.py).
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import tempfile
import threading
from collections import Counter
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from msgspec.structs import replace

from core.errors import NotAvailableError
from core.records.archive import Archive
from core.records.events import Note
from core.records.history import history_of
from core.records.outbox import LogKind
from core.records.shop_records import Mark
from core.records.shop_state import shop_state
from tests.ui.shop.cut_line import CutLine
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import MACHINE, Bench
from ui.shop.access import AccessFile, ShopAccess
from ui.shop.keeping import admit, set_up
from ui.shop.server import connection_options
from ui.shop.service import SendingService, one_round

_COUNT = (
    "SELECT (SELECT count(*) FROM cornerwise.session_event), (SELECT count(*) FROM cornerwise.machine_event), "
    "(SELECT count(*) FROM (SELECT FROM cornerwise.session_event GROUP BY session, sequence HAVING count(*) > 1) AS t)"
)
_ROW = "INSERT INTO cornerwise.session_event VALUES (%s, %s, %s, %s, %s, %s, %s, %s)"
DAY_S = 86_400.0


class Proof:
    """One bench and its shop, which nobody else sends to."""

    def __init__(self, server: RealServer, keeper: ShopAccess, folder: Path, seed: int) -> None:
        self._server, self._keeper = server, keeper
        self._chance = random.Random(seed)
        self.line = CutLine(server.port)
        self.bench = Bench(folder / "bench", keeper, "bench")
        self.bench.join()
        self._usual = replace(self.bench.access, port=self.line.port)
        AccessFile(self.bench.folder).save(self._usual)
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

    def day_without_network(self) -> None:
        """A day of the service's own pauses against a port where nobody listens, coupons in between; said once."""
        self._through(replace(self._usual, port=1))
        told: list[object] = []
        passed_s = 0.0

        def wait(seconds: float) -> bool:
            nonlocal passed_s
            passed_s += seconds
            self.bench.pass_time(timedelta(seconds=seconds))
            if self._chance.random() < 0.1:
                self.measure()
            return passed_s < DAY_S

        archive = self.bench.folder / "archive.sqlite"
        rounds = 0

        def one() -> Any:
            nonlocal rounds
            rounds += 1
            return one_round(self.bench.folder, archive, lambda: self.bench.time, simulated=True)

        SendingService(one, lambda: rounds, wait, told.append).run()
        assert len(told) == 1, told
        assert shop_state(self.bench.archive.shop).hindrance
        self.counts["network cut for a day: rounds that broke, said once"] += rounds
        self._through(self._usual)
        self._whole("network cut for a day")

    def forget(self) -> None:
        """Everything that was confirmed is forgotten here, as by a card that was restored, and sent again."""
        self.measure()
        self.bench.round()
        sessions = self.bench.archive.sessions()
        self.bench.archive.shop.mark([Mark(kind=LogKind.SESSION, log=one.id, entries=0) for one in sessions])
        self.counts["duplicate sends"] += len(sessions)
        self._whole("duplicate sends")

    def hang(self) -> None:
        """The server stands still in mid-send: whoever measures commits on."""
        self.measure()
        session = self.bench.archive.sessions()[0].id
        number = 0
        archive = self.bench.folder / "archive.sqlite"
        self.bench.pass_time(timedelta(hours=1))

        def send() -> None:
            with suppress(NotAvailableError):
                one_round(self.bench.folder, archive, lambda: self.bench.time, simulated=True)

        stands, goes_on = threading.Event(), threading.Event()

        def stand() -> None:
            stands.set()
            goes_on.wait()

        self.line.cut_after, self.line.at_cut = 6_000, stand
        sending = threading.Thread(target=send)
        sending.start()
        while sending.is_alive() and not stands.wait(0.05):
            pass
        if stands.is_set():
            for number in range(1, 21):
                self.bench.archive.append(session, Note(text=f"note {number}"))
            assert sending.is_alive(), "the round ended while the server stood still"
            self.counts["server stands still: events committed meanwhile"] += number
        goes_on.set()
        sending.join()
        self.line.cut_after, self.line.at_cut = None, lambda: None
        self._whole("server stands still")

    def wrong_certificate(self, other: str) -> None:
        """A server that another authority vouches for, the wrong name, none: nothing is told."""
        self.measure()
        before = self._stored()
        for access in (
            replace(self._usual, certificate=other),
            replace(self._usual, certificate=""),
            replace(self._usual, host="127.0.0.1"),
        ):
            self._through(access)
            self._refused_round("does not prove that it is the shop's", "wrong certificate: refused by the bench")
        assert self._stored() == before
        self._through(self._usual)
        self._whole("wrong certificate")

    def changed_password(self) -> None:
        """The keeper gives the role another one: said, and what waits goes with the new one."""
        self.measure()
        changed = admit(self._keeper, self.bench.access.role)
        self._refused_round("does not let this bench in", "password changed: said by the bench")
        self._usual = replace(self._usual, password=changed.password)
        self._through(self._usual)
        self._whole("password changed")

    def wrong_clock(self) -> None:
        """A clock in the future, none at all, one put back: all of it goes, in order."""
        right = self.bench.time
        for wrong in (datetime(2099, 1, 1, tzinfo=UTC), None, datetime(2001, 1, 1, tzinfo=UTC)):
            self.bench.time = wrong
            self.measure()
            self.counts["wrong clock: sets of coupons"] += 1
        self.bench.time = right
        self._whole("wrong clock")

    def hostile(self, other: Bench) -> None:
        """Another bench's role, used by hand: rows that do not verify, are another's, change or delete."""
        session = other.measure()
        entries = other.archive.shop.parcel(LogKind.SESSION, session, names=False).entries
        me, theirs = other.archive.shop.bench_id(), self.bench.archive.sessions()[-1].id
        before = self._stored()
        with psycopg.connect(**connection_options(other.access, str(self._server.authority)), autocommit=True) as hand:
            for _ in range(20):
                entry = entries[self._chance.randrange(len(entries))]
                row = [
                    session,
                    entry.sequence,
                    me,
                    entry.time_utc,
                    entry.kind,
                    entry.version,
                    entry.payload,
                    entry.chain,
                ]
                row[self._chance.choice((1, 4, 5, 6, 7))] = self._chance.choice((7, "note", "{}", "0" * 32, None))
                deeds: list[tuple[str, list[Any]]] = [
                    (_ROW, [theirs, *row[1:]]),
                    (_ROW, [row[0], row[1], self.bench.archive.shop.bench_id(), *row[3:]]),
                    ("UPDATE cornerwise.session_event SET payload = '{}'", []),
                    ("DELETE FROM cornerwise.session", []),
                ]
                if entry.sequence != 1 or row[1] != 1:
                    deeds.append((_ROW, row))
                for statement, values in deeds:
                    self._rejected(hand, statement, values)
        assert self._stored() == before
        self.counts["hostile bench: nothing of it was stored"] += 1

    def old_card(self, folder: Path) -> None:
        """The card is put back to what it was, and the bench goes on: its chains fork."""
        self.bench.round()
        kept, path = folder / "kept.sqlite", self.bench.folder / "archive.sqlite"
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
        self.counts["restored from an old card: fork said, nothing overwritten"] += 1

    def _open(self) -> Archive:
        return Archive.open(self.bench.folder / "archive.sqlite", lambda: self.bench.time)

    def _through(self, access: ShopAccess) -> None:
        AccessFile(self.bench.folder).save(access)

    def _rejected(self, hand: psycopg.Connection[Any], statement: str, values: list[Any]) -> None:
        try:
            hand.execute(statement.encode(), values)
        except psycopg.Error as error:
            self.counts[f"hostile bench: refused ({error.sqlstate})"] += 1
        else:
            raise AssertionError((statement, values))

    def _refused_round(self, why: str, what: str) -> None:
        with pytest.raises(NotAvailableError, match=why):
            self.bench.round()
        self.counts[what] += 1

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
        own = [one.id for one in archive.sessions() if archive.shop.is_own(one.id)]
        events = sum(len(archive.events(one)) for one in own)
        lines = sum(len(archive.machine_log(name)) for name in archive.shop.machine_names())
        assert self._stored() == f"{events}|{lines}|0", (fault, self._stored(), events, lines)
        assert archive.shop.refused() == ()
        self.counts[f"{fault}: whole and once"] += 1

    def _stored(self) -> str:
        return self._server.as_owner(self._keeper.database, _COUNT)


def two_benches(keeper: ShopAccess, folder: Path, chance: random.Random) -> int:
    """Two benches measure one machine and send in any order: both have one history, each coupon once; how many."""
    benches = [Bench(folder / name, keeper, name) for name in ("by the door", "in the hall")]
    benches[0].join()
    benches[0].measure()
    benches[0].round()
    benches[1].measure()
    benches[1].join(same={MACHINE: benches[0].archive.shop.machines()[0].id})
    coupons = 2
    for _ in range(40):
        bench = chance.choice(benches)
        if chance.random() < 0.5:
            bench.measure(chance.gauss(0.0, 0.2))
            coupons += 1
        bench.round()
    for bench in (*benches, *benches):
        bench.round()
    seen = [[one.id for one in history_of(bench.archive, MACHINE).sessions] for bench in benches]
    assert all(len(ids) == len(set(ids)) == coupons for ids in seen), (coupons, [len(ids) for ids in seen])
    assert set(seen[0]) == set(seen[1])
    for bench in benches:
        bench.archive.close()
    return coupons


def full_disk(folder: Path) -> int:
    """A server on a file system of 96 MB that is filled while a bench sends, and emptied again; events in the end."""
    small = Path(tempfile.mkdtemp(prefix="small-", dir="/tmp"))
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=96m,mode=755", "tmpfs", str(small)], check=True)
    server = RealServer("wal_recycle = off", "max_wal_size = 32MB", "min_wal_size = 32MB", place=small)
    try:
        keeper = server.shop()
        set_up(keeper, date(2026, 3, 1))
        bench = Bench(folder, keeper, "bench")
        with closing(bench.archive):
            bench.join()
            session = bench.measure()
            filler = server.folder / "filler"
            with suppress(OSError), filler.open("wb", buffering=0) as file:
                while True:
                    file.write(b"0" * 4096)
            hindered = False
            for number in range(400):
                bench.archive.append(session, Note(text=f"{number} " + "long " * 600))
                try:
                    bench.round(after=timedelta(minutes=6))
                except NotAvailableError:
                    hindered = True
                    break
            assert hindered, "the disk never was full"
            filler.unlink()
            server.stop()
            server.start()
            bench.round()
            events = len(bench.archive.events(session))
            assert server.as_owner(keeper.database, _COUNT) == f"{events}|0|0"
            return events
    finally:
        server.remove()
        subprocess.run(["umount", "-l", str(small)], check=True)
        small.rmdir()


def other_authority(folder: Path) -> str:
    """The certificate of an authority that has nothing to do with the server."""
    key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", "key"]
    subprocess.run(
        ["openssl", "req", "-x509", *key, "-out", "other.crt", "-subj", "/CN=another authority", "-days", "2"],
        cwd=folder, check=True, capture_output=True,
    )  # fmt: skip
    return (folder / "other.crt").read_text()


def proven(server: RealServer, args: argparse.Namespace, folder: Path) -> Counter[str]:
    """All faults, one after the other."""
    keeper = server.shop()
    set_up(keeper, date(2026, 3, 1))
    proof = Proof(server, keeper, folder, args.seed)
    other = Bench(folder / "hostile", keeper, "hostile")
    other.join()
    few = max(1, args.times // 15)
    authority = other_authority(folder)
    faults: tuple[tuple[Callable[[], None], int], ...] = (
        (proof.cut, args.times),
        (proof.kill, args.kills),
        (proof.day_without_network, max(1, few // 5)),
        (proof.hang, few),
        (proof.forget, max(1, few // 2)),
        (lambda: proof.wrong_certificate(authority), few),
        (proof.changed_password, few),
        (proof.wrong_clock, few),
        (lambda: proof.hostile(other), few),
    )
    for fault, times in faults:
        for _ in range(times):
            fault()
    proof.old_card(folder)
    proof.line.close()
    chance = random.Random(args.seed)
    for number in range(max(1, few // 2)):
        shared = server.shop(keeper) if number else keeper
        proof.counts["two benches, one machine: coupons in one history at both"] += two_benches(
            shared, folder / f"two-{number}", chance
        )
    for number in range(3):
        events = full_disk(folder / f"full-{number}")
        proof.counts["server's disk full: events there in the end, once"] += events
    return proof.counts


def main() -> int:
    """Run all of them and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=150)
    parser.add_argument("--kills", type=int, default=15)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    server = RealServer()
    try:
        with tempfile.TemporaryDirectory() as folder:
            for fault, count in sorted(proven(server, args, Path(folder)).items()):
                print(f"{count:6d}  {fault}")
        print("nothing was lost, nothing was there twice")
    finally:
        server.remove()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
