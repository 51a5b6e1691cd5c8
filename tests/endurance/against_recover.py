"""Our recovery beside SQLite's own: how many events each gets back from the same damaged archives.

    PYTHONPATH=. python tests/endurance/against_recover.py --times 30      needs the program sqlite3

One page of the file is overwritten with noise, any page but what lies behind the last. Ours is what the bench does when
it starts; the other is `.recover` of SQLite's command line, loaded into a fresh file (https://sqlite.org/recovery.html).
Counted are events whose number, kind and payload are as written.
"""

from __future__ import annotations

import argparse
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.errors import CornerwiseError
from core.records import events_json
from core.records.archive import Archive
from core.records.events import Damaged
from tests.endurance.bit_flips import make_archive, now

PAGE = 4096
Written = set[tuple[object, ...]]


def rows(path: Path) -> Written:
    with closing(sqlite3.connect(path)) as connection:
        try:
            return set(connection.execute("SELECT session_id, sequence, kind, payload FROM event").fetchall())
        except sqlite3.DatabaseError:
            return set()


def ours(path: Path) -> Written:
    """What the bench shows after it was opened."""
    found: Written = set()
    try:
        with closing(Archive.open(path, now)) as archive:
            for summary in archive.sessions():
                for event in archive.events(summary.id):
                    if not isinstance(event.payload, Damaged):
                        encoded = events_json.encode(event.payload)
                        found.add((summary.id, event.sequence, encoded.kind, encoded.text))
    except CornerwiseError as error:
        print(f"  ours: {error}")
    return found


def theirs(path: Path) -> Written:
    """What `.recover` writes out."""
    fresh = path.with_name("recovered.sqlite")
    fresh.unlink(missing_ok=True)
    script = subprocess.run(["sqlite3", str(path), ".recover"], capture_output=True, check=False).stdout
    subprocess.run(["sqlite3", str(fresh)], input=script, capture_output=True, check=False)
    return rows(fresh)


def has_recover() -> bool:
    """Whether this sqlite3 can: some are built without the table of pages that `.recover` reads."""
    asked = ["sqlite3", ":memory:", "CREATE TABLE t (a); SELECT count(*) FROM sqlite_dbpage"]
    return (
        shutil.which("sqlite3") is not None and subprocess.run(asked, capture_output=True, check=False).returncode == 0
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    chance = random.Random(args.seed)
    totals = [0, 0, 0]
    other = has_recover()
    with tempfile.TemporaryDirectory() as folder:
        source, damaged = Path(folder) / "source.sqlite", Path(folder) / "damaged.sqlite"
        make_archive(source, 12)
        with closing(sqlite3.connect(source, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
        written = rows(source)
        for _ in range(args.times):
            content = bytearray(source.read_bytes())
            page = chance.randrange(len(content) // PAGE)
            content[page * PAGE : (page + 1) * PAGE] = chance.randbytes(PAGE)
            got = []
            for recover in (theirs, ours) if other else (lambda _path: set(), ours):
                for left in Path(folder).glob("damaged.sqlite*"):
                    left.unlink()
                damaged.write_bytes(content)
                got.append(len(recover(damaged) & written))
            totals = [totals[0] + len(written), totals[1] + got[1], totals[2] + got[0]]
            if got[1] < got[0]:
                print(f"  page {page + 1}: ours {got[1]}, .recover {got[0]} of {len(written)}")
    by_other = totals[2] if other else "is not built into this sqlite3"
    print(f"{args.times} pages lost: of {totals[0]} events ours gives back {totals[1]}, SQLite's .recover {by_other}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
