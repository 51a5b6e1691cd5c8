"""How fast an archive of 100,000 sessions opens, lists and gives the points of a chart; prints milliseconds.

    python tests/benchmarks/archive_speed.py

Twenty machines, twelve readings a session. The list is the newest 200 of all; the chart is one machine's, with drift
and forecast, through the same call that the screens use. The limit for list and chart together is 100 ms.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Reading, Unit
from core.metrology.tolerances import Limits
from core.records import events_json
from core.records.archive import Archive
from core.records.events import Closed, Opened, ReadingAccepted
from core.records.history import SHOWN_SESSIONS, history_of
from core.records.session_tables import SessionFilter

SESSIONS = 100_000
MACHINES = 20
BEGIN = datetime(2020, 1, 1, tzinfo=UTC)


def now() -> datetime:
    return BEGIN + timedelta(days=2000)


def fill(path: Path) -> None:
    """Write the rows that Archive would, many to a transaction: 1.3 million synced commits would take hours."""
    Archive.open(path, now).close()
    coupon = Coupon(width_mm=120.0, height_mm=80.0)
    opened = Opened(
        coupon=coupon, limits=Limits(source="own limits", perpendicularity_mm=0.4), setup=MeasuringSetup(), machine="m"
    )
    readings = [
        ReadingAccepted(
            reading=Reading(
                feature=feature, value=coupon.nominal(feature), unit=Unit.MM if feature.is_length else Unit.DEG
            )
        )
        for feature in (*TEN_FEATURES, *TEN_FEATURES[4:6])
    ]
    closed = Closed(verdict="go", size_verdict="go", skew_deg=0.05, skew_u95_deg=0.06, software="0.1.0")
    rows = [(place + 1, events_json.encode(payload)) for place, payload in enumerate([opened, *readings, closed])]
    connection = sqlite3.connect(path)
    with connection:
        for number in range(SESSIONS):
            time_text = (BEGIN + timedelta(minutes=20 * number)).isoformat().replace("+00:00", ".000Z")
            name, machine = f"s{number:06d}", f"machine {number % MACHINES}"
            skew = 0.05 + 0.0001 * (number % 97)
            connection.execute(
                "INSERT INTO session (id, machine, opened_utc, width_mm, height_mm, simulated, closed, verdict, "
                "size_verdict, skew_deg, skew_u95_deg, scale_x, scale_x_u95, scale_y, scale_y_u95) "
                "VALUES (?, ?, ?, 120, 80, 1, 1, 'go', 'go', ?, 0.06, -0.0004, 0.0003, -0.0006, 0.0004)",
                (name, machine, time_text, skew),
            )
            connection.executemany(
                "INSERT INTO event (session_id, sequence, time_utc, kind, version, payload) VALUES (?, ?, ?, ?, ?, ?)",
                [(name, sequence, time_text, row.kind, row.version, row.text) for sequence, row in rows],
            )
    connection.close()


def best_ms(deed: Callable[[], object]) -> float:
    times = []
    for _ in range(5):
        start = time.perf_counter()
        deed()
        times.append(1000.0 * (time.perf_counter() - start))
    return min(times)


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "archive.sqlite"
        fill(path)
        print(f"{SESSIONS} sessions, {path.stat().st_size / 1e6:.0f} MB")
        start = time.perf_counter()
        archive = Archive.open(path, now)
        print(f"open: {1000.0 * (time.perf_counter() - start):.1f} ms")
        listed = best_ms(lambda: archive.sessions(limit=200))
        charted = best_ms(lambda: history_of(archive, "machine 7"))
        only = SessionFilter(verdict="no-go", corrected=True, since_utc=BEGIN)
        filtered = best_ms(lambda: history_of(archive, "machine 7", only))
        print(f"the same, listing by verdict, correction and time: {filtered:.1f} ms")
        print(f"list (newest 200): {listed:.1f} ms")
        print(f"chart (newest {SHOWN_SESSIONS} of {SESSIONS // MACHINES} of one machine, with drift): {charted:.1f} ms")
        print(f"list and chart: {listed + charted:.1f} ms (limit 100 ms)")
        archive.close()
    return int(listed + charted > 100.0)


if __name__ == "__main__":
    sys.exit(main())
