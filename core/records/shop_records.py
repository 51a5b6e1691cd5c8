"""What the archive keeps of the shop that the bench belongs to: identities, membership, marks of the outbox, and what
other benches logged of the same machines. Empty while the bench is alone.

Made by `Archive.shop`; belongs to one thread at a time, like the archive.
"""

import os
import sqlite3
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from itertools import groupby

from msgspec import Struct

from core.machine import LogEntry, standing
from core.records import value_json
from core.records.chained_tables import EVENTS, MACHINE_EVENTS, examine_log, head_of, rows_of
from core.records.machine_tables import decoded_entry
from core.records.outbox import Entry, LogKind, Parcel, as_sent, proven_part, undo_has_passed
from core.records.session_tables import time_of, time_text

_TABLES = {LogKind.SESSION: EVENTS, LogKind.MACHINE: MACHINE_EVENTS}
TABLES = (
    "bench_identity",
    "shop_membership",
    "machine_identity",
    "outbox_mark",
    "shared_machine_event",
    "shop_bench",
    "shop_machine",
    "machine_told_apart",
    "shared_session",
    "shop_hindrance",
)


class Membership(Struct, frozen=True, kw_only=True):
    """The shop that the bench belongs to, the bench's id and name in it, and whether names of people are sent."""

    shop: str
    bench_id: str
    bench: str
    names: bool
    joined_utc: datetime | None


class MachineIdentity(Struct, frozen=True, kw_only=True):
    """A machine of this bench and its id in the shop; `taken` says up to where others' records of it were fetched, in
    the courier's own terms (empty: from the beginning)."""

    machine: str
    id: str
    taken: str


class Mark(Struct, frozen=True, kw_only=True):
    """The shop has so many entries of a log; `refused` why it does not take what follows: it is not sent again before
    the bench joins anew."""

    kind: LogKind
    log: str
    entries: int
    refused: str = ""


class RefusedLog(Struct, frozen=True, kw_only=True):
    """A log that the shop did not take, and why."""

    kind: LogKind
    log: str
    reason: str


class ShopMachine(Struct, frozen=True, kw_only=True):
    """A machine of the shop; `benches` are the names of those that measured it."""

    id: str
    name: str
    benches: tuple[str, ...]


class Hindrance(Struct, frozen=True, kw_only=True):
    """What keeps the bench from its shop, worded for the archive (core/said_wire.py), and since when."""

    what: str
    since_utc: datetime | None


class SharedEntry(Struct, frozen=True, kw_only=True):
    """An entry of a machine's log that another bench wrote; `log` is what that bench calls the machine."""

    bench: str
    log: str
    entry: Entry


def new_bench_id() -> str:
    """Unique over shops."""
    return f"bench-{os.urandom(8).hex()}"


def new_machine_id() -> str:
    """Unique over shops."""
    return f"machine-{os.urandom(8).hex()}"


class ShopRecords:
    """The shop's tables in an archive; each change is one transaction of it: `writing` one that is on the disk when it
    is left, `marking` one of what is sent or fetched again where it is lost."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        reading: Callable[[], AbstractContextManager[None]],
        writing: Callable[[], AbstractContextManager[None]],
        marking: Callable[[], AbstractContextManager[None]],
        clock: Callable[[], datetime | None],
    ) -> None:
        self._connection = connection
        self._reading = reading
        self._writing = writing
        self._marking = marking
        self._clock = clock

    def now(self) -> datetime | None:
        """By the archive's clock."""
        return self._clock()

    def membership(self) -> Membership | None:
        """The shop of this bench; None while it is alone."""
        rows = self._select("SELECT * FROM shop_membership JOIN bench_identity")
        if not rows:
            return None
        row = rows[0]
        return Membership(
            shop=row["shop"],
            bench_id=row["id"],
            bench=row["bench"],
            names=bool(row["names"]),
            joined_utc=time_of(row["joined_utc"]),
        )

    def bench_id(self) -> str:
        """Who this bench is: made once, the first time it is asked for."""
        rows = self._select("SELECT id FROM bench_identity")
        if rows:
            return str(rows[0]["id"])
        made = new_bench_id()
        with self._writing():
            self._connection.execute("INSERT INTO bench_identity VALUES (?, ?)", (made, time_text(self._clock())))
        return made

    def be_another_bench(self, bench_id: str) -> None:
        """Have this id from now on: after an older card was put in, what is logged here is no longer the log that the
        shop has under the id before."""
        with self._writing():
            self._connection.execute("DELETE FROM bench_identity")
            self._connection.execute("INSERT INTO bench_identity VALUES (?, ?)", (bench_id, time_text(self._clock())))

    def join(self, shop: str, bench: str, *, names: bool, machines: dict[str, str]) -> None:
        """Belong to a shop from now on, with these machines' ids in it; everything is sent to it from the beginning."""
        self.bench_id()
        with self._writing():
            for table in ("outbox_mark", "machine_identity", "machine_told_apart", "shop_machine", "shop_hindrance"):
                self._connection.execute(f"DELETE FROM {table}")
            self._connection.execute(
                "INSERT OR REPLACE INTO shop_membership (one, shop, bench, names, joined_utc) VALUES (1, ?, ?, ?, ?)",
                (shop, bench, names, time_text(self._clock())),
            )
            self._connection.executemany(
                "INSERT INTO machine_identity (machine, id) VALUES (?, ?)", list(machines.items())
            )

    def leave(self) -> None:
        """Be alone again. Everything measured here, and everything that was taken from the shop, stays."""
        with self._writing():
            for table in ("shop_membership", "outbox_mark", "shop_machine", "shop_hindrance"):
                self._connection.execute(f"DELETE FROM {table}")

    def machine_names(self) -> tuple[str, ...]:
        """Every machine that this bench has measured, logged or described itself."""
        rows = self._select(
            "SELECT machine FROM machine_profile UNION SELECT machine FROM machine_event "
            "UNION SELECT machine FROM session WHERE taken_over = 0 ORDER BY machine"
        )
        return tuple(str(row["machine"]) for row in rows if row["machine"])

    def machines(self) -> tuple[MachineIdentity, ...]:
        """The machines that have an id in the shop."""
        rows = self._select("SELECT * FROM machine_identity ORDER BY machine")
        return tuple(MachineIdentity(machine=row["machine"], id=row["id"], taken=row["taken"]) for row in rows)

    def identify(self, machine: str, machine_id: str) -> None:
        """Keep a machine's id in the shop; what others measured of it is fetched from the beginning."""
        with self._writing():
            self._connection.execute(
                "DELETE FROM machine_told_apart WHERE machine = ? AND id = ?", (machine, machine_id)
            )
            self._connection.execute(
                "INSERT OR REPLACE INTO machine_identity (machine, id) VALUES (?, ?)", (machine, machine_id)
            )

    def take_apart(self, machine: str, machine_id: str) -> None:
        """Remember that a machine here is not this one of the shop, for it is asked once; where it was taken for it, it
        gets an id of its own, and what others measured of that one leaves its history."""
        was_same = any((one.machine, one.id) == (machine, machine_id) for one in self.machines())
        with self._writing():
            self._connection.execute("INSERT OR IGNORE INTO machine_told_apart VALUES (?, ?)", (machine, machine_id))
            self._connection.execute(
                "UPDATE machine_identity SET id = ?, taken = '' WHERE machine = ? AND id = ?",
                (new_machine_id(), machine, machine_id),
            )
        if was_same:
            self.put_apart(machine, still=())

    def put_apart(self, machine: str, *, still: Collection[str]) -> None:
        """List what other benches than these measured of a machine here and did to it under a name of its own: they no
        longer mean it."""
        rows = self._select(
            "SELECT DISTINCT bench FROM shared_session JOIN session ON session.id = session WHERE machine = ?1 "
            "AND taken_over = 1 UNION SELECT bench FROM shared_machine_event WHERE machine = ?1",
            machine,
        )
        left = [row["bench"] for row in rows if row["bench"] not in still]
        if not left:
            return
        names = {row["id"]: row["name"] for row in self._select("SELECT * FROM shop_bench")}
        moved = [(f"{machine} ({names.get(bench, bench)})", machine, bench) for bench in left]
        with self._writing():
            self._connection.executemany(
                "UPDATE session SET machine = ? WHERE machine = ? AND taken_over = 1 "
                "AND id IN (SELECT session FROM shared_session WHERE bench = ?)",
                moved,
            )
            self._connection.executemany(
                "UPDATE shared_machine_event SET machine = ? WHERE machine = ? AND bench = ?", moved
            )

    def keep_taken(self, taken: Mapping[str, str]) -> None:
        """Remember up to where others' records of each machine were fetched, in one commit."""
        known = {one.machine: one.taken for one in self.machines()}
        moved = [(mark, machine) for machine, mark in taken.items() if known.get(machine) != mark]
        if moved:
            with self._marking():
                self._connection.executemany("UPDATE machine_identity SET taken = ? WHERE machine = ?", moved)

    def waiting(self, now: datetime | None) -> tuple[tuple[LogKind, str], ...]:
        """The logs of which the shop has not confirmed everything, in the order in which they are sent: what was done
        to the machines, then the sessions as they were begun."""
        rows = self._select(
            "SELECT log FROM log_head LEFT JOIN outbox_mark USING (kind, log) WHERE kind = 'machine_event' "
            "AND log_head.entries > coalesce(outbox_mark.entries, 0) AND coalesce(refused, '') = '' ORDER BY log"
        )
        machines = [(LogKind.MACHINE, str(row["log"])) for row in rows]
        rows = self._select(
            "SELECT session.id, outbox_mark.entries AS sent, session.ordinal < (SELECT max(ordinal) FROM session "
            "WHERE taken_over = 0) AS passed, (SELECT time_utc FROM event WHERE session_id = session.id AND "
            "kind = 'closed' ORDER BY sequence DESC LIMIT 1) AS closed_utc FROM session "
            "JOIN log_head ON log_head.kind = 'event' AND log_head.log = session.id "
            "LEFT JOIN outbox_mark ON outbox_mark.kind = 'event' AND outbox_mark.log = session.id "
            "WHERE taken_over = 0 AND log_head.entries > coalesce(outbox_mark.entries, 0) "
            "AND coalesce(refused, '') = '' AND (closed OR outbox_mark.entries > 0) ORDER BY session.ordinal"
        )
        sessions = [
            (LogKind.SESSION, str(row["id"]))
            for row in rows
            if row["sent"] or undo_has_passed(time_of(row["closed_utc"]), now, newer_session=bool(row["passed"]))
        ]
        return (*machines, *sessions)

    def parcel(self, kind: LogKind, log: str, *, names: bool) -> Parcel:
        """A log as it is sent now, whole: the shop says what of it it has."""
        table = _TABLES[kind]
        with self._reading():
            rows = rows_of(self._connection, table, log)
            found = examine_log(self._connection, table, log, rows)
            head = head_of(self._connection, table, log)
        proven = proven_part([_entry(row) for row in rows], found)
        mark = self._select("SELECT entries FROM outbox_mark WHERE kind = ? AND log = ?", kind.value, log)
        return Parcel(
            kind=kind,
            log=log,
            entries=as_sent(proven, names=names),
            confirmed=mark[0]["entries"] if mark else 0,
            damaged=len(proven) < max(len(rows), head.entries if head else 0),
        )

    def mark(self, marks: Sequence[Mark]) -> None:
        """Keep what the shop has told of some logs, in one commit: every commit can hold up whoever measures."""
        if not marks:
            return
        now = time_text(self._clock())
        with self._marking():
            self._connection.executemany(
                "INSERT OR REPLACE INTO outbox_mark (kind, log, entries, refused, time_utc) VALUES (?, ?, ?, ?, ?)",
                [(one.kind.value, one.log, one.entries, one.refused, now) for one in marks],
            )

    def refused(self) -> tuple[RefusedLog, ...]:
        """What the shop did not take."""
        rows = self._select("SELECT kind, log, refused FROM outbox_mark WHERE refused != '' ORDER BY kind, log")
        return tuple(RefusedLog(kind=LogKind(row["kind"]), log=row["log"], reason=row["refused"]) for row in rows)

    def confirmed(self) -> tuple[int, datetime | None]:
        """How many sessions the shop has confirmed, and when it last confirmed anything."""
        row = self._select(
            "SELECT sum(kind = 'event' AND entries > 0) AS sessions, max(time_utc) AS last_utc FROM outbox_mark"
        )[0]
        return row["sessions"] or 0, time_of(row["last_utc"])

    def is_own(self, session_id: str) -> bool:
        """Whether this bench measured that session, and still has it."""
        return bool(self._select("SELECT 1 FROM session WHERE id = ? AND taken_over = 0", session_id))

    def keep_shared(self, machine: str, entries: Sequence[SharedEntry]) -> None:
        """Keep what other benches logged of a machine, under the name it has here; nothing is written where it is kept
        already."""
        rows = self._select("SELECT bench, log, sequence FROM shared_machine_event WHERE machine = ?", machine)
        known = {(row["bench"], row["log"], row["sequence"]) for row in rows}
        new = [one for one in entries if (one.bench, one.log, one.entry.sequence) not in known]
        if not new:
            return
        with self._writing():
            self._connection.executemany(
                "INSERT INTO shared_machine_event "
                "(bench, log, sequence, machine, time_utc, kind, version, payload, chain) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) "
                "ON CONFLICT (bench, log, sequence) DO UPDATE SET machine = excluded.machine",
                [
                    (one.bench, one.log, one.entry.sequence, machine, one.entry.time_utc, one.entry.kind,
                     one.entry.version, one.entry.payload, one.entry.chain)
                    for one in new
                ],
            )  # fmt: skip

    def shared_logs(self, machine: str) -> tuple[tuple[str, tuple[LogEntry, ...]], ...]:
        """What holds of the logs that other benches kept of a machine, each in its order and with its bench's name;
        what only later software knows is passed over."""
        rows = self._select(
            "SELECT shared_machine_event.*, coalesce(shop_bench.name, bench) AS bench_name FROM shared_machine_event "
            "LEFT JOIN shop_bench ON shop_bench.id = bench WHERE machine = ? ORDER BY bench, log, sequence",
            machine,
        )
        logs = []
        for (_bench, _log), lines in groupby(rows, key=lambda row: (row["bench"], row["log"])):
            log = list(lines)
            entries = standing(entry for row in log if (entry := decoded_entry(row)) is not None)
            logs.append((str(log[0]["bench_name"]), entries))
        return tuple(logs)

    def keep_known(self, benches: Mapping[str, str], machines: Iterable[ShopMachine]) -> None:
        """Keep the shop's benches (names by id) and machines; nothing is written where they are known already."""
        named = {row["id"]: row["name"] for row in self._select("SELECT * FROM shop_bench")}
        new = [(key, name) for key, name in benches.items() if named.get(key) != name]
        wanted = tuple(sorted(machines, key=lambda one: one.id))
        if not new and wanted == self.shop_machines():
            return
        with self._writing():
            self._connection.executemany("INSERT OR REPLACE INTO shop_bench VALUES (?, ?)", new)
            self._connection.execute("DELETE FROM shop_machine")
            self._connection.executemany(
                "INSERT INTO shop_machine VALUES (?, ?, ?)",
                [(one.id, one.name, value_json.dump(list(one.benches))) for one in wanted],
            )

    def shop_machines(self) -> tuple[ShopMachine, ...]:
        """The shop's machines as they were known in the last round, by their ids."""
        rows = self._select("SELECT * FROM shop_machine ORDER BY id")
        return tuple(ShopMachine(id=row["id"], name=row["name"], benches=_names(row["benches"])) for row in rows)

    def told_apart(self) -> frozenset[tuple[str, str]]:
        """Every machine here with an id of the shop that it is not."""
        return frozenset((row["machine"], row["id"]) for row in self._select("SELECT * FROM machine_told_apart"))

    def keep_measured_at(self, session_id: str, bench: str) -> None:
        """Remember which bench measured a session, by its id in the shop."""
        with self._writing():
            self._connection.execute("INSERT OR IGNORE INTO shared_session VALUES (?, ?)", (session_id, bench))

    def measured_at(self, session_ids: Sequence[str]) -> dict[str, str]:
        """The names of the benches that measured those of these sessions that other benches of the shop measured."""
        rows = self._select(
            "SELECT session, coalesce(shop_bench.name, bench) AS name FROM json_each(?) AS wanted "
            "JOIN shared_session ON session = wanted.value LEFT JOIN shop_bench ON shop_bench.id = bench",
            value_json.dump(list(session_ids)),
        )
        return {row["session"]: row["name"] for row in rows}

    def hinder(self, what: str) -> None:
        """Keep what hinders the sending, and since when something does; empty: nothing."""
        known = self.hindrance()
        if what == (known.what if known else ""):
            return
        since_utc = known.since_utc if known else self._clock()
        with self._writing():
            self._connection.execute("DELETE FROM shop_hindrance")
            if what:
                values = (1, what, time_text(since_utc))
                self._connection.execute("INSERT INTO shop_hindrance VALUES (?, ?, ?)", values)

    def hindrance(self) -> Hindrance | None:
        """What hinders the sending now; None where nothing does."""
        rows = self._select("SELECT * FROM shop_hindrance")
        return Hindrance(what=rows[0]["what"], since_utc=time_of(rows[0]["since_utc"])) if rows else None

    def _select(self, statement: str, *values: object) -> list[sqlite3.Row]:
        with self._reading():
            return self._connection.execute(statement, values).fetchall()


def _names(text: str) -> tuple[str, ...]:
    names = value_json.load(text)
    return tuple(map(str, names)) if isinstance(names, list) else ()


def _entry(row: sqlite3.Row) -> Entry:
    """A row of a log; a flipped bit can make anything of a column, which the chain then does not prove."""
    names = ("sequence", "time_utc", "kind", "version", "payload")
    return Entry(**{name: row[name] for name in names}, chain=row["chain"] or "")
