"""An archive of ten years: what a bench asks of it, and how each question's time grows with what nobody looks at.

    python -m tests.benchmarks.ten_years [SESSIONS ...]     10,000 and 100,000 where nothing is said

Every session has ten readings: 100,000 sessions are a million. Two thousand are of one machine, whatever the whole:
what a question shows stays the same, so its time should. Written by the archive's own functions, many sessions to a
transaction: a million synced commits would take hours. `bare` is SQLite alone handing over the newest thousand rows of
that machine. The whole archive saved to a folder is the one thing that shows all, and may grow with it.
"""

import gc
import sqlite3
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES
from core.machine.profile import MachineProfile
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Quantity, Reading, Unit
from core.metrology.tolerances import Limits
from core.records import events_json
from core.records.archive import Archive
from core.records.archive_file import connect
from core.records.chain import FIRST, Head, next_link
from core.records.chained_tables import EVENTS, put_head
from core.records.events import Closed, Event, GaugeChecked, MarkConfirmed, Opened, Payload, ReadingAccepted
from core.records.grid import grid_state
from core.records.history import history_of
from core.records.saved_bench import save_bench
from core.records.session_tables import SessionFilter, index_event, time_text

SIZES = (10_000, 100_000)
OURS = "house router"
OUR_SESSIONS, OTHER_MACHINES = 2_000, 19
GRID, PLACES = "grid 1", ("A1", "B1", "C1", "A2", "B2", "C2", "A3", "B3", "C3")
BEGIN = datetime(2018, 1, 1, tzinfo=UTC)
CHECK_EVERY = 50
ROUNDS = 5
_INSERT = (
    "INSERT INTO event (session_id, sequence, time_utc, kind, version, payload, chain) VALUES (?, ?, ?, ?, ?, ?, ?)"
)


def now() -> datetime:
    """Ten years later."""
    return BEGIN + timedelta(days=3653)


def payloads_of(number: int, machine: str, grid: str, place: str) -> list[Payload]:
    """A coupon measured by ten readings, its gauge checked now and then; what the grid needs is read twice."""
    coupon = Coupon(width_mm=120.0, height_mm=80.0)
    limits = Limits(source="own limits", perpendicularity_mm=0.4)
    opened = Opened(
        coupon=coupon, limits=limits, setup=MeasuringSetup(), machine=machine, grid=grid, place=place, simulated=True
    )
    features = (*TEN_FEATURES, *TEN_FEATURES[4:6]) if grid else TEN_FEATURES
    readings = [
        ReadingAccepted(
            reading=Reading(feature=one, value=coupon.nominal(one), unit=Unit.MM if one.is_length else Unit.DEG)
        )
        for one in features
    ]
    check = GaugeChecked(
        instrument="caliper", quantity=Quantity.LENGTH, zero=0.0, zero_sd=0.01, reference="closed jaws"
    )
    skew = 0.05 + 0.0001 * (number % 97)
    verdict = "no-go" if number % 7 == 0 else "go"
    closed = Closed(verdict=verdict, size_verdict="go", skew_deg=skew, skew_u95_deg=0.06, software="0.1.0")
    return [opened, MarkConfirmed(), *([] if number % CHECK_EVERY else [check]), *readings, closed]


class Writer:
    """Adds sessions to an archive; payloads that say the same are encoded once."""

    def __init__(self, path: Path) -> None:
        self._connection = connect(path)
        self._encoded: dict[Payload, events_json.EncodedPayload] = {}

    def add(self, number: int, machine: str, grid: str = "", place: str = "") -> None:
        """One whole session."""
        name = f"s{number:07d}"
        opened_utc = BEGIN + number * (now() - BEGIN) / 200_000
        link = FIRST
        rows = []
        for sequence, payload in enumerate(payloads_of(number, machine, grid, place), start=1):
            if payload not in self._encoded:
                self._encoded[payload] = events_json.encode(payload)
            encoded = self._encoded[payload]
            fields = (sequence, time_text(opened_utc), encoded.kind, encoded.version, encoded.text)
            link = next_link(link, fields)
            index_event(self._connection, name, Event(sequence=sequence, time_utc=opened_utc, payload=payload))
            rows.append((name, *fields, link))
        self._connection.executemany(_INSERT, rows)
        put_head(self._connection, EVENTS, name, Head(entries=len(rows), chain=link))

    def add_all(self, sessions: Iterable[tuple[int, str, str, str]]) -> None:
        """Sessions as (number, machine, grid, place), in one transaction."""
        self._connection.execute("BEGIN IMMEDIATE")
        for session in sessions:
            self.add(*session)
        self._connection.execute("COMMIT")
        self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        """Free the file."""
        self._connection.close()


def sessions_of_a_shop(first: int, until: int) -> Iterator[tuple[int, str, str, str]]:
    """Sessions of these numbers, those of the machine in question spread over the first ten thousand."""
    for number in range(first, until):
        cell = number // 5
        if number % 5 or cell >= OUR_SESSIONS:
            yield number, f"machine {number % OTHER_MACHINES}", "", ""
        elif cell < OUR_SESSIONS - len(PLACES):
            yield number, OURS, "", ""
        else:
            yield number, OURS, GRID, PLACES[OUR_SESSIONS - 1 - cell]


def least_ms(deed: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Processor time of the quickest of some rounds."""
    times = []
    for _ in range(rounds):
        gc.collect()
        begun_s = time.process_time()
        deed()
        times.append(1000.0 * (time.process_time() - begun_s))
    return min(times)


def bare(path: Path) -> list[tuple[object, ...]]:
    """SQLite alone."""
    connection = sqlite3.connect(path)
    try:
        statement = "SELECT * FROM session WHERE machine = ? ORDER BY ordinal DESC LIMIT 1000"
        return connection.execute(statement, (OURS,)).fetchall()
    finally:
        connection.close()


def measured(path: Path) -> dict[str, float]:
    """Each question's time, ms."""
    found = {"bare: newest 1,000 rows": least_ms(lambda: bare(path))}
    found["start: open the archive"] = least_ms(lambda: Archive.open(path, now).close())
    archive = Archive.open(path, now)
    no_go = SessionFilter(verdict="no-go", since_utc=BEGIN)
    corrected = SessionFilter(corrected=True)
    questions: dict[str, Callable[[], object]] = {
        "start: what goes on": archive.unfinished,
        "start: machines": archive.machines,
        "start: last coupon": archive.last_closed,
        "start: instruments": lambda: archive.instrument_book(simulated=True, on_bench=False),
        "begin: how the last was opened": lambda: archive.last_opened(OURS),
        "begin: of a new machine": lambda: archive.last_opened("a new one"),
        "begin: what is carried on": lambda: archive.carried_on(operator="", simulated=True),
        "list: newest 200 of all": lambda: archive.sessions(limit=200),
        "chart of one machine": lambda: history_of(archive, OURS),
        "filter: no-go since": lambda: history_of(archive, OURS, no_go),
        "filter: corrected": lambda: history_of(archive, OURS, corrected),
        "bed picture": lambda: grid_state(archive, OURS),
        "one coupon's events": lambda: archive.events("s0000005"),
        "closed before": lambda: archive.closed_before("s0009990"),
    }
    found |= {words: least_ms(deed) for words, deed in questions.items()}
    archive.close()
    with TemporaryDirectory(dir=path.parent) as folder:
        found["download of all"] = least_ms(lambda: save_bench(path.parent, Path(folder), now()), 1)
    return found


def main(sizes: tuple[int, ...]) -> None:
    """Make, measure, print."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "archive.sqlite"
        archive = Archive.open(path, now)
        archive.save_machine(MachineProfile(name=OURS, span_mm=600.0))
        archive.close()
        columns, done = [], 0
        for size in sizes:
            writer = Writer(path)
            writer.add_all(sessions_of_a_shop(done, size))
            writer.close()
            done = size
            columns.append(measured(path))
            print(f"{size} sessions, {10 * size} readings: {path.stat().st_size / 1e6:.0f} MB", flush=True)
    heads = "".join(f"{size:>12}" for size in sizes)
    print(f"{'processor time, ms':32}{heads}{'growth':>10}{'to bare':>10}")
    for words, first in columns[0].items():
        last = columns[-1][words]
        cells = "".join(f"{column[words]:12.2f}" for column in columns)
        print(f"{words:32}{cells}{last / first:10.2f}{last / columns[-1]['bare: newest 1,000 rows']:10.2f}")


if __name__ == "__main__":
    main(tuple(int(word) for word in sys.argv[1:]) or SIZES)
