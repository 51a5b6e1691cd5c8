"""kill -9 at random moments while readings stream into the archive: acknowledged readings missing must be 0.

    python tests/endurance/kill_nine.py --times 1000 --seed 1

A child process opens the archive, goes on with the session where it was, and appends readings as fast as they commit;
after each it writes the sequence number to a pipe: that is what the screen would show as accepted. It is killed after
a random time of at most 200 ms: every other one counted from its first acknowledgement, so that a slow machine does
not only kill while opening. A session that has grown to `LONGEST_SESSION` events is closed and the next one begun, as
people do; at the end every one of them is looked at once more. kill -9 cannot tell synchronous=FULL from NORMAL (the
kernel keeps the pages): the power cuts of power_cuts.py can.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import signal
import sqlite3
import struct
import sys
import tempfile
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Reading, Unit
from core.metrology.tolerances import Limits
from core.records.archive import Archive
from core.records.events import Closed, Opened, ReadingAccepted
from core.records.session import Session

LONGEST_S = 0.2
LONGEST_OPENING_S = 60.0
LONGEST_SESSION = 300
COUPON = Coupon(width_mm=120.0, height_mm=80.0)
CLOSED = Closed(verdict="go", size_verdict="go", skew_deg=0.0, skew_u95_deg=0.06, software="cornerwise 0.1.0")


def now() -> datetime:
    return datetime.now(UTC)


def reading(number: int) -> ReadingAccepted:
    """A reading whose value tells its number, so that a wrong one would show."""
    feature = TEN_FEATURES[number % len(TEN_FEATURES)]
    unit = Unit.MM if feature.is_length else Unit.DEG
    return ReadingAccepted(reading=Reading(feature=feature, value=number / 1000.0, unit=unit))


def stream(path: Path, acknowledge: int) -> None:
    """The child: resume or begin, then append until killed."""
    archive = Archive.open(path, now)
    opened = Opened(coupon=COUPON, limits=Limits(source="own limits", perpendicularity_mm=0.4), setup=MeasuringSetup())
    session_id = archive.unfinished() or archive.begin(opened)
    sequence = archive.events(session_id)[-1].sequence
    while True:
        sequence = archive.append(session_id, reading(sequence + 1)).sequence
        os.write(acknowledge, struct.pack("<I", sequence))


def killed_once(path: Path, after_s: float, *, while_streaming: bool) -> int:
    """Run a child, kill it so long after its start or its first acknowledgement, and return the last sequence number it
    acknowledged (0 for none)."""
    receive, send = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(receive)
        try:
            stream(path, send)
        finally:
            os._exit(1)
    os.close(send)
    if while_streaming:
        select.select([receive], [], [], LONGEST_OPENING_S)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(receive, "rb") as pipe:
        data = pipe.read()
    whole = len(data) // 4 * 4
    return struct.unpack("<I", data[whole - 4 : whole])[0] if whole else 0


def missing_after(path: Path, acknowledged: int, session_id: str | None = None) -> int:
    """How many acknowledged events of a session, or of the open one, are not there as they were; also folds it."""
    with closing(Archive.open(path, now)) as archive:
        session_id = session_id or archive.unfinished()
        events = archive.events(session_id) if session_id else ()
    if events:
        Session.from_events(events)
    found = {event.sequence for event in events[1:] if event.payload == reading(event.sequence)}
    return sum(sequence not in found for sequence in range(2, acknowledged + 1))


def close_grown(path: Path) -> str | None:
    """Close the open session where it has grown enough; its id then."""
    with closing(Archive.open(path, now)) as archive:
        session_id = archive.unfinished()
        if session_id is None or len(archive.events(session_id)) < LONGEST_SESSION:
            return None
        archive.append(session_id, CLOSED)
        return session_id


def run(times: int, seed: int, folder: Path) -> tuple[int, int, int]:
    """(kills, acknowledged readings, missing readings)."""
    random_source = random.Random(seed)
    path = folder / "archive.sqlite"
    missing = last = 0
    closed: dict[str, int] = {}
    for number in range(times):
        after_s = random_source.uniform(0.0, LONGEST_S)
        last = max(last, killed_once(path, after_s, while_streaming=bool(number % 2)))
        missing += missing_after(path, last)
        if (session_id := close_grown(path)) is not None:
            closed[session_id], last = last, 0
        if (number + 1) % 100 == 0:
            print(f"after {number + 1} kills: missing: {missing}", flush=True)
    missing += sum(missing_after(path, acknowledged, session_id) for session_id, acknowledged in closed.items())
    with closing(sqlite3.connect(path)) as connection:
        (state,) = connection.execute("PRAGMA integrity_check").fetchone()
    if state != "ok":
        raise SystemExit(f"integrity_check: {state}")
    return times, sum(max(count - 1, 0) for count in (*closed.values(), last)), missing


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        kills, acknowledged, missing = run(args.times, args.seed, Path(folder))
    print(f"{kills} kills, {acknowledged} acknowledged readings, missing: {missing}, integrity_check ok")
    return int(missing > 0)


if __name__ == "__main__":
    sys.exit(main())
