"""The whole bench onto a stick and back on a new card: everything is there, what was there before is kept."""

from __future__ import annotations

import hashlib
import signal
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from core.errors import BadInputError, DiskFullError
from core.machine.profile import MachineProfile
from core.records.archive import Archive
from core.records.checksums import verify_folder
from core.records.events import Note, Opened
from core.records.migrations import SCHEMA_VERSION, migrate
from core.records.saved_bench import fetch_bench, newest_saved, restore_bench, save_bench
from tests.core.records.hostile_sessions import SCHEMES
from tests.core.records.test_archive_survives import small_disk


def now() -> None:
    return None


@pytest.fixture
def data(tmp_path: Path, opened: Opened) -> Path:
    folder = tmp_path / "data"
    with closing(Archive.open(folder / "archive.sqlite", now)) as archive:
        archive.save_machine(MachineProfile(name="template router", span_mm=640.0))
        archive.append(archive.begin(opened), Note(text="birch"))
    (folder / "settings.json").write_text('{"language": "de"}')
    return folder


def contents(folder: Path) -> tuple[object, ...]:
    with closing(Archive.open(folder / "archive.sqlite", now)) as archive:
        return archive.sessions(), archive.machines(), [archive.events(one.id) for one in archive.sessions()]


def test_a_bench_is_saved_while_it_measures_and_is_back_on_a_new_card(tmp_path: Path, data: Path) -> None:
    with closing(Archive.open(data / "archive.sqlite", now)) as measuring:
        session = measuring.unfinished()
        assert session is not None
        measuring.append(session, Note(text="still in the write-ahead log"))
        saved = save_bench(data, tmp_path / "stick", None)
    verify_folder(saved)
    assert [path.name for path in (tmp_path / "stick").iterdir()] == [saved.name]
    assert restore_bench(saved, tmp_path / "new card", None) == ()
    assert contents(tmp_path / "new card") == contents(data)
    assert (tmp_path / "new card" / "settings.json").read_text() == '{"language": "de"}'


def test_what_was_there_before_is_kept(tmp_path: Path, data: Path, opened: Opened) -> None:
    saved = save_bench(data, tmp_path / "stick", None)
    with closing(Archive.open(data / "archive.sqlite", now)) as archive:
        later = archive.begin(opened)
    kept = restore_bench(saved, data, None)
    with closing(Archive.open(data / "archive.sqlite", now)) as archive:
        assert archive.events(later) == ()
    (before,) = (path for path in kept if path.name.startswith("archive"))
    with closing(Archive.open(before, now)) as archive:
        assert len(archive.events(later)) == 1


@pytest.mark.parametrize("spoil", ["a bit", "missing", "not ours", "none"])
def test_what_is_no_whole_saved_bench_changes_nothing(tmp_path: Path, data: Path, spoil: str) -> None:
    saved = save_bench(data, tmp_path / "stick", None)
    archive = saved / "archive.sqlite"
    if spoil == "a bit":
        content = bytearray(archive.read_bytes())
        content[5000] ^= 1
        archive.write_bytes(content)
    elif spoil == "missing":
        archive.unlink()
    elif spoil == "not ours":
        archive.write_bytes(b"")
        (saved / "SHA256SUMS").write_text(f"{hashlib.sha256(b'').hexdigest()}  archive.sqlite\n")
    else:
        saved = tmp_path
    before = contents(data)
    with pytest.raises(BadInputError):
        restore_bench(saved, data, None)
    assert contents(data) == before


@pytest.mark.parametrize("what", SCHEMES)
def test_tables_of_somebody_else_are_not_looked_into(tmp_path: Path, data: Path, what: str) -> None:
    """A stick can bring a view that never ends under the name of a table: nothing is asked of it before it is ours."""
    saved = save_bench(data, tmp_path / "stick", None)
    with closing(sqlite3.connect(saved / "archive.sqlite", isolation_level=None)) as connection:
        connection.executescript(SCHEMES[what])
    listed = [f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n"
              for path in saved.iterdir() if path.name != "SHA256SUMS"]  # fmt: skip
    (saved / "SHA256SUMS").write_text("".join(listed))
    verify_folder(saved)
    before = contents(data)
    with pytest.raises(BadInputError):
        newest_saved(saved.parent)
    with pytest.raises(BadInputError):
        fetch_bench(saved, data)
    with pytest.raises(BadInputError):
        restore_bench(saved, data, None)
    assert not [*data.glob("*.restoring"), *data.glob("fetched*")], "what was refused takes no room on the card"
    assert contents(data) == before


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION + 1))
def test_a_bench_that_an_earlier_version_saved_is_taken_back(tmp_path: Path, version: int) -> None:
    saved = tmp_path / "cornerwise-bench-undated-0a1b2c3d"
    saved.mkdir()
    with closing(sqlite3.connect(saved / "archive.sqlite", isolation_level=None)) as connection:
        migrate(connection, version)
    digest = hashlib.sha256((saved / "archive.sqlite").read_bytes()).hexdigest()
    (saved / "SHA256SUMS").write_text(f"{digest}  archive.sqlite\n")
    restore_bench(saved, tmp_path / "new card", None)
    with closing(Archive.open(tmp_path / "new card" / "archive.sqlite", now)) as archive:
        assert not archive.notice


def test_a_file_that_is_all_holes_is_refused_unread(tmp_path: Path, data: Path) -> None:
    """4 GB of nothing take a stick minutes, and a file of 10 TB fits on any."""
    saved = save_bench(data, tmp_path / "stick", None)
    with (saved / "archive.sqlite").open("r+b") as file:
        file.truncate(10 * 1024**4)
    before = read_bytes()
    with pytest.raises(BadInputError, match="is not what was written"):
        restore_bench(saved, tmp_path / "new card", None)
    assert read_bytes() - before < 1_000_000


def read_bytes() -> int:
    """How much this process has read so far (proc(5), rchar)."""
    return int(Path("/proc/self/io").read_text().split()[1])


def test_there_is_nothing_to_save_before_the_first_coupon(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="nothing to save"):
        save_bench(tmp_path, tmp_path / "stick", None)
    assert not (tmp_path / "stick").exists()


def ends_at(share: float):
    """Who waits no longer once so much is done."""

    def told(done: int, of: int) -> None:
        if done / of >= share:
            raise KeyboardInterrupt

    return told


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0])
def test_who_ends_a_restore_finds_the_bench_as_it_was(tmp_path: Path, data: Path, opened: Opened, share: float) -> None:
    saved = save_bench(data, tmp_path / "stick", None)
    with closing(Archive.open(data / "archive.sqlite", now)) as archive:
        archive.begin(opened)
    before, names = contents(data), sorted(path.name for path in data.iterdir())
    with pytest.raises(KeyboardInterrupt):
        restore_bench(saved, data, None, ends_at(share))
    assert contents(data) == before
    assert sorted(path.name for path in data.iterdir()) == names


def test_what_cannot_be_ended_any_more_is_done_first(
    tmp_path: Path, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C between the settings and the archive: both are taken back, then the program ends."""
    saved = save_bench(data, tmp_path / "stick", None)
    (data / "settings.json").write_text("{}")
    monkeypatch.setattr("core.records.saved_bench.forget", lambda _path: signal.raise_signal(signal.SIGINT))
    heard_before = signal.signal(signal.SIGINT, signal.default_int_handler)  # in a shell's background nobody hears it
    try:
        with pytest.raises(KeyboardInterrupt):
            restore_bench(saved, data, None)
    finally:
        signal.signal(signal.SIGINT, heard_before)
    assert (data / "settings.json").read_text() == '{"language": "de"}'
    assert len(list(data.glob("archive*before-restore*"))) >= 1
    assert not list(data.glob("*.restoring*"))


@pytest.mark.parametrize("share", [0.0, 0.3, 0.6])
def test_who_ends_a_save_leaves_nothing_half_on_the_stick(tmp_path: Path, data: Path, share: float) -> None:
    with pytest.raises(KeyboardInterrupt):
        save_bench(data, tmp_path / "stick", None, ends_at(share))
    assert list((tmp_path / "stick").iterdir()) == []


def test_what_a_pulled_stick_kept_of_a_save_is_taken_away_by_the_next(tmp_path: Path, data: Path) -> None:
    """Each save has a name of its own, so what was cut off stayed for ever, as large as the archive."""
    stick = tmp_path / "stick"
    whole = save_bench(data, stick, None)
    cut_off = whole.rename(whole.with_name(f"{whole.name}-partial-0a1b2c3d"))
    whole = save_bench(data, stick, None)
    foreign = stick / "cornerwise-bench-plans"
    foreign.mkdir()
    assert not cut_off.exists()
    newest = save_bench(data, stick, None)
    assert sorted(stick.iterdir()) == sorted((whole, newest, foreign))


def test_what_another_is_saving_meanwhile_is_not_taken_away(tmp_path: Path, data: Path) -> None:
    stick = tmp_path / "stick"
    others: list[threading.Thread] = []

    def at_once(_done: int, _of: int) -> None:
        if not others:
            others.append(threading.Thread(target=save_bench, args=(data, stick, None)))
            others[0].start()
            others[0].join(0.5)

    save_bench(data, stick, None, at_once)
    others[0].join()
    assert len(list(stick.iterdir())) == 2
    for folder in stick.iterdir():
        verify_folder(folder)


def test_a_full_stick_is_not_called_the_full_card_of_the_bench(data: Path, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    with small_disk(stick, "size=8k"), pytest.raises(DiskFullError) as refused:
        save_bench(data, stick, None)
    assert str(refused.value.what) == f"{stick}: there is no room left; nothing was written"
