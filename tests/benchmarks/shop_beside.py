"""What sending costs whoever measures: time of one committed event, with the sending service at work and held still.

    python -m tests.benchmarks.shop_beside [events]

Bench and service are two processes on one archive, as installed, with a real server; the service, which sends all it
has over and over, is held between its rounds and let go in turn every fifty events: both see the same machine.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime
from pathlib import Path

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
print("going", flush=True)
while True:
    while (folder / "hold").exists():
        time.sleep(0.005)
    one_round(folder, folder / "archive.sqlite", lambda: datetime.now(UTC), simulated=True)
    with closing(Archive.open(folder / "archive.sqlite", lambda: datetime.now(UTC))) as archive:
        archive.shop.mark([Mark(kind=LogKind.SESSION, log=one.id, entries=0) for one in archive.sessions()])
"""
_TURN = 50


def main() -> int:
    """Print both."""
    events = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    server = RealServer()
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
    for name, seconds in taken.items():
        ordered = sorted(1000.0 * one for one in seconds)
        worst = ordered[len(ordered) * 99 // 100]
        print(f"{name}: median {statistics.median(ordered):.2f} ms, 99th percentile {worst:.2f} ms")
    return 0


def beside(bench: Bench, events: int) -> dict[str, list[float]]:
    """Seconds of each committed event, by whether the service was at work."""
    command = [sys.executable, "-c", _SENDER, str(bench.folder)]
    sender = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": "."})
    assert sender.stdout is not None
    sender.stdout.readline()
    session, hold = bench.archive.sessions()[0].id, bench.folder / "hold"
    taken: dict[str, list[float]] = {"service held": [], "service sending": []}
    try:
        for number in range(events):
            sending = number // _TURN % 2 == 1
            if number % _TURN == 0:
                hold.unlink(missing_ok=True) if sending else hold.touch()
            begun = time.perf_counter()
            bench.archive.append(session, Note(text=f"note {number}"))
            taken["service sending" if sending else "service held"].append(time.perf_counter() - begun)
            time.sleep(0.01)
        assert sender.poll() is None, "the service ended"
    finally:
        sender.kill()
        sender.wait()
    return taken


if __name__ == "__main__":
    raise SystemExit(main())
