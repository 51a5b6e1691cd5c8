"""Our recovery beside SQLite's own tools: how many events each gets back from the same damaged archives, and who says
that they are damaged; status 1 where ours gets back fewer, is silent where an event is lost or another speaks, or
where there is nothing to stand beside.

    PYTHONPATH=. python tests/endurance/against_recover.py --times 60 [--sqlite3 PROGRAM] [--analyzer PROGRAM]

Every page of the file is lost once, then come chances: a page of noise or of zeros, two neighbours, the file's end.
Ours is what the bench does when it starts; the other is `.recover` of SQLite's command line, loaded into a fresh
file, with what it puts into `lost_and_found` (https://sqlite.org/recovery.html). Counted are events whose session,
number, kind and payload are as written. Beside them `PRAGMA integrity_check` and sqlite3_analyzer (`apt-get install
sqlite3-tools`) look at the same file: neither has a checksum of what is stored. Debian's sqlite3 has no `.recover`:
its source built with SQLITE_ENABLE_DBPAGE_VTAB has (`apt-get source sqlite3`, `make sqlite3.c shell.c`, compile the
two).
"""

from __future__ import annotations

import argparse
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.errors import CornerwiseError
from core.records import events_json
from core.records.archive import Archive
from core.records.events import Damaged
from core.records.inspection import inspect
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


def ours(path: Path) -> tuple[Written, str]:
    """What the bench shows after it was opened, and what it says of the damage."""
    found: Written = set()
    words: list[str] = []
    try:
        with closing(Archive.open(path, now)) as archive:
            words.append(str(archive.notice))
            for summary in archive.sessions():
                for event in archive.events(summary.id):
                    if not isinstance(event.payload, Damaged):
                        encoded = events_json.encode(event.payload)
                        found.add((summary.id, event.sequence, encoded.kind, encoded.text))
        words.append(str(inspect(path, lambda: True).text))
    except CornerwiseError as error:
        words.append(str(error))
    return found, " ".join(filter(None, words))


def theirs(path: Path, program: str) -> Written:
    """What `.recover` writes out."""
    fresh = path.with_name("recovered.sqlite")
    fresh.unlink(missing_ok=True)
    script = subprocess.run([program, str(path), ".recover"], capture_output=True, check=False).stdout
    subprocess.run([program, str(fresh)], input=script, capture_output=True, check=False)
    return rows(fresh)


def speaks(command: list[str]) -> bool:
    """Whether a tool of SQLite's says that the file is not whole."""
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    return done.returncode != 0 or bool(done.stderr) or (command[-1].startswith("PRAGMA") and done.stdout != "ok\n")


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
    parser.add_argument("--analyzer", default="sqlite3_analyzer", metavar="PROGRAM")
    args = parser.parse_args()
    if not has_recover(args.sqlite3):
        print(f"{args.sqlite3} has no .recover: nothing was compared")
        return 1
    if shutil.which(args.analyzer) is None:
        print(f"there is no {args.analyzer}: nothing was compared")
        return 1
    return compare(args.times, args.seed, args.sqlite3, args.analyzer)


def compare(times: int, seed: int, sqlite3_program: str, analyzer_program: str) -> int:
    """1 where one of so many damaged archives shows what must not be."""
    total = by_us = by_them = behind = 0
    said: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        source, damaged = Path(folder) / "source.sqlite", Path(folder) / "damaged.sqlite"
        make_archive(source, 12)
        with closing(sqlite3.connect(source, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
        written = rows(source)
        for what, content in damages(source.read_bytes(), times, random.Random(seed)):
            lay(damaged, content)
            integrity = speaks([sqlite3_program, "-readonly", str(damaged), "PRAGMA integrity_check"])
            analyzer = speaks([analyzer_program, str(damaged)])
            got_by_them = len(theirs(damaged, sqlite3_program) & written)
            lay(damaged, content)
            found, words = ours(damaged)
            got_by_us = len(found & written)
            total, by_us, by_them = total + len(written), by_us + got_by_us, by_them + got_by_them
            said.update(ours=bool(words), integrity=integrity, analyzer=analyzer)
            if not words and (got_by_us < len(written) or integrity or analyzer):
                said["silent"] += 1
                print(f"  {what}: ours says nothing; integrity_check {integrity}, sqlite3_analyzer {analyzer}")
            if got_by_us < got_by_them:
                behind += 1
                print(f"  {what}: ours {got_by_us}, .recover {got_by_them} of {len(written)}")
    print(
        f"{times} damaged archives: of {total} events ours gives back {by_us}, SQLite's .recover {by_them}; "
        f"ours behind in {behind}. Damage said: by ours {said['ours']}, integrity_check {said['integrity']}, "
        f"sqlite3_analyzer {said['analyzer']}; ours silent where something is lost or they speak: {said['silent']}"
    )
    return int(behind > 0 or said["silent"] > 0)


def lay(damaged: Path, content: bytes) -> None:
    """The damaged archive as it was, with nothing beside it."""
    for left in damaged.parent.glob(f"{damaged.name}*"):
        left.unlink()
    damaged.write_bytes(content)


if __name__ == "__main__":
    sys.exit(main())
