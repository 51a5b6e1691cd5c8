"""What an archive keeps of a shop, without one: what waits, in what order, and in what form."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

from core.machine.machine_log import MachineEvent, MachineEventKind
from core.records.archive import Archive
from core.records.archive_file import connect
from core.records.events import Note, Opened, Payload, Undone
from core.records.outbox import UNDO_PASSED, LogKind, first_unproven, undo_has_passed
from core.records.recovery import copy_records
from core.records.shop_records import Mark

LATER = datetime(2026, 3, 2, tzinfo=UTC)


def joined(archive: Archive) -> Archive:
    archive.shop.join("shop:5432/coupons", "bench by the door", names=False, machines={"template router": "machine-1"})
    return archive


def test_a_bench_has_one_id_for_ever(archive: Archive) -> None:
    made = archive.shop.bench_id()
    joined(archive)
    archive.shop.leave()
    assert archive.shop.bench_id() == made
    assert archive.shop.membership() is None


def test_what_waits_is_what_the_logs_have_and_the_shop_has_not_confirmed(
    archive: Archive, recorded: str, opened: Opened
) -> None:
    joined(archive)
    archive.append_machine_event("template router", MachineEvent(kind=MachineEventKind.CRASH))
    assert archive.shop.waiting(LATER) == ((LogKind.MACHINE, "template router"), (LogKind.SESSION, recorded))
    archive.shop.mark([Mark(kind=LogKind.MACHINE, log="template router", entries=1)])
    entries = len(archive.events(recorded))
    archive.shop.mark([Mark(kind=LogKind.SESSION, log=recorded, entries=entries)])
    assert archive.shop.waiting(LATER) == ()
    archive.append(recorded, Note(text="later"))
    unfinished = archive.begin(opened)
    assert archive.shop.waiting(LATER) == ((LogKind.SESSION, recorded),)
    archive.shop.mark([Mark(kind=LogKind.SESSION, log=recorded, entries=entries, refused="why")])
    assert archive.shop.waiting(LATER) == ()
    (refused,) = archive.shop.refused()
    assert (refused.log, refused.reason) == (recorded, "why")
    joined(archive)
    assert archive.shop.waiting(LATER) == ((LogKind.MACHINE, "template router"), (LogKind.SESSION, recorded))
    assert archive.unfinished() == unfinished


def test_a_session_waits_for_its_undo_and_no_longer_than_for_the_next_coupon(
    archive: Archive, recorded: str, opened: Opened
) -> None:
    joined(archive)
    closed = archive.events(recorded)[-1].time_utc
    assert closed is not None
    assert archive.shop.waiting(closed + UNDO_PASSED - timedelta(seconds=1)) == ()
    assert archive.shop.waiting(None) == ()
    assert archive.shop.waiting(closed + UNDO_PASSED) == ((LogKind.SESSION, recorded),)
    archive.append(recorded, Undone(number=archive.events(recorded)[-1].sequence))
    assert archive.shop.waiting(LATER) == ()
    assert undo_has_passed(closed, closed, newer_session=True)
    assert undo_has_passed(None, closed, newer_session=False)
    assert undo_has_passed(closed + timedelta(days=9_000), closed, newer_session=False)


def test_what_is_sent_is_proven_by_its_own_chain_with_names_and_without(archive: Archive, recorded: str) -> None:
    with_names, without = (archive.shop.parcel(LogKind.SESSION, recorded, names=names) for names in (True, False))
    assert [entry.chain for entry in with_names.entries] == [event.chain for event in archive.events(recorded)]
    assert "Ana" in with_names.entries[0].payload
    assert "Ana" not in without.entries[0].payload
    assert first_unproven(without.entries) is None
    assert first_unproven((*without.entries[:3], *with_names.entries[3:])) == 4


def test_of_a_damaged_log_goes_what_is_proven(archive: Archive, recorded: str, tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "bench" / "archive.sqlite")) as card:
        card.execute(
            "UPDATE event SET payload = replace(payload, '143.85', '143.95') WHERE session_id = ?", (recorded,)
        )
        card.commit()
    parcel = archive.shop.parcel(LogKind.SESSION, recorded, names=True)
    assert parcel.damaged
    assert 0 < len(parcel.entries) < len(archive.events(recorded))
    assert first_unproven(parcel.entries) is None


def test_what_a_recovered_archive_knows_of_its_shop(
    archive: Archive, recorded: str, payloads: tuple[Payload, ...], tmp_path: Path, clock: Callable[[], datetime]
) -> None:
    before = joined(archive).shop.membership()
    archive.shop.mark([Mark(kind=LogKind.SESSION, log=recorded, entries=5)])
    with closing(connect(tmp_path / "bench" / "archive.sqlite")) as source, closing(connect(tmp_path / "new")) as into:
        copy_records(source, into)
        into.commit()
    recovered = Archive.open(tmp_path / "new", clock)
    assert before is not None
    assert recovered.shop.membership() == before
    assert recovered.shop.machines() == archive.shop.machines()
    assert recovered.shop.waiting(LATER) == ((LogKind.SESSION, recorded),)
    recovered.close()
