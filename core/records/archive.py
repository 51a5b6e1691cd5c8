"""The archive: every event of every session in one SQLite file, committed before anybody is told.

Input: payloads, one at a time. Output: events with their sequence number, once they are on the disk. WAL with
synchronous=FULL and one transaction an event: what `append` returned survives kill -9 and a power cut. The columns of
the table `session` are an index over the events, for lists; the events are the record.

An Archive belongs to one thread at a time.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Self

from core.errors import (
    BadInputError,
    DamagedArchiveError,
    DiskFullError,
    LostFileError,
    ReadOnlyError,
    StoppedError,
    StorageError,
)
from core.machine import LogEntry, LogPayload, MachineProfile, in_one_order, standing
from core.records import instrument_tables, machine_tables, recovery, write_ahead_log
from core.records.acknowledged import Acknowledgements, last_acknowledged, missing_words
from core.records.archive_file import (
    FileOnDisk,
    beside,
    connect,
    connect_read_only,
    full_sentence,
    is_damage,
    make_folder,
    read_only_sentence,
    refuses_writing,
    set_aside,
    storage_errors,
)
from core.records.carried_on import MOST_SESSIONS, Carried, carried_on
from core.records.chained_tables import EVENTS, INSTRUMENTS, MACHINE_EVENTS, PROFILES, ChainedTable, next_number
from core.records.events import Event, Opened, Payload
from core.records.inspection import HitLog, first_look, mend_heads
from core.records.instrument_book import CheckHistory, InstrumentBook, UsedInstrument
from core.records.session import Session, may_follow_closed
from core.records.session_id import checked_session_id, new_session_id
from core.records.session_tables import (
    ALL_SESSIONS,
    SessionFilter,
    SessionSummary,
    insert_event,
    list_on_machine,
    mark_taken_over,
    read_events,
    summary_of,
)
from core.records.shop_records import ShopRecords
from core.records.step_back import step_back
from core.records.unstarved import unstarved
from core.records.whole_writing import sync_path
from core.said import NOTHING, Name, Part, Said, paragraph, said, said_counted

Clock = Callable[[], datetime | None]

# Room for a whole session with its write-ahead log and its download; below it measuring does not begin.
MIN_FREE_BYTES = 8 * 1024 * 1024
# So many steps of SQLite's machine from one look whether it is to stop to the next: some microseconds.
_STEPS_TO_A_LOOK = 100


class Archive:
    """Append-only store of sessions; made by `Archive.open`.

    `read_only` is True on a card that refuses writing, or has no room at all; `notice` is a sentence for the person
    about anything unusual found while opening, empty when all was well.
    """

    def __init__(
        self, connection: sqlite3.Connection, path: Path, clock: Clock, *, notice: Part, refusal: Said | None = None
    ) -> None:
        self._connection = connection
        self._path = path
        self._clock = clock
        self._file = FileOnDisk(path)
        self._acknowledged = Acknowledgements(path)
        self._since_start: set[str] = set()  # sessions that were written to since the program was started
        self._refusal = refusal
        self.read_only = refusal is not None
        self.notice = notice

    @classmethod
    def open(cls, path: Path, clock: Clock, *, may_set_aside: bool = True, came_back: bool = False) -> Archive:
        """Open or create the archive at `path`, migrated to this software's schema.

        On a card that is read-only, or full to the last page, it opens for reading. A damaged file is set aside beside
        it, never overwritten, and what can be read of it is taken over; `notice` says so. Only the bench itself may do
        that: whoever opens the archive beside a running bench forbids it by `may_set_aside`, and gets
        DamagedArchiveError. A file that newer software has migrated is refused, unless this is the version that was
        come back to (`came_back`): then its records are taken over and it is kept. Raises StorageError and kin.
        """
        if refuses_writing(path):
            return cls._for_reading(path, clock, read_only_sentence(path))
        try:
            return cls._for_writing(path, clock, may_set_aside=may_set_aside, came_back=came_back)
        except DiskFullError:
            if not path.exists() or not path.stat().st_size:
                raise
            return cls._for_reading(path, clock, full_sentence(path))

    @classmethod
    def _for_reading(cls, path: Path, clock: Clock, refusal: Said) -> Archive:
        words = paragraph(refusal, write_ahead_log.damage_words(path))
        return cls(connect_read_only(path), path, clock, notice=words, refusal=refusal)._looked()

    @classmethod
    def _for_writing(cls, path: Path, clock: Clock, *, may_set_aside: bool, came_back: bool) -> Archive:
        with storage_errors(path):
            make_folder(path.parent)
            if not may_set_aside and write_ahead_log.is_damaged(path):
                raise DamagedArchiveError(
                    said(
                        "{path}: what was stored last is damaged; start the bench, and what can be read of it is "
                        "recovered",
                        path=Name(str(path)),
                    )
                )
            mended = write_ahead_log.mend(path, lambda: beside(path, "damaged", clock())) if may_set_aside else NOTHING
            taken_over = step_back(path, clock()) if came_back else NOTHING
            try:
                found = paragraph(mended, taken_over)
                return cls(connect(path), path, clock, notice=found)._looked()
            except sqlite3.DatabaseError as exc:
                if not (is_damage(exc) and may_set_aside):
                    raise
            aside = set_aside(path, clock())
            archive = cls(connect(path), path, clock, notice=mended)
            archive._recover(aside)
        return archive._looked()

    def begin(self, opened: Opened) -> str:
        """Begin a session and return its id, event 1 committed; raises DiskFullError before measuring can start."""
        self._check_room()
        now = self._clock()
        session_id = new_session_id(now)
        self._since_start.add(session_id)
        with self._transaction(EVENTS, session_id):
            insert_event(self._connection, session_id, Event(sequence=1, time_utc=now, payload=opened))
        return session_id

    def append(self, session_id: str, payload: Payload) -> Event:
        """Commit one event and return it; raises StorageError and its kin when it is not surely on the disk.

        Refused means not acknowledged: after a sync that failed and a crash right behind it, the event may be found.
        """
        with self._transaction(EVENTS, session_id):
            row = self._connection.execute("SELECT closed FROM session WHERE id = ?", (session_id,)).fetchone()
            if row is None:
                raise BadInputError(
                    said("there is no session {session_id} in the archive", session_id=Name(session_id))
                )
            if row["closed"] and not may_follow_closed(payload):
                raise BadInputError(
                    said(
                        "session {session_id} is closed: only a note, its label, its machine or a witness may follow",
                        session_id=Name(session_id),
                    )
                )
            number = next_number(self._connection, EVENTS, session_id)
            event = Event(sequence=number, time_utc=self._clock(), payload=payload)
            return insert_event(self._connection, session_id, event)

    def events(self, session_id: str) -> tuple[Event, ...]:
        """The events of a session in their order; empty when there is no such session. Damaged stands for one that is
        not what was written, or is gone."""
        with storage_errors(self._path):
            return read_events(self._connection, session_id)

    def sessions(
        self, *, machine: str | None = None, only: SessionFilter = ALL_SESSIONS, limit: int = -1
    ) -> tuple[SessionSummary, ...]:
        """The newest sessions first, of one machine or of all, at most `limit` of them (all when negative).

        This bench's own in the order they were begun, whatever its clock said; those measured elsewhere have their
        places between them by time.
        """
        clauses, values = only.clauses()
        if machine is not None:
            clauses, values = ["machine = ?", *clauses], [machine, *values]
        own, others = (
            self._select(
                f"SELECT * FROM session WHERE {' AND '.join([f'taken_over = {elsewhere}', *clauses])} "
                f"ORDER BY {order} DESC LIMIT ?",
                (*values, limit),
            )
            for elsewhere, order in ((0, "ordinal"), (1, "opened_utc DESC, ordinal"))
        )
        if not others:
            return tuple(summary_of(row) for row in own)
        found = ([summary_of(row) for row in reversed(rows)] for rows in (own, others))
        newest_first = tuple(reversed(in_one_order(lambda one: one.opened_utc, *found)))
        return newest_first if limit < 0 else newest_first[:limit]

    def orders(self, session_ids: Collection[str]) -> dict[str, str]:
        """Name or order of those of these sessions that were given one, as it was given last."""
        rows = self._select(
            "SELECT session_id, json_extract(payload, '$.order') AS given FROM event WHERE kind = 'labelled' "
            f"AND json_valid(payload) AND session_id IN ({', '.join('?' * len(session_ids))}) ORDER BY sequence",
            (*session_ids,),
        )
        last = {row["session_id"]: row["given"] for row in rows}
        return {session_id: given for session_id, given in last.items() if isinstance(given, str) and given}

    def begun(self, session_ids: Collection[str]) -> dict[str, int]:
        """Of those of these sessions that this bench measured, numbers in the order they were begun, whatever its clock
        said."""
        rows = self._select(
            f"SELECT id, ordinal FROM session WHERE taken_over = 0 AND id IN ({', '.join('?' * len(session_ids))})",
            (*session_ids,),
        )
        return {row["id"]: row["ordinal"] for row in rows}

    def session_ids(self, beginning: str = "", *, limit: int) -> tuple[str, ...]:
        """Names of the newest sessions that begin so, at most `limit` of them."""
        rows = self._select(
            "SELECT id FROM session WHERE substr(id, 1, length(?1)) = ?1 ORDER BY ordinal DESC LIMIT ?2",
            (beginning, limit),
        )
        return tuple(row["id"] for row in rows)

    def grid(self, name: str) -> tuple[SessionSummary, ...]:
        """The sessions of the coupons that were cut together over the bed, in the order they were measured."""
        rows = self._select("SELECT * FROM session WHERE grid = ? AND grid != '' ORDER BY ordinal", (name,))
        return tuple(summary_of(row) for row in rows)

    def grids(self) -> tuple[tuple[str, str], ...]:
        """Every grid as (name, machine), the one measured last first."""
        rows = self._select(
            "SELECT grid, machine FROM session WHERE grid != '' GROUP BY grid, machine ORDER BY max(ordinal) DESC", ()
        )
        return tuple((row["grid"], row["machine"]) for row in rows)

    def unfinished(self) -> str | None:
        """The newest session of this bench, if it was never closed: where work goes on after a stop."""
        session_id = self._newest_open()
        return session_id if session_id is not None and self.opened(session_id) else None

    def opened(self, session_id: str) -> Opened | None:
        """How a session was opened; None where that is damaged, so that nothing of it means anything."""
        first, *_ = (*self.events(session_id), None)
        return first.payload if first is not None and isinstance(first.payload, Opened) else None

    def newest_of_bench(self, *, simulated: bool) -> str | None:
        """The newest session that was begun at this bench, open or closed; None before the first."""
        rows = self._select(
            "SELECT id FROM session WHERE taken_over = 0 AND simulated = ? ORDER BY ordinal DESC LIMIT 1", (simulated,)
        )
        return str(rows[0]["id"]) if rows else None

    def last_closed(self) -> SessionSummary | None:
        """The coupon of this bench that was finished last, with or without a machine; None before the first."""
        rows = self._select("SELECT * FROM session WHERE closed AND taken_over = 0 ORDER BY ordinal DESC LIMIT 1", ())
        return summary_of(rows[0]) if rows else None

    def last_opened(self, machine: str) -> Opened | None:
        """How the last coupon measured here on this machine was opened, else the last one of any; None before one."""
        rows = [
            *self._select(
                "SELECT id FROM session WHERE machine = ? AND taken_over = 0 ORDER BY ordinal DESC LIMIT 3", (machine,)
            ),
            *self._select("SELECT id FROM session WHERE taken_over = 0 ORDER BY ordinal DESC LIMIT 3", ()),
        ]
        return next((opened for row in rows if (opened := self.opened(row["id"]))), None)

    def closed_before(self, session_id: str) -> SessionSummary | None:
        """The last coupon with a skew closed on the same machine before this one began, at whatever bench; None without
        a name of it."""
        this = self._select("SELECT ordinal, machine, opened_utc, taken_over FROM session WHERE id = ?", (session_id,))
        if not this or not this[0]["machine"]:
            return None
        # Of one bench the order counts, of two the time.
        found = []
        for elsewhere, order in ((0, "ordinal"), (1, "opened_utc")):
            by = "opened_utc" if elsewhere or this[0]["taken_over"] else "ordinal"
            found += self._select(
                f"SELECT * FROM session WHERE machine = ? AND taken_over = {elsewhere} AND skew_deg IS NOT NULL "
                f"AND {by} < ? ORDER BY {order} DESC LIMIT 1",
                (this[0]["machine"], this[0][by]),
            )
        return summary_of(max(found, key=lambda row: row["opened_utc"] or "without a clock")) if found else None

    def save_machine(self, profile: MachineProfile) -> None:
        """Commit a machine's profile; earlier ones stay in the archive, the newest of a name is the one that holds."""
        with self._transaction(PROFILES):
            machine_tables.insert_profile(self._connection, self._clock(), profile)

    def machines(self) -> tuple[MachineProfile, ...]:
        """Every machine's profile: those without a session first, then the last one used."""
        with storage_errors(self._path):
            return machine_tables.profiles(self._connection)

    def append_machine_event(self, machine: str, payload: LogPayload) -> LogEntry:
        """Commit one line of a machine's log and return it."""
        with self._transaction(MACHINE_EVENTS, machine):
            return machine_tables.insert_log_entry(self._connection, machine, self._clock(), payload)

    def machine_events(self, machine: str) -> tuple[LogEntry, ...]:
        """What holds of a machine's log, in its order: what was taken back says nothing of the machine."""
        return standing(self.machine_log(machine))

    def machine_log(self, machine: str) -> tuple[LogEntry, ...]:
        """A machine's log as it was kept, with what was taken back."""
        with storage_errors(self._path):
            return machine_tables.log_entries(self._connection, machine)

    def note_instrument(self, used: UsedInstrument) -> None:
        """Commit what is used under a name, where it is not what is on record already."""
        with self._transaction(INSTRUMENTS):
            instrument_tables.insert_used(self._connection, self._clock(), used)

    def instrument_book(self, *, simulated: bool, on_bench: bool) -> InstrumentBook:
        """The instruments of this bench and their last checks, looked at from the newest session, or (not `on_bench`)
        from the next."""
        with storage_errors(self._path):
            return instrument_tables.book(self._connection, self._clock(), simulated=simulated, on_bench=on_bench)

    def carried_on(self, *, operator: str, simulated: bool) -> Carried:
        """What the last coupons of this bench hand on to the next one of this person."""
        rows = self._select(
            "SELECT id FROM session WHERE simulated = ? AND taken_over = 0 ORDER BY ordinal DESC LIMIT ?",
            (simulated, MOST_SESSIONS),
        )
        logs = ((row["id"], self.events(row["id"])) for row in reversed(rows))
        whole: list[tuple[str, Session]] = []
        for name, log in logs:
            with suppress(BadInputError):  # a damaged one teaches nothing, and measuring goes on
                whole.append((name, Session.from_events(log)))
        return carried_on(whole, operator, self._clock(), self._since_start)

    def checks_up_to(self, session_id: str, instruments: tuple[str, ...]) -> tuple[CheckHistory, ...]:
        """The last checks of these instruments as this session knew them, made in it or in an earlier one."""
        with storage_errors(self._path):
            return instrument_tables.checks_up_to(self._connection, session_id, instruments)

    @property
    def shop(self) -> ShopRecords:
        """What this bench keeps of the shop that it belongs to."""
        return ShopRecords(
            self._connection, lambda: storage_errors(self._path), self._transaction, self._marking, self._clock
        )

    @contextmanager
    def stoppable(self, stopped: Callable[[], bool]) -> Iterator[None]:
        """What is looked up in this block ends with StoppedError once `stopped` says so; nothing is stored in it."""
        self._connection.set_progress_handler(stopped, _STEPS_TO_A_LOOK)
        try:
            yield
        except StorageError as error:
            if stopped():
                raise StoppedError from error
            raise
        finally:
            self._connection.set_progress_handler(None, 0)

    def mend_heads(self, hit: Iterable[HitLog]) -> None:
        """What an inspection has found, of which nothing but the head of a log was hit, is written again."""
        with self._transaction():
            mend_heads(self._connection, hit)

    def settle(self) -> None:
        """Have the card remember how much was acknowledged: a sync that nobody waits for."""
        self._acknowledged.settle()

    def close(self) -> None:
        """Free the file; nothing is waiting to be written."""
        self._acknowledged.close()
        with storage_errors(self._path):
            self._connection.close()

    def rescue(self) -> Path:
        """After LostFileError: put what the open file holds back on the disk, and close; where it lies now.

        Under the archive's own name where nothing else stands there, so that the next opening goes on with it.
        """
        with storage_errors(self._path):
            make_folder(self._path.parent)
            kept = beside(self._path, "rescued", self._clock())
            with closing(sqlite3.connect(kept, isolation_level=None)) as copy:
                self._connection.backup(copy)
            self._connection.close()
            if not self._path.exists():
                self._path.with_name(f"{self._path.name}-wal").unlink(missing_ok=True)
                kept = kept.rename(self._path)
            sync_path(self._path.parent)
        return kept

    def take_over(self, session_id: str, events: tuple[Event, ...], *, machine: str | None = None) -> bool:
        """Store a whole session that was recorded elsewhere, or what was noted in it since; False when all is there.

        `machine` is what this bench calls its machine, where that is known to be one of its own.
        Raises BadInputError when its id has not the form of one, when the events are no session, when it is not closed
        (it would be gone on with here), or when another session has this id.
        """
        checked_session_id(session_id)
        if Session.from_events(events).closed is None:
            raise BadInputError(
                said(
                    "session {session_id} is not closed: close it on its own bench, then take it over",
                    session_id=Name(session_id),
                )
            )
        with self._transaction(EVENTS, session_id):
            # Looked at under the lock: another program may be taking over the same one at this moment.
            present = self.events(session_id)
            shared = min(len(present), len(events))
            if present[:shared] != events[:shared]:
                raise BadInputError(
                    said(
                        "a different session {session_id} is in the archive already: nothing was taken over",
                        session_id=Name(session_id),
                    )
                )
            for event in events[shared:]:
                insert_event(self._connection, session_id, event)
            if not present:
                mark_taken_over(self._connection, session_id)
            if machine is not None:
                list_on_machine(self._connection, session_id, machine)
        return len(events) > shared

    def _newest_open(self) -> str | None:
        rows = self._select("SELECT id, closed FROM session WHERE taken_over = 0 ORDER BY ordinal DESC LIMIT 1", ())
        return str(rows[0]["id"]) if rows and not rows[0]["closed"] else None

    def _looked(self) -> Self:
        """What is looked at with every opening, said in `notice`."""
        last = last_acknowledged(self._path)
        with storage_errors(self._path):
            found = first_look(self._connection, self._newest_open(), may_mend=not self.read_only)
            missing = missing_words(self._connection, last)
        self.notice = paragraph(self.notice, found.text, missing)
        return self

    def _recover(self, aside: Path) -> None:
        """Take over what can be read of the damaged file and say so in `notice`."""
        with self._transaction(), recovery.opened_damaged(aside) as (source, strays):
            found = recovery.copy_records(source, self._connection, strays)
        recovered = said_counted(
            "the archive was damaged: it was set aside as {aside}, and {count} session was recovered",
            "the archive was damaged: it was set aside as {aside}, and {count} sessions were recovered",
            count=found.kept,
            aside=Name(aside.name),
        )
        self.notice = paragraph(self.notice, recovered, _loss(found))

    @contextmanager
    def _transaction(self, table: ChainedTable | None = None, log: str = "") -> Iterator[None]:
        """All or nothing, and on the disk when left: in the file that stands there under its name. `table` and `log`
        are those that are written to."""
        if self._refusal is not None:
            raise ReadOnlyError(self._refusal)
        self._check_file()
        with storage_errors(self._path, storing=True), unstarved():
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                # SQLite has already rolled back by itself after some failures.
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise
        self._check_file()
        if table is not None:
            self._acknowledged.note(self._connection, table, log)

    @contextmanager
    def _marking(self) -> Iterator[None]:
        """A transaction for what may be lost with the power, as it can be had again: the disk is waited for once the
        lock is free, so that nobody who measures waits for it too."""
        self._connection.execute("PRAGMA synchronous = NORMAL")
        try:
            with self._transaction():
                yield
        finally:
            self._connection.execute("PRAGMA synchronous = FULL")
        with storage_errors(self._path, storing=True):
            write_ahead_log.sync(self._path)

    def _check_file(self) -> None:
        if not self._file.is_there():
            raise LostFileError(
                said(
                    "{file}: the archive's file was removed or replaced while it was in use: nothing was stored",
                    file=Name(str(self._path)),
                )
            )

    def _select(self, statement: str, values: tuple[object, ...]) -> list[sqlite3.Row]:
        with storage_errors(self._path):
            return self._connection.execute(statement, values).fetchall()

    def _check_room(self) -> None:
        if self._refusal is not None:
            raise ReadOnlyError(self._refusal)
        self._check_file()
        free = shutil.disk_usage(self._path.parent).free
        if free < MIN_FREE_BYTES:
            raise DiskFullError(
                said(
                    "{folder}: {free} kB are free, a session needs {needed} kB; make room before measuring",
                    folder=Name(str(self._path.parent)),
                    free=free // 1024,
                    needed=MIN_FREE_BYTES // 1024,
                )
            )


def _loss(found: recovery.Recovered) -> Part:
    if not (found.left or found.lost):
        return NOTHING
    return said(
        "({sessions} whole sessions and {events} events of others are lost)", sessions=found.left, events=found.lost
    )
