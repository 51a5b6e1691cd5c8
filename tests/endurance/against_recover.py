"""Our recovery beside SQLite's own: how many events each gets back from the same damaged archives; status 1 where ours
gets back fewer, or where there is no `.recover` to stand beside.

    PYTHONPATH=. python tests/endurance/against_recover.py --times 60 [--sqlite3 PROGRAM]

Every page of the file is lost once, then come chances: a page of noise or of zeros, two neighbours, the file's end.
Ours is what the bench does when it starts; the other is `.recover` of SQLite's command line, loaded into a fresh file,
with what it puts into `lost_and_found` (https://sqlite.org/recovery.html). Counted are events whose session, number,
kind and payload are as written. Debian's sqlite3 has no `.recover`: its source built with SQLITE_ENABLE_DBPAGE_VTAB has
(`apt-get source sqlite3`, `make sqlite3.c shell.c`, compile the two).
"""

from __future__ import annotations

import argparse
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, suppress
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
    """What stands in table `event`, and what `.recover` could not tell whose it is."""
    found: Written = set()
    with closing(sqlite3.connect(path)) as connection:
        for statement in (
            "SELECT session_id, sequence, kind, payload FROM event",
            "SELECT c1, c2, c4, c6 FROM lost_and_found",
        ):
            with suppress(sqlite3.DatabaseError):
                found |= set(connection.execute(statement))
    return found


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


def theirs(path: Path, program: str) -> Written:
    """What `.recover` writes out."""
    fresh = path.with_name("recovered.sqlite")
    fresh.unlink(missing_ok=True)
    script = subprocess.run([program, str(path), ".recover"], capture_output=True, check=False).stdout
    subprocess.run([program, str(fresh)], input=script, capture_output=True, check=False)
    return rows(fresh)


def has_recover(program: str) -> bool:
    """Whether this sqlite3 can: some are built without the table of pages that `.recover` reads."""
    if shutil.which(program) is None:
        return False
    done = subprocess.run([program, ":memory:", ".recover"], capture_output=True, text=True, check=False)
    return "writable_schema" in done.stdout


def damages(content: bytes, times: int, chance: random.Random) -> Iterator[tuple[str, bytes]]:
    """(What was done, the file after it): each page once, then chances."""
    pages = len(content) // PAGE
    for number in range(times):
        page = number if number < pages else chance.randrange(pages)
        kind = "noise" if number < pages else chance.choice(("noise", "zeros", "two pages of noise", "cut off from"))
        size = 2 * PAGE if kind.startswith("two") else PAGE
        if kind == "cut off from":
            yield f"{kind} page {page + 1}", content[: max(page, 1) * PAGE]
            continue
        lost = bytes(size) if kind == "zeros" else chance.randbytes(size)
        yield (
            f"page {page + 1}: {kind}",
            (content[: page * PAGE] + lost + content[page * PAGE + size :])[: len(content)],
        )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sqlite3", default="sqlite3", metavar="PROGRAM", help="one that has .recover")
    args = parser.parse_args()
    if not has_recover(args.sqlite3):
        print(f"{args.sqlite3} has no .recover: nothing was compared")
        return 1
    total = by_us = by_them = behind = 0
    with tempfile.TemporaryDirectory() as folder:
        source, damaged = Path(folder) / "source.sqlite", Path(folder) / "damaged.sqlite"
        make_archive(source, 12)
        with closing(sqlite3.connect(source, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
        written = rows(source)
        for what, content in damages(source.read_bytes(), args.times, random.Random(args.seed)):
            got = []
            for recover in (ours, lambda path: theirs(path, args.sqlite3)):
                for left in Path(folder).glob("damaged.sqlite*"):
                    left.unlink()
                damaged.write_bytes(content)
                got.append(len(recover(damaged) & written))
            total, by_us, by_them = total + len(written), by_us + got[0], by_them + got[1]
            if got[0] < got[1]:
                behind += 1
                print(f"  {what}: ours {got[0]}, .recover {got[1]} of {len(written)}")
    print(
        f"{args.times} damaged archives: of {total} events ours gives back {by_us}, SQLite's .recover {by_them}; "
        f"ours behind in {behind}"
    )
    return int(behind > 0)


if __name__ == "__main__":
    sys.exit(main())
