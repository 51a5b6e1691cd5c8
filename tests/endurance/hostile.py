"""Whatever a stick may bring, to the real command: one line that steers no terminal, status 65, nothing touched.

    PYTHONPATH=. python tests/endurance/hostile.py [--only import export files bench] [--show]

Session folders spoilt in each field, ids that are paths and patterns in the folder and in the archive itself, pipes,
devices and files without end in each place that takes a file, tables of somebody else's in a saved bench, settings that
nest without end. After each the archive reads as before and nothing lies beside what was chosen; no command may take
more than `LONGEST_S` of the processor, sleep as long, or take `MOST_MB` over one that only says its version. Status 1
where one does not hold.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

from msgspec import Struct, field

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.checksums import CHECKSUMS_FILE, checksums_text
from core.records.readings_csv_export import readings_text
from core.records.saved_bench import BESIDE, save_bench
from core.records.session_id import is_session_id
from core.records.session_json import session_text
from core.records.whole_writing import write_folder
from tests.core.records.hostile_sessions import IDS, LINES, SCHEMES, SPOILS, TEXTS, signed, spoilt
from tests.endurance.bit_flips import make_archive, now, told
from tests.patience import hangs

COMMAND = [sys.executable, "-c", "from ui.command_line.entry import main; raise SystemExit(main())"]
LONGEST_S = 90.0
MOST_MB = 250.0
SPOILT_FILES = "pipe", "device", "folder", "loop", "endless", "nothing", "noise", "nesting", "zeros"


class Attack(Struct, frozen=True, kw_only=True):
    """One call of the command, in a place that was made for it; `faults` looks at what it left."""

    name: str
    words: tuple[str, ...]
    status: frozenset[int] = frozenset({65})
    faults: Callable[[], list[str]] = field(default=lambda: [])


def attempt(attack: Attack, data: Path) -> tuple[int, str, float]:
    """(Status, -1 for one that had to be stopped; what it printed; megabytes at most)."""
    with tempfile.TemporaryFile() as printed:
        child = subprocess.Popen(
            [*COMMAND, *attack.words], stdin=subprocess.DEVNULL, stdout=printed, stderr=printed, cwd=data.parent,
            env={**os.environ, "CORNERWISE_DATA": str(data), "PYTHONPATH": str(Path(__file__).parents[2])},
        )  # fmt: skip
        stopped = hangs(child.pid, LONGEST_S)
        if stopped:
            child.kill()
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = -1 if stopped else os.waitstatus_to_exitcode(status)
        printed.seek(0)
        return child.returncode, printed.read().decode("utf-8", "replace"), usage.ru_maxrss / 1024.0


def steering(text: str) -> str:
    return "".join(sorted({letter for letter in text if letter != "\n" and not letter.isprintable()}))


def write_session(data: Path, to: Path) -> Path:
    """The download of the newest closed session, without pictures."""
    with closing(Archive.open(data / "archive.sqlite", now)) as archive:
        closed = next(one for one in archive.sessions() if one.closed)
        record = archived_record(archive, closed.id)
    files = {"session.json": session_text(record).encode(), "readings.csv": readings_text(record).encode()}
    write_folder(files | {CHECKSUMS_FILE: checksums_text(files).encode()}, to / record.id)
    return to / record.id


def put(kind: str, path: Path) -> None:
    """What no reader may wait for, or read to its end."""
    path.unlink(missing_ok=True)
    match kind:
        case "pipe":
            os.mkfifo(path)
        case "device":
            path.symlink_to("/dev/zero")
        case "folder":
            path.mkdir()
        case "loop":
            path.symlink_to(path)
        case "endless":
            with path.open("wb") as file:
                file.truncate(10 * 1024**4)
        case "nothing":
            path.write_bytes(b"")
        case "noise":
            path.write_bytes(hashlib.sha512(b"seed").digest() * 4096)
        case "nesting":
            path.write_bytes(b"[" * 500_000)
        case "zeros":
            path.write_bytes(bytes(1_000_000))


# -- session folders


def imports(place: Path, data: Path) -> Iterator[Attack]:
    whole = write_session(data, place / "whole")
    ways: dict[str, Callable[[Path], object]] = {}
    for number, spoil in enumerate(SPOILS):
        ways[f"field {number}"] = lambda folder, spoil=spoil: spoilt(folder, spoil)
    for name in IDS:
        ways[f"id {name[:30]!r}"] = lambda folder, name=name: spoilt(folder, lambda tree: tree.update(session=name))
    for number, text in enumerate(TEXTS):
        ways[f"text {number}"] = lambda folder, text=text: signed(folder, text)
    for number, line in enumerate(LINES):
        ways[f"line {number}"] = lambda folder, line=line: add_line(folder, line)
    for kind in SPOILT_FILES:
        for file in ("session.json", "readings.csv", CHECKSUMS_FILE):
            ways[f"{kind} for {file}"] = lambda folder, kind=kind, file=file: put(kind, folder / file)
    for number, (what, way) in enumerate(ways.items()):
        folder = place / f"stick-{number}" / whole.name
        shutil.copytree(whole, folder)
        way(folder)
        yield Attack(name=f"import, {what}", words=("import", str(folder)))
    for kind in SPOILT_FILES:
        put(kind, place / f"bare-{kind}")
        yield Attack(name=f"import of a {kind}", words=("import", str(place / f"bare-{kind}")))


def add_line(folder: Path, line: str) -> None:
    with (folder / CHECKSUMS_FILE).open("a") as file:
        file.write(f"{line}\n")


# -- ids that an earlier release let into the archive


def exports(place: Path, data: Path) -> Iterator[Attack]:
    for number, name in enumerate(name for name in IDS if name.isascii() and "\0" not in name):
        for neighbour in ("", "-2"):
            here = place / f"bench-{number}{neighbour}"
            here.mkdir()
            shutil.copyfile(data / "archive.sqlite", here / "archive.sqlite")
            rename(here / "archive.sqlite", name, f"{name}{neighbour}" if neighbour else None)
            out = here / "out"
            (out / "somebody's").mkdir(parents=True)
            (out / "somebody's" / "letter.txt").write_text("mine")
            yield Attack(
                name=f"export of stored id {name[:30]!r}{' beside one that begins so' if neighbour else ''}",
                words=("--data", str(here), "export", "--to", str(out), "--", name),
                status=frozenset({0}),
                faults=lambda here=here, out=out: strange_export(here, out),
            )


def rename(path: Path, name: str, neighbour: str | None) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        ids = [row[0] for row in connection.execute("SELECT id FROM session WHERE closed ORDER BY ordinal LIMIT 2")]
        for old, new in zip(ids, (name, neighbour), strict=True):
            if new is not None:
                connection.execute("UPDATE session SET id = ? WHERE id = ?", (new, old))
                connection.execute("UPDATE event SET session_id = ? WHERE session_id = ?", (new, old))
                connection.execute("UPDATE gauge_check SET session_id = ? WHERE session_id = ?", (new, old))
                connection.execute("UPDATE log_head SET log = ? WHERE log = ?", (new, old))


def strange_export(here: Path, out: Path) -> list[str]:
    made = sorted(path.name for path in out.iterdir() if path.name != "somebody's")
    faults = [] if len(made) == 1 and is_session_id(made[0]) else [f"it made {made}"]
    if (out / "somebody's" / "letter.txt").read_text() != "mine" or len(list((out / "somebody's").iterdir())) != 1:
        faults.append("a folder of somebody's was touched")
    beside = {path.name for path in here.iterdir()} - {"archive.sqlite", "archive.sqlite-wal", "archive.sqlite-shm"}
    return faults + ([f"beside it lies {beside}"] if beside != {"out"} else [])


# -- each place that takes a file


def files(place: Path, _data: Path) -> Iterator[Attack]:
    for kind in SPOILT_FILES:
        for ending, words in (
            (".csv", ("evaluate",)), (".csv", ("gauge-study", "--tolerance", "0.4")),
            (".svg", ("correct-design", "--skew", "0.2")), (".dxf", ("correct-design", "--skew", "0.2")),
            (".wav", ("belts",)), (".jsonl", ("--text", "--replay")), (".csv", ("restore-bench",)),
        ):  # fmt: skip
            path = place / f"{kind}-{words[0].strip('-')}{ending}"
            put(kind, path)
            last = (str(path.with_suffix(f".out{ending}")),) if words[0] == "correct-design" else ()
            last = (str(path),) if words[0] == "belts" else last
            yield Attack(
                name=f"{' '.join(words)}, a {kind} for {ending}",
                words=(*words, str(path), *last),
                status=frozenset({65, 69}) if words[0] == "--text" else frozenset({65}),
            )
    rows = place / "rows.csv"
    rows.write_text("feature,value,unit\n" + "nl-fr,144.61,mm\n" * 1_000_000)
    yield Attack(name="evaluate, a million rows", words=("evaluate", str(rows)))


# -- what stands beside the archive, and a saved bench


def benches(place: Path, data: Path) -> Iterator[Attack]:
    for kind in SPOILT_FILES:
        for name in BESIDE:
            here = place / f"{kind}-{name}"
            here.mkdir()
            shutil.copyfile(data / "archive.sqlite", here / "archive.sqlite")
            put(kind, here / name)
            for words in (("instruments",), ("--text",), ("fault-report", "--to", str(here / "out")),
                          ("save-bench", "--to", str(here / "out"))):  # fmt: skip
                yield Attack(
                    name=f"{words[0]}, a {kind} for {name}",
                    words=("--data", str(here), *words),
                    status=frozenset({0, 2, 65, 69}),
                )
    saved = save_bench(data, place / "saved", now())
    for number, (what, statement) in enumerate(SCHEMES.items()):
        folder = place / f"saved-{number}" / saved.name
        shutil.copytree(saved, folder)
        with closing(sqlite3.connect(folder / "archive.sqlite", isolation_level=None)) as connection:
            connection.executescript(statement)
        relist(folder)
        here = place / f"restored-{number}"
        yield Attack(
            name=f"restore-bench, {what}",
            words=("--data", str(here), "restore-bench", str(folder)),
            faults=lambda here=here: [f"it left {path.name}" for path in here.glob("*") if path.name != "bench.lock"],
        )
    for kind in SPOILT_FILES:
        for name in ("archive.sqlite", "settings.json", CHECKSUMS_FILE):
            folder = place / f"saved-{kind}-{name}" / saved.name
            shutil.copytree(saved, folder)
            put(kind, folder / name)
            yield Attack(
                name=f"restore-bench, a {kind} for {name}",
                words=("--data", str(place / "none"), "restore-bench", str(folder)),
            )


def relist(folder: Path) -> None:
    lines = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n"
        for path in sorted(folder.iterdir())
        if path.name != CHECKSUMS_FILE
    ]
    (folder / CHECKSUMS_FILE).write_text("".join(lines))


KINDS = {"import": imports, "export": exports, "files": files, "bench": benches}


def held_against(attack: Attack, status: int, printed: str, megabytes: float, plain_mb: float) -> list[str]:
    faults = attack.faults()
    if status not in attack.status:
        faults.append(f"it takes more than {LONGEST_S:.0f} s" if status == -1 else f"status {status}")
    if steering(printed):
        faults.append(f"it prints {steering(printed)!r}")
    if "Traceback" in printed:
        faults.append("it prints a traceback")
    if status == 65 and len(printed.splitlines()) != 1:
        faults.append(f"{len(printed.splitlines())} lines")
    if megabytes > plain_mb + MOST_MB:
        faults.append(f"{megabytes:.0f} MB")
    return faults


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", nargs="+", choices=KINDS, default=[*KINDS])
    parser.add_argument("--some", default="", help="only attacks whose name holds this")
    parser.add_argument("--show", action="store_true", help="what each printed")
    args = parser.parse_args()
    tried: Counter[str] = Counter()
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        make_archive(data / "archive.sqlite", 4)
        with closing(Archive.open(data / "archive.sqlite", now)) as archive:
            before = json.dumps(told(archive))
        _, _, plain_mb = attempt(Attack(name="plain", words=("--version",)), data)
        for kind in args.only:
            place = Path(folder) / kind
            place.mkdir()
            for attack in KINDS[kind](place, data):
                if args.some not in attack.name:
                    continue
                status, printed, megabytes = attempt(attack, data)
                faults = held_against(attack, status, printed, megabytes, plain_mb)
                with closing(Archive.open(data / "archive.sqlite", now)) as archive:
                    if json.dumps(told(archive)) != before:
                        faults.append("the archive is not as it was")
                tried[kind] += 1
                failed += bool(faults)
                if faults or args.show:
                    print(f"{attack.name}: {'; '.join(faults)}: {printed[:500]!r}", flush=True)
    print(f"{sum(tried.values())} attacks ({', '.join(f'{n} {k}' for k, n in tried.items())}), not held: {failed}")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
