"""What the card has done to the archive: every log held against its chain, every list against its logs.

Stage: a first look while the archive is opened (profiles, instruments, the open coupon, the ends of the logs written to
last), and a whole one by a worker with a connection of its own. Input: the archive's tables. Output: what was found, to
be said. Nothing is changed but the head of a log whose entries are all proven: it can be written again from them.
"""

import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from pathlib import Path

from msgspec import Struct

from core.records import migrations
from core.records.archive_file import storage_errors, suspect
from core.records.chain import Belief, Findings, Head
from core.records.chained_tables import (
    BY_NAME,
    CHAINED,
    EVENTS,
    INSTRUMENTS,
    MACHINE_EVENTS,
    PROFILES,
    ChainedTable,
    examine_log,
    head_of,
    logs,
    loose_ends,
    put_head,
    rows_of,
)
from core.records.events import Damaged
from core.records.session_tables import index_event, read_events
from core.said import NOTHING, Name, Part, paragraph, said, said_counted

# What is named one by one; of more than these only the number is said.
_NAMED = 3


class HitLog(Struct, frozen=True, kw_only=True):
    """A log that is not as it was written: how many of its entries are lost, of how many."""

    table: str
    log: str
    lost: int
    entries: int

    @property
    def text(self) -> Part:
        """The sentence for the person."""
        count, name = self.lost, Name(self.log)
        if not count:
            return said("A checksum of the records was damaged on the card ({name}); nothing is lost.", name=name)
        if self.table == EVENTS.name:
            return said(
                "Session {name}: {count} of {total} events are damaged on the card; the others are read.",
                name=name,
                count=count,
                total=self.entries,
            )
        if self.table == MACHINE_EVENTS.name:
            return said(
                "Machine {name}: {count} of {total} lines of its log are damaged on the card; the others are read.",
                name=name,
                count=count,
                total=self.entries,
            )
        if self.table == PROFILES.name:
            return said(
                "{count} stored machine profiles are damaged on the card: look at span and holding of each machine.",
                count=count,
            )
        return said(
            "{count} stored instruments are damaged on the card: look at what is said of each instrument.", count=count
        )


class Inspection(Struct, frozen=True, kw_only=True):
    """What a look over the archive found. `entries` is how many were held against a chain, `listed_wrong` the sessions
    whose line in the lists is not what their events say, `structure` what SQLite itself complains of."""

    entries: int = 0
    hit: tuple[HitLog, ...] = ()
    listed_wrong: tuple[str, ...] = ()
    structure: str = ""

    @property
    def whole(self) -> bool:
        """Nothing was found."""
        return not self.hit and not self.listed_wrong and not self.structure

    @property
    def text(self) -> Part:
        """What to tell the person; says nothing where all is well."""
        return paragraph(
            *(one.text for one in self.hit[:_NAMED]),
            said_counted(
                "{count} more log is damaged on the card.",
                "{count} more logs are damaged on the card.",
                count=len(self.hit) - _NAMED,
            )
            if len(self.hit) > _NAMED
            else NOTHING,
            said_counted(
                "The list of sessions is wrong about {count} session: open it to see what was measured.",
                "The list of sessions is wrong about {count} sessions: open them to see what was measured.",
                count=len(self.listed_wrong),
            )
            if self.listed_wrong
            else NOTHING,
            said("The archive's file is damaged: start the bench anew, and what can be read of it is recovered.")
            if self.structure
            else NOTHING,
        )


def first_look(connection: sqlite3.Connection, open_session: str | None, *, may_mend: bool) -> Inspection:
    """What is looked at each time the archive is opened, however many sessions there are."""
    chosen = [(table, log) for table in (EVENTS, MACHINE_EVENTS) for log in loose_ends(connection, table)]
    chosen += [(PROFILES, ""), (INSTRUMENTS, "")]
    if open_session is not None:
        chosen.append((EVENTS, open_session))
    entries, hit = 0, []
    for table, log in dict.fromkeys(chosen):
        count, found = _examined(connection, table, log)
        entries += count
        if not found.whole:
            hit.append(_hit_log(table, log, count, found))
            if may_mend:
                _mend_head(connection, table, log, found)
    return Inspection(entries=entries, hit=tuple(hit))


def mend_heads(connection: sqlite3.Connection, hit: Iterable[HitLog]) -> None:
    """Write the heads of these logs again, where all their entries are proven."""
    for one in hit:
        table = BY_NAME[one.table]
        _mend_head(connection, table, one.log, _examined(connection, table, one.log)[1])


def inspect(path: Path, moved: Callable[[], bool]) -> Inspection:
    """Hold the whole archive against its chains; raises StorageError and its kin.

    `moved` is called between logs, for whoever counts progress, and ends the look by returning False. The file is only
    read, beside whoever measures.
    """
    with storage_errors(path), closing(migrations.opened(path, "mode=ro")) as connection:
        entries, hit, wrong = 0, [], []
        for table in CHAINED:
            for log in logs(connection, table):
                if not moved():
                    break
                count, found = _examined(connection, table, log)
                entries += count
                if not found.whole:
                    hit.append(_hit_log(table, log, count, found))
                if table is EVENTS and found.whole and not _listed_right(connection, log):
                    wrong.append(log)
        structure = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if structure != "ok":
            suspect(path)
    return Inspection(
        entries=entries,
        hit=tuple(hit),
        listed_wrong=tuple(wrong),
        structure="" if structure == "ok" else str(structure),
    )


def _examined(connection: sqlite3.Connection, table: ChainedTable, log: str) -> tuple[int, Findings]:
    rows = rows_of(connection, table, log)
    return len(rows), examine_log(connection, table, log, rows)


def _hit_log(table: ChainedTable, log: str, count: int, found: Findings) -> HitLog:
    lost = found.beliefs.count(Belief.DAMAGED) + len(found.missing)
    return HitLog(table=table.name, log=log, lost=lost, entries=count + len(found.missing))


def _mend_head(connection: sqlite3.Connection, table: ChainedTable, log: str, found: Findings) -> None:
    if not found.missing and set(found.beliefs) == {Belief.PROVEN}:
        rows = rows_of(connection, table, log)
        head = head_of(connection, table, log)
        if head is None or head.entries <= len(rows):
            put_head(connection, table, log, Head(entries=len(rows), chain=rows[-1]["chain"]))


def _listed_right(connection: sqlite3.Connection, session_id: str) -> bool:
    """Whether the columns that lists are made of say what the events say: an empty archive is told the same events."""
    with closing(migrations.opened()) as again:
        migrations.migrate(again)
        try:
            for event in read_events(connection, session_id):
                if not isinstance(event.payload, Damaged):
                    index_event(again, session_id, event)
        except sqlite3.Error:
            return False
        # One that was taken over stands with the machine of this bench that it belongs to.
        elsewhere = connection.execute("SELECT taken_over FROM session WHERE id = ?", (session_id,)).fetchone()
        passed = ("ordinal", "taken_over", "machine") if elsewhere and elsewhere[0] else ("ordinal", "taken_over")
        return all(
            _listed(again, name, session_id, passed) == _listed(connection, name, session_id, passed)
            for name in ("session", "gauge_check")
        )


def _listed(
    connection: sqlite3.Connection, table: str, session_id: str, passed: tuple[str, ...]
) -> list[tuple[object, ...]]:
    key = "id" if table == "session" else "session_id"
    rows = connection.execute(f"SELECT * FROM {table} WHERE {key} = ? ORDER BY ordinal", (session_id,)).fetchall()
    return [tuple(row[name] for name in row.keys() if name not in passed) for row in rows]  # noqa: SIM118
