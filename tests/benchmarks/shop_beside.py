"""What sending costs whoever measures: time of one committed event, with the sending service at work and held still.

    python -m tests.benchmarks.shop_beside [events]

Bench and service are two processes on one archive, as installed, with a real server; the service, of the priority that
its unit gives it, sends all it has over and over, and is held between its rounds and let go in turn every fifty events:
both see the same machine. The server is another machine in a shop, so it has a processor of its own here, and the bench
shares what is left with the service. Where the time goes stands beside it, which holds on a busy machine too: waiting
for the archive's lock (times, of so many events), for a processor, and for the disk (the commit itself).
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path

from msgspec import Struct

from core.records.events import Note
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import Bench
from ui.shop.keeping import set_up

_SENDER = """
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from contextlib import closing
from core.records.archive import Archive
from core.records.outbox import LogKind
from core.records.shop_records import Mark
from ui.shop.service import one_round
folder = Path(sys.argv[1])
while True:
    while (folder / "hold").exists():
        (folder / "held").touch()
        time.sleep(0.005)
    (folder / "held").unlink(missing_ok=True)
    one_round(folder, folder / "archive.sqlite", lambda: datetime.now(UTC), simulated=True)
    with closing(Archive.open(folder / "archive.sqlite", lambda: datetime.now(UTC))) as archive:
        archive.shop.mark([Mark(kind=LogKind.SESSION, log=one.id, entries=0) for one in archive.sessions()])
"""
_UNIT = Path("hardware/systemd/cornerwise-shop.service")
_TURN = 50
# SQLite looks for the lock again after a millisecond at the soonest.
_WAITED_MS = 1.0


class Taken(Struct, frozen=True, kw_only=True):
    """What one event took, in milliseconds: all of it, until the archive's lock was there, in the commit, and of all of
    it ready to run without a processor."""

    all_ms: float
    lock_ms: float
    commit_ms: float
    ready_ms: float


def main() -> int:
    """Print both."""
    events = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    *bench_processors, server_processor = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, {server_processor})  # what is started runs where its starter does
    server = RealServer()
    os.sched_setaffinity(0, bench_processors or {server_processor})
    try:
        with tempfile.TemporaryDirectory() as folder:
            keeper = server.shop()
            set_up(keeper, date(2026, 3, 1))
            bench = Bench(Path(folder), keeper, "bench")
            bench.join()
            for _ in range(20):
                bench.measure()
            bench.time = datetime.now(UTC)
            taken = beside(bench, events)
    finally:
        server.remove()
    for name, found in taken.items():
        waited = sum(one.lock_ms >= _WAITED_MS for one in found)
        print(f"{name}: {words([one.all_ms for one in found])}; waited for the lock {waited} of {len(found)}")
        print(f"    commit {words([one.commit_ms for one in found])}")
        print(f"    no processor free {words([one.ready_ms for one in found])}")
    return 0


def words(values_ms: list[float]) -> str:
    """Median and 99th percentile."""
    worst_ms = sorted(values_ms)[len(values_ms) * 99 // 100]
    return f"median {statistics.median(values_ms):.2f} ms, 99th percentile {worst_ms:.2f} ms"


def beside(bench: Bench, events: int) -> dict[str, list[Taken]]:
    """What each committed event took, by whether the service was at work."""
    session, hold = bench.archive.sessions()[0].id, bench.folder / "hold"
    taken: dict[str, list[Taken]] = {"service held": [], "service sending": []}
    with sender(bench.folder) as service:
        for number in range(events):
            sending = number // _TURN % 2 == 1
            if number % _TURN == 0:
                hold.unlink(missing_ok=True) if sending else hold.touch()
                while (bench.folder / "held").exists() is sending and service.poll() is None:
                    time.sleep(0.005)
            taken["service sending" if sending else "service held"].append(one_event(bench, session, number))
            time.sleep(0.01)
        assert service.poll() is None, "the service ended"
    return taken


def one_event(bench: Bench, session: str, number: int) -> Taken:
    """Commit one, and look where its time went."""
    begun: list[tuple[str, float]] = []
    bench.archive._connection.set_trace_callback(lambda statement: begun.append((statement, time.perf_counter())))
    ready_ns, start = ready_since_ns(), time.perf_counter()
    bench.archive.append(session, Note(text=f"note {number}"))
    end, ready_ns = time.perf_counter(), ready_since_ns() - ready_ns
    bench.archive._connection.set_trace_callback(None)
    statements, times = [statement for statement, _when in begun], [*(when for _statement, when in begun), end]

    def took_ms(statement: str) -> float:
        place = statements.index(statement)
        return 1000.0 * (times[place + 1] - times[place])

    return Taken(
        all_ms=1000.0 * (end - start),
        lock_ms=took_ms("BEGIN IMMEDIATE"),
        commit_ms=took_ms("COMMIT"),
        ready_ms=ready_ns / 1e6,
    )


def ready_since_ns() -> int:
    """How long this process was ready to run and had no processor (Linux's own count)."""
    return int(Path("/proc/self/schedstat").read_text().split()[1])


@contextmanager
def sender(folder: Path) -> Iterator[subprocess.Popen[bytes]]:
    """The service, as its unit starts it."""
    given = dict(line.split("=", 1) for line in _UNIT.read_text().splitlines() if "=" in line)
    assert given["CPUSchedulingPolicy"] == "idle", "started otherwise here than there"
    command = ["chrt", "--idle", "0", "nice", "-n", given["Nice"], sys.executable, "-c", _SENDER, str(folder)]
    service = subprocess.Popen(command, env={**os.environ, "PYTHONPATH": "."})
    try:
        yield service
    finally:
        service.kill()
        service.wait()


if __name__ == "__main__":
    raise SystemExit(main())
