"""What the archive outlives: kill -9, a full disk at every write, a failing sync, a read-only card, damage."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import BadInputError, DamagedArchiveError, DiskFullError, LostFileError, ReadOnlyError, StorageError
from core.geometry.features import Feature
from core.metrology.readings import Reading
from core.records import archive as archive_module, archive_file
from core.records.archive import Archive
from core.records.archive_file import storage_errors
from core.records.events import Damaged, Event, Note, Opened, Payload, ReadingAccepted
from core.records.grid import grid_map
from core.records.history import history_of
from core.records.inspection import inspect
from core.records.saved_bench import restore_bench, save_bench
from core.records.session import Session
from tests.endurance.bit_flips import make_archive

ROOT = Path(__file__).resolve().parents[3]
NEAR = ReadingAccepted(reading=Reading(feature=Feature.NEAR, value=119.93))


def now() -> datetime:
    return datetime(2026, 3, 1, 14, 5, tzinfo=UTC)


@contextmanager
def small_disk(folder: Path, options: str) -> Iterator[None]:
    """A file system of its own on `folder`, in memory; skips where this user may not mount."""
    folder.mkdir(exist_ok=True)
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", options, "card", folder], capture_output=True, check=False)
    if done.returncode != 0:
        pytest.skip("mounting is not permitted here; runs as root")
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", folder], check=True)


def integrity(path: Path) -> str:
    connection = sqlite3.connect(path)
    state = connection.execute("PRAGMA integrity_check").fetchone()[0]
    connection.close()
    return str(state)


def test_kill_nine_loses_no_acknowledged_reading(tmp_path: Path) -> None:
    """A small seeded run of tests/endurance/kill_nine.py, in a process of its own because it forks."""
    script = ROOT / "tests" / "endurance" / "kill_nine.py"
    done = subprocess.run([sys.executable, script, "--times", "12", "--seed", "3"], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "missing: 0, integrity_check ok" in done.stdout
    assert int(done.stdout.split()[2]) > 0, "nothing was acknowledged, so nothing was tried"


def test_a_session_resumes_where_a_stop_left_it(tmp_path: Path, opened: Opened) -> None:
    """The process ends without closing anything: the write-ahead log is all there is."""
    path = tmp_path / "archive.sqlite"
    child = os.fork()
    if child == 0:
        first = Archive.open(path, now)
        first.append(first.begin(opened), NEAR)
        os._exit(0)
    os.waitpid(child, 0)
    assert path.with_name("archive.sqlite-wal").stat().st_size > 0
    archive = Archive.open(path, now)
    session_id = archive.unfinished()
    assert session_id is not None
    session = Session.from_events(archive.events(session_id))
    assert session.active == (NEAR.reading,)
    assert archive.append(session_id, NEAR).sequence == 3
    assert not archive.notice
    archive.close()


def test_a_full_card_is_said_before_measuring(tmp_path: Path, opened: Opened) -> None:
    with small_disk(tmp_path / "card", "size=6m"):
        archive = Archive.open(tmp_path / "card" / "archive.sqlite", now)
        with pytest.raises(DiskFullError, match="make room before measuring"):
            archive.begin(opened)
        assert archive.sessions() == ()
        archive.close()


def test_a_disk_full_at_every_write_refuses_and_keeps(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A real full file system; what is left free grows page by page, so that every write of the session meets it."""
    monkeypatch.setattr(archive_module, "MIN_FREE_BYTES", 0)
    refused = 0
    with small_disk(tmp_path / "card", "size=2m"):
        card = tmp_path / "card"
        filler = card / "filler"
        for free in range(0, 200 * 1024, 4096):
            path = card / "archive.sqlite"
            Archive.open(path, now).close()
            space = shutil.disk_usage(card).free - free
            with filler.open("wb") as file:
                file.write(b"\0" * max(space, 0))
            acknowledged = session_until_refused(path, opened, payloads)
            refused += len(acknowledged) < len(payloads) + 1
            filler.unlink()
            assert kept(path) == acknowledged
            for part in card.glob("archive.sqlite*"):
                part.unlink()
    assert refused > 10


@pytest.mark.parametrize("old", [None, "schema_1.sqlite"])
def test_a_disk_full_at_every_write_of_an_opening_says_that_it_is_full(tmp_path: Path, old: str | None) -> None:
    """A new archive, and one of the first release that is migrated: SQLite rolls some of these back by itself."""
    refused = 0
    with small_disk(tmp_path / "card", "size=2m"):
        card = tmp_path / "card"
        path = card / "archive.sqlite"
        for free in range(0, 320 * 1024, 12 * 1024):
            if old is not None:
                shutil.copyfile(ROOT / "tests" / "old_archives" / old, path)
            with (card / "filler").open("wb") as file:
                file.write(b"\0" * max(shutil.disk_usage(card).free - free, 0))
            try:
                with closing(Archive.open(path, now)) as archive:
                    refused += archive.read_only
                    assert "no room" in str(archive.notice) or not archive.read_only
            except DiskFullError:
                refused += 1
            (card / "filler").unlink()
            Archive.open(path, now).close()
            for part in card.glob("archive*"):
                part.unlink()
    assert refused > 5


def test_a_file_size_limit_at_every_write_refuses_and_keeps(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    """The kernel's file size limit instead of a full disk: needs no root."""
    had = resource.getrlimit(resource.RLIMIT_FSIZE)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    refused = 0
    for limit in range(4096, 160 * 1024, 8192):
        path = tmp_path / f"{limit}" / "archive.sqlite"
        Archive.open(path, now).close()
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, had[1]))
        try:
            acknowledged = session_until_refused(path, opened, payloads)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, had)
        refused += len(acknowledged) < len(payloads) + 1
        assert kept(path) == acknowledged
    assert refused > 5


def session_until_refused(path: Path, opened: Opened, payloads: tuple[Payload, ...]) -> list[Event]:
    """Measure until the disk refuses; the acknowledged events. A refusal is a StorageError and nothing else."""
    acknowledged: list[Event] = []
    try:
        archive = Archive.open(path, now)
    except StorageError:
        return acknowledged
    try:
        session_id = archive.begin(opened)
        acknowledged += archive.events(session_id)
        for payload in payloads:
            acknowledged.append(archive.append(session_id, payload))
    except StorageError:
        pass
    finally:
        archive.close()
    return acknowledged


def kept(path: Path) -> list[Event]:
    """The events of the one session in the archive, opened again with room on the disk; also that it works on."""
    archive = Archive.open(path, now)
    assert not archive.notice
    events = [event for summary in archive.sessions() for event in archive.events(summary.id)]
    if (session_id := archive.unfinished()) is not None:
        archive.append(session_id, NEAR)
    archive.close()
    assert integrity(path) == "ok"
    return events


@pytest.mark.parametrize("nth", [1, 6, 9, 20])
def test_a_sync_that_fails_is_a_refusal(tmp_path: Path, opened: Opened, nth: int) -> None:
    """EIO from the n-th fdatasync on, three times, injected into the system call (strace)."""
    if shutil.which("strace") is None:
        pytest.skip("strace is not installed (apt-get install strace)")
    path = tmp_path / "archive.sqlite"
    Archive.open(path, now).close()
    script = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        f"sys.path.insert(0, {str(ROOT)!r})\n"
        "from core.errors import StorageError\n"
        "from core.geometry.coupon import Coupon\nfrom core.geometry.features import Feature\n"
        "from core.metrology.accuracy import MeasuringSetup\nfrom core.metrology.readings import Reading\n"
        "from core.metrology.tolerances import Limits\nfrom core.records.archive import Archive\n"
        "from core.records.events import Opened, ReadingAccepted\n"
        f"archive = Archive.open(Path({str(path)!r}), lambda: datetime(2026, 3, 1, tzinfo=UTC))\n"
        "opened = Opened(coupon=Coupon(width_mm=120.0, height_mm=80.0), limits=Limits(source='own limits'), "
        "setup=MeasuringSetup())\n"
        "session = None\n"
        "for _ in range(30):\n"
        "    try:\n"
        "        session = session or archive.begin(opened)\n"
        "        reading = Reading(feature=Feature.NEAR, value=119.93)\n"
        "        print(archive.append(session, ReadingAccepted(reading=reading)).sequence, flush=True)\n"
        "    except StorageError:\n"
        "        print('refused', flush=True)\n"
    )
    traced = ["strace", "-f", "-qq", "-o", "/dev/null", "-e", "trace=fdatasync", "-e"]
    traced += [f"inject=fdatasync:error=EIO:when={nth}..{nth + 2}", sys.executable, "-c", script]
    done = subprocess.run(traced, capture_output=True, text=True, check=False)
    if "PTRACE" in done.stderr or "ptrace" in done.stderr:
        pytest.skip("tracing is not permitted here")
    assert done.returncode == 0, done.stderr
    words = done.stdout.split()
    assert "refused" in words
    acknowledged = [int(word) for word in words if word != "refused"]
    archive = Archive.open(path, now)
    (summary,) = archive.sessions()
    sequences = [event.sequence for event in archive.events(summary.id)]
    archive.close()
    assert sequences == [1, *acknowledged]
    assert integrity(path) == "ok"


def test_a_read_only_card_is_read_with_its_newest_readings(tmp_path: Path, opened: Opened) -> None:
    """Remounted read-only while the write-ahead log still holds the session."""
    with small_disk(tmp_path / "card", "size=20m"):
        path = tmp_path / "card" / "archive.sqlite"
        left_open = Archive.open(path, now)
        session_id = left_open.begin(opened)
        left_open.append(session_id, NEAR)
        assert path.with_name("archive.sqlite-wal").stat().st_size > 0
        copy = tmp_path / "copy"
        shutil.copytree(path.parent, copy)
        left_open.close()
        for part in path.parent.iterdir():
            part.unlink()
        for part in copy.iterdir():
            if not part.name.endswith("-shm"):
                shutil.copy(part, path.parent)
        subprocess.run(["mount", "-o", "remount,ro", path.parent], check=True)
        before = sorted((part.name, part.read_bytes()) for part in path.parent.iterdir())
        archive = Archive.open(path, now)
        assert archive.read_only
        assert "cannot be written" in str(archive.notice)
        assert len(archive.events(session_id)) == 2
        for refused in (lambda: archive.begin(opened), lambda: archive.append(session_id, NEAR)):
            with pytest.raises(ReadOnlyError):
                refused()
        archive.close()
        assert sorted((part.name, part.read_bytes()) for part in path.parent.iterdir()) == before


@pytest.mark.parametrize("killed", [False, True])
@pytest.mark.parametrize("lost", ["room", "writing"])
def test_what_is_on_a_card_that_takes_nothing_more_is_read_and_saved(
    tmp_path: Path, opened: Opened, lost: str, killed: bool
) -> None:
    """Not a page free, or read-only: that is when a bench is saved."""
    card, path = tmp_path / "card", tmp_path / "card" / "archive.sqlite"
    with small_disk(card, "size=2m"):
        child = os.fork()
        if child == 0:
            archive_module.MIN_FREE_BYTES = 0
            first = Archive.open(path, now)
            first.append(first.begin(opened), NEAR)
            if not killed:
                first.close()
            os._exit(0)
        os.waitpid(child, 0)
        if lost == "room":
            with suppress(OSError), (card / "filler").open("wb") as file:
                while True:
                    file.write(bytes(4096))
        else:
            subprocess.run(["mount", "-o", "remount,ro", card], check=True)
        with closing(Archive.open(path, now)) as archive:
            session = archive.unfinished()
            assert session is not None
            assert [event.payload for event in archive.events(session)][1:] == [NEAR]
            with pytest.raises(StorageError):
                archive.append(session, NEAR)
        saved = save_bench(card, tmp_path / "stick", None)
        restore_bench(saved, tmp_path / "new card", None)
        assert len(kept(tmp_path / "new card" / "archive.sqlite")) == 2
        if lost == "room":
            (card / "filler").unlink()
            with closing(Archive.open(path, now)) as archive:
                assert archive.append(session, NEAR).sequence == 3


def test_a_read_only_card_without_an_archive_is_said(tmp_path: Path) -> None:
    with small_disk(tmp_path / "card", "size=1m,ro"), pytest.raises(ReadOnlyError, match="no archive"):
        Archive.open(tmp_path / "card" / "archive.sqlite", now)


def archive_of(path: Path, opened: Opened, payloads: tuple[Payload, ...], sessions: int) -> list[str]:
    archive = Archive.open(path, now)
    ids = []
    for _ in range(sessions):
        ids.append(archive.begin(opened))
        for payload in payloads:
            archive.append(ids[-1], payload)
    archive.close()
    return ids


@pytest.mark.parametrize("page", [2, 5, 11, 23])
def test_damage_in_the_middle_is_set_aside_and_the_rest_recovered(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...], page: int
) -> None:
    path = tmp_path / "archive.sqlite"
    ids = archive_of(path, opened, payloads, sessions=12)
    whole = Archive.open(path, now)
    originals = {session_id: whole.events(session_id) for session_id in ids}
    whole.close()
    content = bytearray(path.read_bytes())
    content[page * 4096 : page * 4096 + 4096] = os.urandom(4096)
    path.write_bytes(content)
    archive = Archive.open(path, now)
    (aside,) = tmp_path.glob("archive.sqlite.damaged-20260301-140500-*")
    assert aside.read_bytes() == bytes(content)
    assert aside.name in str(archive.notice)
    found = {summary.id: archive.events(summary.id) for summary in archive.sessions()}
    assert f"{len(found)} sessions were recovered" in str(archive.notice)
    assert found.keys() == originals.keys()
    for session_id, events in found.items():
        for event, original in zip(events, originals[session_id], strict=True):
            assert event == original or isinstance(event.payload, Damaged)
    archive.append(archive.begin(opened), NEAR)
    archive.close()
    assert integrity(path) == "ok"


def test_a_lost_page_costs_the_events_that_stood_on_it_and_no_other(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    """Each page of the file in turn: how many events stand on one is read from its own header (database file format,
    1.6). SQLite's own .recover gives back as many, but for the first page, without which it gives none."""
    source = tmp_path / "source.sqlite"
    ids = archive_of(source, opened, payloads, sessions=3)
    whole = source.read_bytes()
    with closing(Archive.open(source, now)) as archive:
        originals = {session_id: archive.events(session_id) for session_id in ids}
    with closing(sqlite3.connect(source)) as connection:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'event'").fetchone()
    assert whole[(root - 1) * 4096] == 5, "an inner page: what is lost with it stands on others"
    kinds = {f'"class":"{type(payload).__name__}"'.encode() for payload in (opened, *payloads)}
    for number in range(len(whole) // 4096):
        page = whole[number * 4096 :][:4096]
        holds_events = page[0] == 13 and any(kind in page for kind in kinds)
        stood_there = int.from_bytes(page[3:5], "big") if holds_events else 0
        path = tmp_path / f"{number}.sqlite"
        path.write_bytes(whole[: number * 4096] + b"\xa5" * 4096 + whole[(number + 1) * 4096 :])
        with closing(Archive.open(path, now)) as archive:
            found = {session_id: archive.events(session_id) for session_id in ids}
        back = sum(event in found[session_id] for session_id in ids for event in originals[session_id])
        assert back == sum(map(len, originals.values())) - stood_there, number + 1


def test_a_row_that_goes_on_over_further_pages_is_read_from_its_leaf(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "archive.sqlite"
    notes = [Note(text=letter * 9000) for letter in "abcdef"]
    (session_id,) = archive_of(path, opened, tuple(notes), sessions=1)
    content = bytearray(path.read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'event'").fetchone()
    assert content[(root - 1) * 4096] == 5, "an inner page, so that nothing but the leaves is left"
    content[(root - 1) * 4096 : root * 4096] = bytes(4096)
    path.write_bytes(content)
    with closing(Archive.open(path, now)) as archive:
        assert [event.payload for event in archive.events(session_id)[1:]] == notes


@pytest.mark.parametrize("lost", [16, 100, 4096])
@pytest.mark.parametrize("older", [False, True])
def test_without_its_first_page_every_session_is_recovered_all_the_same(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...], lost: int, older: bool
) -> None:
    """The page that says what lies where; also of an archive that began under the first schema."""
    path = tmp_path / "archive.sqlite"
    if older:
        shutil.copyfile(ROOT / "tests" / "old_archives" / "schema_1.sqlite", path)
    ids = archive_of(path, opened, payloads, sessions=5)
    whole = Archive.open(path, now)
    originals = {session_id: whole.events(session_id) for session_id in ids}
    machines = whole.machines()
    whole.close()
    spoilt = os.urandom(lost) + path.read_bytes()[lost:]
    path.write_bytes(spoilt)
    archive = Archive.open(path, now)
    assert {session_id: archive.events(session_id) for session_id in ids} == originals
    assert archive.machines() == machines
    archive.close()
    assert integrity(path) == "ok"
    names = sorted(part.name for part in tmp_path.iterdir() if not part.name.endswith(("-wal", "-shm")))
    assert names[0] == "archive.sqlite"
    assert (tmp_path / names[1]).read_bytes() == spoilt
    assert len(names) == 2


def test_a_file_that_cannot_be_read_at_all_is_set_aside(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    path = tmp_path / "archive.sqlite"
    archive_of(path, opened, payloads, sessions=1)
    spoilt = b"not a database " * 400
    path.write_bytes(spoilt)
    archive = Archive.open(path, now)
    assert "damaged" in str(archive.notice)
    assert archive.sessions() == ()
    archive.close()
    (aside,) = tmp_path.glob("archive.sqlite.damaged-*")
    assert aside.read_bytes() == spoilt


def test_who_looks_in_beside_the_bench_leaves_a_damaged_archive_where_it_is(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    path = tmp_path / "archive.sqlite"
    archive_of(path, opened, payloads, sessions=1)
    spoilt = b"not a database " * 400
    path.write_bytes(spoilt)
    with pytest.raises(DamagedArchiveError, match="start the bench anew"):
        Archive.open(path, now, may_set_aside=False)
    assert path.read_bytes() == spoilt
    assert not list(tmp_path.glob("*.damaged-*"))


def test_damage_met_while_measuring_is_said_and_set_aside_at_the_next_start(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As in a file too large to be looked over at every start."""
    monkeypatch.setattr(archive_file, "_CHECKED_BYTES", 0)
    path = tmp_path / "archive.sqlite"
    (session_id,) = archive_of(path, opened, payloads, sessions=1)
    content = bytearray(path.read_bytes())
    content[4096:] = os.urandom(len(content) - 4096)
    archive = Archive.open(path, now)
    path.write_bytes(content)
    archive._connection.execute("PRAGMA shrink_memory")  # forget the pages read while opening
    with pytest.raises(DamagedArchiveError, match="damaged"):
        archive.events(session_id)
    archive.close()
    again = Archive.open(path, now)
    assert "set aside" in str(again.notice)
    again.close()
    assert not list(tmp_path.glob("*.suspect"))


def test_another_program_s_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "archive.sqlite"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE recipe (name TEXT)")
    other.commit()
    other.close()
    with pytest.raises(StorageError, match="not a Cornerwise archive"):
        Archive.open(path, now)
    assert integrity(path) == "ok"
    assert archive_file.refuses_writing(path) is False


def test_a_flipped_bit_is_never_silent(tmp_path: Path) -> None:
    """A small seeded run of tests/endurance/bit_flips.py."""
    script = ROOT / "tests" / "endurance" / "bit_flips.py"
    done = subprocess.run(
        [sys.executable, script, "--times", "40", "--seed", "3", "--sessions", "4"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert " silent: 0" in done.stdout
    assert " 0 said (" not in done.stdout, "no flip hit anything, so nothing was tried"


@pytest.mark.parametrize("how", ["removed", "replaced", "log removed", "folder moved"])
def test_nothing_is_accepted_into_a_file_that_is_gone(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...], how: str
) -> None:
    """Somebody tidies up, or puts a backup in its place, while the bench measures."""
    path = tmp_path / "bench" / "archive.sqlite"
    archive = Archive.open(path, now)
    session_id = archive.begin(opened)
    archive.append(session_id, NEAR)
    if how == "folder moved":
        path.parent.rename(tmp_path / "elsewhere")
    elif how == "log removed":
        path.with_name("archive.sqlite-wal").unlink()
    else:
        path.unlink()
    if how == "replaced":
        shutil.copyfile(ROOT / "tests" / "old_archives" / "schema_1.sqlite", path)
    with pytest.raises(LostFileError, match="removed or replaced"):
        archive.append(session_id, NEAR)
    with pytest.raises(LostFileError):
        archive.begin(opened)
    kept = archive.rescue()
    assert (kept == path) is (how != "replaced" and how != "log removed")
    again = Archive.open(kept, now)
    assert len(again.events(session_id)) == 2
    assert again.append(session_id, NEAR).sequence == 3
    again.close()


@pytest.mark.parametrize(
    ("storing", "words"), [(False, "the card could not be read"), (True, "did not take it .*; nothing was stored")]
)
def test_what_fails_in_reading_is_not_called_a_failure_to_store(tmp_path: Path, storing: bool, words: str) -> None:
    """Every list that could not be looked up said that nothing was stored, where nothing was to be."""
    path = tmp_path / "gone" / "archive.sqlite"
    with pytest.raises(StorageError, match=words), storage_errors(path, storing=storing):
        sqlite3.connect(f"file:{path}?mode=ro", uri=True)


def test_a_damaged_reading_is_named_and_the_others_count(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    """One letter of a stored value, and of a voided reading: its void is understood all the same."""
    path = tmp_path / "archive.sqlite"
    (session_id,) = archive_of(path, opened, payloads, sessions=1)
    with sqlite3.connect(path) as other:
        other.execute("UPDATE event SET payload = replace(payload, '119.93', '119.13') WHERE sequence = 8")
        other.execute("UPDATE event SET payload = replace(payload, '146.61', '146.71') WHERE sequence = 2")
    other.close()
    archive = Archive.open(path, now)
    session = Session.from_events(archive.events(session_id))
    archive.close()
    assert session.damaged == (2, 8)
    assert len(session.active) == 7
    assert "Event 8 of this session is damaged on the card and left out." in session.notes
    found = inspect(path, lambda: True)
    assert [(one.log, one.lost) for one in found.hit] == [(session_id, 2)]
    assert f"Session {session_id}: 2 of 16 events are damaged" in str(found.text)


def test_the_open_coupon_is_looked_at_when_the_archive_is_opened(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "archive.sqlite"
    archive = Archive.open(path, now)
    session_id = archive.begin(opened)
    archive.append(session_id, NEAR)
    archive.append(session_id, NEAR)
    archive.close()
    with sqlite3.connect(path) as other:
        other.execute("UPDATE event SET payload = replace(payload, '119', '118') WHERE sequence = 2")
    other.close()
    archive = Archive.open(path, now)
    assert f"Session {session_id}: 1 of 3 events are damaged" in str(archive.notice)
    assert archive.unfinished() == session_id
    assert archive.append(session_id, NEAR).sequence == 4
    assert [type(event.payload).__name__ for event in archive.events(session_id)][1:] == [
        "Damaged", "ReadingAccepted", "ReadingAccepted"
    ]  # fmt: skip
    archive.close()


def test_a_coupon_whose_opening_is_damaged_takes_no_list_of_others_with_it(
    tmp_path: Path, opened: Opened, payloads: tuple[Payload, ...]
) -> None:
    """The newest coupon is closed and stands on a grid; the history and the map of the others are shown."""
    path = tmp_path / "archive.sqlite"
    *others, hit = archive_of(path, replace(opened, grid="bed", place="B3"), payloads, sessions=3)
    with sqlite3.connect(path) as other:
        other.execute("UPDATE event SET payload = 'x' WHERE session_id = ? AND sequence = 1", (hit,))
    other.close()
    with closing(Archive.open(path, now)) as archive:
        found = history_of(archive, opened.machine)
        assert found.history is not None
        assert found.no_go.skew_deg is not None
        assert {one.id for one in found.sessions} == {*others, hit}
        with pytest.raises(BadInputError, match="0 coupons can be used"):
            grid_map(archive, "bed")


def test_the_newest_event_that_is_gone_is_missed(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "archive.sqlite"
    archive = Archive.open(path, now)
    session_id = archive.begin(opened)
    for _ in range(3):
        archive.append(session_id, NEAR)
    archive.close()
    with sqlite3.connect(path) as other:
        other.execute("DELETE FROM event WHERE sequence = 4")
    other.close()
    archive = Archive.open(path, now)
    assert "1 of 4 events" in str(archive.notice)
    assert archive.append(session_id, NEAR).sequence == 5
    archive.close()


def test_an_open_coupon_whose_opening_is_damaged_does_not_stop_the_bench(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "archive.sqlite"
    archive = Archive.open(path, now)
    archive.begin(opened)
    archive.close()
    with sqlite3.connect(path) as other:
        other.execute("UPDATE event SET payload = replace(payload, '120', '121')")
    other.close()
    archive = Archive.open(path, now)
    assert archive.unfinished() is None
    assert archive.last_opened(opened.machine) is None
    assert "1 of 1 events" in str(archive.notice)
    assert archive.begin(opened)
    archive.close()


@pytest.mark.parametrize("name", [b"verdict", b"payload", b"kind", b"time_utc"])
def test_a_bit_in_a_columns_name_is_damage_like_any_other(tmp_path: Path, name: bytes) -> None:
    """Python's sqlite3 cannot decode such a name: its own error ended the opening, and nothing was accepted."""
    path = tmp_path / "archive.sqlite"
    make_archive(path, 2)
    with closing(Archive.open(path, now)) as archive:
        written = {one.id: archive.events(one.id) for one in archive.sessions()}
    content = path.read_bytes()
    with closing(sqlite3.connect(path)) as connection:
        tables = [row[0].encode() for row in connection.execute("SELECT sql FROM sqlite_schema WHERE type = 'table'")]
    places = [content.index(text) + text.index(name) for text in tables if name in text]
    assert places
    for at in places:
        path.write_bytes(content[:at] + bytes([content[at] ^ 0x80]) + content[at + 1 :])
        with closing(Archive.open(path, now)) as archive:
            assert "damaged" in str(archive.notice)
            assert {one.id: archive.events(one.id) for one in archive.sessions()} == written
        for left in tmp_path.glob("archive.sqlite*"):
            left.unlink()


def test_a_bit_in_a_name_that_sqlite_cannot_say_is_damage_like_any_other(tmp_path: Path) -> None:
    """'malformed database schema (...)' holds the name; Python's sqlite3 cannot decode the sentence."""
    path = tmp_path / "archive.sqlite"
    make_archive(path, 2)
    with closing(Archive.open(path, now)) as archive:
        written = {one.id: archive.events(one.id) for one in archive.sessions()}
    content = path.read_bytes()
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute("SELECT type || name, length(type) FROM sqlite_schema WHERE sql IS NOT NULL")
        places = [content.index(text.encode()) + length + 2 for text, length in rows]
    for at in places:
        path.write_bytes(content[:at] + bytes([content[at] ^ 0x80]) + content[at + 1 :])
        with closing(Archive.open(path, now)) as archive:
            assert {one.id: archive.events(one.id) for one in archive.sessions()} == written
        for left in tmp_path.glob("archive.sqlite*"):
            left.unlink()


def test_kills_in_the_middle_leave_all_or_nothing(tmp_path: Path) -> None:
    """A small seeded run of tests/endurance/kill_during.py; an update takes too long here."""
    script = ROOT / "tests" / "endurance" / "kill_during.py"
    deeds = ("finish", "export", "export over another", "import", "migrate", "save the bench", "restore the bench")
    only = [word for deed in deeds for word in ("--only", deed)]
    run = [sys.executable, script, "--times", "2", "--seed", "5", *only]
    done = subprocess.run(run, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("faults: 0") == 7
