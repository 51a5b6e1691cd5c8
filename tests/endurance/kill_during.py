"""kill -9 in the midst of finish, export, import, migrate, save, update, restore: all or nothing; the next try works.

    PYTHONPATH=. python tests/endurance/kill_during.py --times 100

Each deed is done once undisturbed to learn how long it takes; then in a child that is killed at a random moment of that
time. After each kill the place is looked at: what was acknowledged is there, what is under a final name is whole, what
was there before is still there; and the deed is done once more. It goes on until so many kills came before the deed's
end; those that came too late are looked at as well, and counted apart.
"""

from __future__ import annotations

import argparse
import base64
import csv
import hashlib
import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from msgspec import Struct

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.errors import BadInputError
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.checksums import CHECKSUMS_FILE, checksums_text, verify_folder
from core.records.events import Closed
from core.records.import_folder import import_folder
from core.records.inspection import inspect
from core.records.readings_csv_export import readings_text
from core.records.saved_bench import restore_bench, save_bench
from core.records.session import Session
from core.records.session_json import session_text
from core.records.whole_writing import write_folder
from hardware.releases import current_release
from hardware.update_verbs import install_update, look_for_update
from tests.endurance.bit_flips import make_archive
from tests.hardware.update_bits import HERE, InstalledProgram, with_real_libraries

OLD = Path(__file__).parents[1] / "old_archives"
# So many late kills for one in time, and it is the machine that is seen and not the deed.
MOST_LATE = 20
CLOSED = Closed(verdict="go", size_verdict="go", skew_deg=0.0, skew_u95_deg=0.06, software="cornerwise 0.1.0")


def now() -> datetime:
    return datetime(2026, 3, 1, 14, 5, tzinfo=UTC)


class Deed(Struct, frozen=True, kw_only=True):
    """What is interrupted: `prepare` makes a fresh folder, `do` is killed in it, `faults` says what is wrong after."""

    prepare: Callable[[Path], None]
    do: Callable[[Path], None]
    faults: Callable[[Path], list[str]]


def looked_over(path: Path) -> list[str]:
    """What the archive's own means find."""
    with closing(Archive.open(path, now)) as archive:
        said = [str(archive.notice)] if archive.notice else []
    found = inspect(path, lambda: True)
    with closing(sqlite3.connect(path)) as connection:
        state = connection.execute("PRAGMA integrity_check").fetchone()[0]
    return said + ([] if found.whole else [str(found.text)]) + ([] if state == "ok" else [state])


def files_of(folder: Path) -> tuple[str, dict[str, bytes]]:
    with closing(Archive.open(folder / "archive.sqlite", now)) as archive:
        record = archived_record(archive, archive.sessions()[-1].id)
    files = {"session.json": session_text(record).encode(), "readings.csv": readings_text(record).encode() * 200}
    return record.id, files | {CHECKSUMS_FILE: checksums_text(files).encode()}


def bench(folder: Path) -> None:
    make_archive(folder / "archive.sqlite", 3)


# -- finish


def finish(folder: Path) -> None:
    with closing(Archive.open(folder / "archive.sqlite", now)) as archive:
        session = archive.unfinished()
        if session is not None:
            archive.append(session, CLOSED)
            (folder / "acknowledged").touch()


def finish_faults(folder: Path) -> list[str]:
    faults = looked_over(folder / "archive.sqlite")
    with closing(Archive.open(folder / "archive.sqlite", now)) as archive:
        newest = archive.sessions()[0]
        session = Session.from_events(archive.events(newest.id))
        if len(session.active) != 10 or newest.closed is not (session.closed is not None):
            faults.append("half finished")
        if (folder / "acknowledged").exists() and not newest.closed:
            faults.append("acknowledged, and not there")
    return faults


# -- export


def export(folder: Path) -> None:
    name, files = files_of(folder)
    write_folder(files, folder / "out" / name)


def export_again(folder: Path) -> None:
    """Over an earlier download that differs."""
    bench(folder)
    name, _files = files_of(folder)
    other = {"session.json": b"{}", "readings.csv": b""}
    write_folder(other | {CHECKSUMS_FILE: checksums_text(other).encode()}, folder / "out" / name)


def export_faults(folder: Path) -> list[str]:
    name, files = files_of(folder)
    target = folder / "out" / name
    faults = []
    if target.exists():
        try:
            verify_folder(target)
        except BadInputError as error:
            faults.append(str(error))
    write_folder(files, target)
    verify_folder(target)
    left = [path.name for path in target.parent.iterdir() if path.name != name]
    return faults + ([f"left over: {left}"] if left else [])


# -- import


def prepare_import(folder: Path) -> None:
    bench(folder)
    export(folder)
    Archive.open(folder / "other.sqlite", now).close()


def take_over(folder: Path) -> None:
    (source,) = (folder / "out").iterdir()
    with closing(Archive.open(folder / "other.sqlite", now)) as archive:
        import_folder(source, archive)


def import_faults(folder: Path) -> list[str]:
    faults = looked_over(folder / "other.sqlite")
    (source,) = (folder / "out").iterdir()
    with closing(Archive.open(folder / "archive.sqlite", now)) as here:
        whole = here.events(source.name)
    with closing(Archive.open(folder / "other.sqlite", now)) as archive:
        if archive.events(source.name) not in ((), whole):
            faults.append("half taken over")
        import_folder(source, archive)
        if archive.events(source.name) != whole or archive.unfinished() is not None:
            faults.append("not taken over by the next try")
    return faults


# -- migrate


def old_archive(folder: Path) -> None:
    old = random.Random(str(folder)).choice(sorted(OLD.glob("schema_[1-5].sqlite")))
    shutil.copyfile(old, folder / "archive.sqlite")
    (folder / "expected").write_text(str(old.with_suffix(".json")))


def migrate(folder: Path) -> None:
    Archive.open(folder / "archive.sqlite", now).close()


def migrate_faults(folder: Path) -> list[str]:
    faults = looked_over(folder / "archive.sqlite")
    expected = json.loads(Path((folder / "expected").read_text()).read_text())["sessions"]
    with closing(Archive.open(folder / "archive.sqlite", now)) as archive:
        found = {one.id: len(archive.events(one.id)) for one in archive.sessions()}
    return faults + (
        [] if found == {name: len(events) for name, events in expected.items()} else ["events are missing"]
    )


# -- save and restore


def save(folder: Path) -> None:
    save_bench(folder, folder / "stick", now())


def save_faults(folder: Path) -> list[str]:
    faults = looked_over(folder / "archive.sqlite")
    saved = [path for path in (folder / "stick").glob("*") if "-partial-" not in path.name]
    for path in [*saved, save_bench(folder, folder / "stick", now())]:
        try:
            verify_folder(path)
        except BadInputError as error:
            faults.append(str(error))
    return faults


def prepare_restore(folder: Path) -> None:
    bench(folder)
    save(folder)
    make_archive(folder / "data" / "archive.sqlite", 2)


def restore(folder: Path) -> None:
    (saved,) = (folder / "stick").iterdir()
    restore_bench(saved, folder / "data", now())


def restore_faults(folder: Path) -> list[str]:
    archives = list((folder / "data").glob("archive.sqlite*"))
    before = [path for path in archives if not path.name.endswith(("-wal", "-shm", "restoring", "restoring-journal"))]
    faults = []
    found = {sessions_in(path) for path in before}
    if 2 not in found:
        faults.append("what was there before is gone")
    restore(folder)
    if sessions_in(folder / "data" / "archive.sqlite") != 3:
        faults.append("not taken back by the next try")
    return faults + looked_over(folder / "data" / "archive.sqlite")


def sessions_in(path: Path) -> int:
    with closing(Archive.open(path, now)) as archive:
        return len(archive.sessions())


# -- update


def prepare_update(folder: Path) -> None:
    installed = InstalledProgram(folder)
    with_real_libraries(installed)
    installed.on_stick()


def installed_in(folder: Path) -> InstalledProgram:
    return InstalledProgram.found(folder)


def update(folder: Path) -> None:
    installed = installed_in(folder)
    look_for_update(installed.places, "sda1", installed.said.append, open_stick=installed.open_stick)
    install_update(installed.places, "0.2.0", installed.said.append, restart=installed.restart)


def update_faults(folder: Path) -> list[str]:
    """The release that runs is whole, whichever it is, and what the next try installs says its version. What the two
    have in common is one file on the card: the release that ran before is to the byte what pip listed."""
    installed = installed_in(folder)
    here = current_release(installed.program)
    faults = []
    if not here or not (installed.program / "releases" / here / "complete").exists():
        faults.append(f"the release that runs is not whole: {here!r}")
    ours = installed.program / "current" / "system"
    links = [path for path in installed.places.etc.rglob("*") if path.is_symlink()]
    faults += [f"{link} does not lead into the release" for link in links if not link.readlink().is_relative_to(ours)]
    if here == HERE:
        update(folder)
    now_here = installed.program / "releases" / current_release(installed.program)
    asked = [now_here / "bin" / "cornerwise", "--self-check"]
    answer = subprocess.run(asked, capture_output=True, text=True, check=False).stdout
    faults += [f"changed in the release before: {name}" for name in changed_in(installed.program / "releases" / HERE)]
    return faults + ([] if "0.2.0" in answer else [f"not installed by the next try: {answer!r}"])


def changed_in(release: Path) -> list[str]:
    """The files that are not as their list says (PyPA, recording installed projects, RECORD)."""
    changed = []
    for record in release.glob("lib/*/site-packages/*.dist-info/RECORD"):
        for name, said, _size in csv.reader(record.read_text().splitlines()):
            file = record.parent.parent / name
            if not said or name.endswith(".pyc") or "bin/" in name:
                continue
            digest = hashlib.sha256(file.read_bytes()).digest() if file.is_file() else b""
            if said != f"sha256={base64.urlsafe_b64encode(digest).rstrip(b'=').decode()}":
                changed.append(name)
    return changed


DEEDS = {
    "finish": Deed(prepare=bench, do=finish, faults=finish_faults),
    "export": Deed(prepare=bench, do=export, faults=export_faults),
    "export over another": Deed(prepare=export_again, do=export, faults=export_faults),
    "import": Deed(prepare=prepare_import, do=take_over, faults=import_faults),
    "migrate": Deed(prepare=old_archive, do=migrate, faults=migrate_faults),
    "save the bench": Deed(prepare=bench, do=save, faults=save_faults),
    "update": Deed(prepare=prepare_update, do=update, faults=update_faults),
    "restore the bench": Deed(prepare=prepare_restore, do=restore, faults=restore_faults),
}


def killed(deed: Deed, folder: Path, after_s: float) -> bool:
    """Do it in a child and kill that; True when it was killed before its end."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            deed.do(folder)
            status = 0
        finally:
            os._exit(status)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def undisturbed_s(deed: Deed, folder: Path) -> float:
    """How long it takes by itself, in a child as well; the folder is as it was prepared."""
    fastest_s = float("inf")
    for number in range(3):
        copy = folder.with_name(f"{folder.name}-{number}")
        shutil.copytree(folder, copy)
        begun_s = time.monotonic()
        child = os.fork()
        if child == 0:
            try:
                deed.do(copy)
            finally:
                os._exit(0)
        os.waitpid(child, 0)
        fastest_s = min(fastest_s, time.monotonic() - begun_s)
    return fastest_s


def run(name: str, times: int, chance: random.Random) -> tuple[int, list[str]]:
    """(kills that came too late, faults). Raises RuntimeError where hardly any comes in time: that proves nothing."""
    deed, faults, number, in_time = DEEDS[name], [], 0, 0
    with tempfile.TemporaryDirectory() as top:
        learning = Path(top) / "learning"
        learning.mkdir()
        deed.prepare(learning)
        takes_s = undisturbed_s(deed, learning)
        while in_time < times:
            if number > MOST_LATE + in_time * MOST_LATE:
                raise RuntimeError(f"{name}: {in_time} of {number} kills came in time")
            folder = Path(top) / str(number)
            folder.mkdir()
            deed.prepare(folder)
            in_time += killed(deed, folder, chance.uniform(0.0, takes_s))
            faults += [f"{name}, kill {number}: {fault}" for fault in deed.faults(folder)]
            shutil.rmtree(folder)
            number += 1
    return number - in_time, faults


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=DEEDS, action="append")
    args = parser.parse_args()
    found = 0
    for name in args.only or DEEDS:
        late, faults = run(name, args.times, random.Random(args.seed))
        found += len(faults)
        print(f"{name}: {args.times} kills before its end, {late} after it, faults: {len(faults)}", flush=True)
        for fault in faults[:5]:
            print(f"  {fault}")
    return int(found > 0)


if __name__ == "__main__":
    sys.exit(main())
