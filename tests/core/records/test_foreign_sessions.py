"""Session folders from elsewhere: whatever stands in them, one line and nothing stored, nothing written beside."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from msgspec.structs import replace

from core import SOFTWARE
from core.errors import BadInputError, StorageError
from core.records import value_json, whole_writing
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.chain import FIRST, next_link
from core.records.checksums import CHECKSUMS_FILE, checksums_text, verify_folder
from core.records.import_folder import import_folder
from core.records.readings_csv_export import readings_text
from core.records.session_id import folder_name, is_session_id
from core.records.session_json import session_text
from core.records.session_record import SessionRecord
from core.records.whole_writing import write_folder
from tests.core.records.hostile_sessions import IDS, LINES, SPOILS, TEXTS, Spoil, signed, spoilt


@pytest.fixture
def folder(record: SessionRecord, tmp_path: Path) -> Path:
    """A download as another bench wrote it."""
    target = tmp_path / "stick" / record.id
    write_folder(small_files_of(record), target)
    return target


def small_files_of(record: SessionRecord) -> dict[str, bytes]:
    """A download without its pictures and pages, which take their time."""
    files = {"session.json": session_text(record).encode(), "readings.csv": readings_text(record).encode()}
    return files | {CHECKSUMS_FILE: checksums_text(files).encode()}


@pytest.fixture
def other(tmp_path: Path, clock) -> Iterator[Archive]:
    with closing(Archive.open(tmp_path / "other" / "archive.sqlite", clock)) as archive:
        yield archive


def refused(folder: Path, archive: Archive) -> str:
    """The one line that says why; nothing of it may be in the archive."""
    with pytest.raises(BadInputError) as caught:
        import_folder(folder, archive)
    assert archive.sessions() == ()
    said = str(caught.value)
    assert said.isprintable()
    assert len(said) < 1_000
    return said


@pytest.mark.parametrize("name", IDS, ids=repr)
def test_an_id_that_is_not_one_is_refused_where_it_enters(folder: Path, other: Archive, name: str) -> None:
    spoilt(folder, lambda data: data.update(session=name))
    refused(folder, other)
    with pytest.raises(BadInputError):
        other.take_over(name, ())


@pytest.mark.parametrize("name", IDS, ids=repr)
def test_an_id_that_is_stored_already_leaves_under_a_new_name(record: SessionRecord, tmp_path: Path, name: str) -> None:
    """Earlier releases let any in: it is still exported, into one folder inside of the one that was chosen."""
    with pytest.raises(BadInputError):
        replace(record, id=name)
    assert is_session_id(folder_name(name))
    assert folder_name(name) == folder_name(name)


def test_a_session_under_a_pattern_is_exported_and_nothing_else_is_touched(
    archive: Archive, recorded: str, tmp_path: Path
) -> None:
    archive._connection.executescript(
        "PRAGMA foreign_keys = OFF; UPDATE session SET id = '*'; UPDATE event SET session_id = '*';"
    )
    record = archived_record(archive, "*")
    neighbour = tmp_path / "out" / "somebody's"
    neighbour.mkdir(parents=True)
    write_folder(small_files_of(record), tmp_path / "out" / record.id)
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"somebody's", folder_name("*")}
    assert json.loads((tmp_path / "out" / record.id / "session.json").read_text())["session"] == record.id


@pytest.mark.parametrize("spoil", SPOILS, ids=range(len(SPOILS)))
def test_every_field_is_checked_before_anything_is_stored(folder: Path, other: Archive, spoil: Spoil) -> None:
    spoilt(folder, spoil)
    refused(folder, other)


@pytest.mark.parametrize("text", TEXTS)
def test_bytes_that_are_no_session_are_one_line(folder: Path, other: Archive, text: bytes) -> None:
    signed(folder, text)
    refused(folder, other)


def test_a_pipe_a_device_and_a_file_without_end_are_not_read(folder: Path, other: Archive, tmp_path: Path) -> None:
    for name in ("session.json", "SHA256SUMS"):
        kept = (folder / name).read_bytes()
        for put in (os.mkfifo, os.mkdir, lambda path: path.symlink_to("/dev/zero"), lambda path: path.symlink_to(path)):
            (folder / name).unlink()
            put(folder / name)
            refused(folder, other)
            (folder / name).rmdir() if (folder / name).is_dir() else (folder / name).unlink()
            (folder / name).write_bytes(kept)
        with (folder / name).open("r+b") as file:
            file.truncate(10 * 1024**4)
        refused(folder, other)
        (folder / name).write_bytes(kept)
    assert import_folder(folder, other).new


@pytest.mark.parametrize("line", LINES)
def test_a_list_of_checksums_that_is_none_is_refused(folder: Path, other: Archive, line: str) -> None:
    with (folder / "SHA256SUMS").open("a") as file:
        file.write(f"{line}\n")
    refused(folder, other)


def test_session_json_must_be_named(folder: Path, other: Archive) -> None:
    lines = (folder / "SHA256SUMS").read_text().splitlines(keepends=True)
    (folder / "SHA256SUMS").write_text("".join(line for line in lines if "session.json" not in line))
    assert "does not name session.json" in refused(folder, other)


def test_a_file_that_nothing_vouches_for_is_mentioned(folder: Path, other: Archive) -> None:
    (folder / "invoice.pdf").write_bytes(b"x")
    assert "invoice.pdf" in str(import_folder(folder, other).remark)


def test_a_verdict_that_the_same_rules_do_not_give_is_said(folder: Path, other: Archive) -> None:
    """The fixture's own word was made up, by software of another name: nothing is known of its rules."""
    assert not import_folder(folder, other).remark


def test_a_verdict_of_this_very_version_is_held_against_its_readings(folder: Path, other: Archive) -> None:
    spoilt(folder, lambda data: data["events"][-1]["payload"].update(software=SOFTWARE, verdict="go"))
    assert str(import_folder(folder, other).remark).startswith(
        "It came with the word GO; its readings, judged anew by the same rules, give NO-GO, not settled."
    )


def test_a_skew_of_this_very_version_is_held_against_its_readings(folder: Path, other: Archive) -> None:
    evaluation = json.loads((folder / "session.json").read_text())["result"]
    words = {"software": SOFTWARE, "verdict": evaluation["verdict"], "size_verdict": evaluation["size_verdict"]}
    spoilt(folder, lambda data: data["events"][-1]["payload"].update(words, skew_deg=0.3))
    assert str(import_folder(folder, other).remark).startswith("It came with a skew of +0.30°; its readings, judged")


def test_fields_that_a_later_version_added_are_passed_on_as_they_were_written(folder: Path, other: Archive) -> None:
    data = json.loads((folder / "session.json").read_text())
    data["events"][-1]["payload"]["seen_later"] = [1.5, "µ"]
    before = FIRST
    for event in data["events"]:
        text = value_json.dump(event["payload"])
        before = next_link(before, (event["sequence"], event["time_utc"], event["kind"], event["version"], text))
        event["chain"] = before
    signed(folder, json.dumps(data))
    session = import_folder(folder, other).session
    assert '"seen_later":[1.5,"µ"]' in str(other.events(session)[-1].written)
    passed_on = json.loads(session_text(archived_record(other, session)))
    assert passed_on["events"] == data["events"]


def test_a_session_of_an_earlier_release_has_no_chain_and_gets_one(folder: Path, other: Archive) -> None:
    spoilt(folder, lambda data: None)
    session = import_folder(folder, other).session
    assert all(event.chain for event in other.events(session))
    assert not import_folder(folder, other).new


def test_one_event_changed_breaks_the_chain_whatever_the_checksum_of_the_file(folder: Path, other: Archive) -> None:
    data = json.loads((folder / "session.json").read_text())
    data["events"][1]["payload"]["reading"]["value"] += 0.01
    signed(folder, json.dumps(data))
    assert "event 2: it is not what was written" in refused(folder, other)


def test_a_chain_with_a_hole_in_it_is_refused(folder: Path, other: Archive) -> None:
    data = json.loads((folder / "session.json").read_text())
    data["events"][3]["chain"] = None
    signed(folder, json.dumps(data))
    assert "event 4" in refused(folder, other)


def test_an_unknown_kind_of_this_very_version_is_damage_not_the_future(folder: Path, other: Archive) -> None:
    def later(data: dict) -> None:
        data["events"][4].update(kind="mark-confirned")

    spoilt(folder, later)
    assert import_folder(folder, other).new  # by software of another name: it may know more

    def this(data: dict) -> None:
        later(data)
        data["session"] = "undated-0a1b2c3d"
        data["events"][0]["payload"]["software"] = SOFTWARE

    spoilt(folder, this)
    with pytest.raises(BadInputError, match="event 5"):
        import_folder(folder, other)


def test_the_open_coupon_is_not_forgotten(folder: Path, other: Archive, opened) -> None:
    mine = other.begin(opened)
    import_folder(folder, other)
    assert other.unfinished() == mine


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(), max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_field_with_anything_in_it_is_taken_whole_or_refused(data, folder: Path, other: Archive) -> None:
    """One place of session.json, wherever it is, replaced by any JSON value."""
    tree = json.loads(files_kept(folder))
    if data.draw(st.booleans(), label="without chain"):
        tree["events"] = [{name: item for name, item in event.items() if name != "chain"} for event in tree["events"]]
    path, node = [], tree
    while isinstance(node, dict | list) and node and (not path or data.draw(st.booleans(), label="deeper")):
        keys = [key for key in (node if isinstance(node, dict) else range(len(node))) if path or key != "result"]
        path.append(data.draw(st.sampled_from(keys), label="where"))
        holder, node = node, node[path[-1]]
    holder[path[-1]] = data.draw(JSON, label="value")
    signed(folder, json.dumps(tree))
    before = {summary.id for summary in other.sessions()}
    try:
        session = import_folder(folder, other).session
    except BadInputError:
        assert {summary.id for summary in other.sessions()} == before
    else:
        small_files_of(archived_record(other, session))


def files_kept(folder: Path) -> str:
    """session.json as it was exported, whatever an earlier example made of it."""
    kept = folder.parent / "kept.json"
    if not kept.exists():
        kept.write_bytes((folder / "session.json").read_bytes())
    return kept.read_text()


# -- two writers


def test_exports_of_one_session_at_once_leave_one_whole_folder(record: SessionRecord, tmp_path: Path) -> None:
    """Eight threads, each with files of its own, so that every one replaces what another has just put there."""
    target = tmp_path / "out" / record.id
    files = small_files_of(record)
    errors: list[BaseException] = []

    def export(number: int) -> None:
        own = {name: content for name, content in files.items() if name != CHECKSUMS_FILE}
        own |= {"readings.csv": f"# {number}\n".encode() * 2_000}
        own |= {CHECKSUMS_FILE: checksums_text(own).encode()}
        try:
            for _ in range(12):
                write_folder(own, target)
                verify_folder(target)
        except BaseException as exc:
            errors.append(exc)

    threads = [threading.Thread(target=export, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [path.name for path in target.parent.iterdir()] == [record.id]
    verify_folder(target)
    # Another writer may take the folder away while it is being looked at from outside; but nobody's writing fails.
    assert not [error for error in errors if isinstance(error, StorageError)]


def test_what_does_not_read_back_never_gets_the_final_name(
    record: SessionRecord, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def differs(_folder: Path) -> None:
        raise BadInputError("readings.csv is not what was written")

    monkeypatch.setattr(whole_writing, "verify_folder", differs)
    with pytest.raises(BadInputError):
        write_folder(small_files_of(record), tmp_path / record.id)
    assert not (tmp_path / record.id).exists()


def test_a_folder_of_somebody_s_own_is_never_replaced(record: SessionRecord, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "accounts.txt").write_text("mine")
    with pytest.raises(StorageError, match="something else is there"):
        write_folder(small_files_of(record), tmp_path / "out")
    assert (tmp_path / "out" / "accounts.txt").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir() if "partial" in path.name] == []
