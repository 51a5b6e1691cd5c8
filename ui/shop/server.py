"""The shop's database as a bench sees it: the one place that knows its driver.

Input: a ShopAccess. Output: what the shop has, and its word on what is sent. TLS is verified by default and cannot be
switched off here: the server's certificate must be the shop's, and carry the host's name. What the driver and the
server complain of becomes a sentence: NotAvailableError where the way is barred (try again later), a Refused where the
shop will never take it.
"""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import psycopg
from msgspec import Struct
from psycopg.rows import dict_row

from core.errors import NotAvailableError
from core.records import Entry, LogKind, Parcel, SharedEntry, ShopMachine, folder_name, forked
from core.said import Name, Part, Said, said
from ui.shop.access import ShopAccess
from ui.shop.answers import Delivered, Refused, SharedSession

_SYSTEM_CERTIFICATES = "/etc/ssl/certs/ca-certificates.crt"
# A server that does not answer holds nothing up but the sending service; it comes back.
_TIMES = {"connect_timeout": 15, "keepalives_idle": 20, "keepalives_interval": 5, "keepalives_count": 3,
          "tcp_user_timeout": 30_000}  # fmt: skip
_ENTRY = "sequence, time_utc, kind, version, payload, chain"
# Sessions that are taken at once, and how much of one, of one log, and of all logs of a machine is read at all: what a
# bench that means harm has put there must not end the service of the others for want of memory.
_AT_ONCE = 25
_SESSION_BYTES = 1024 * 1024
_LOG_BYTES = 4 * 1024 * 1024
_LOGS_BYTES = 16 * 1024 * 1024
# What is asked in every round; their plans in a large shop: python -m tests.benchmarks.shop_size.
SESSIONS_OF = (
    "SELECT session.id, session.bench, session.changed::text AS changed FROM cornerwise.session "
    "JOIN cornerwise.machine_name_now AS names "
    "ON names.bench = session.bench AND names.name = session.machine_name "
    "WHERE names.machine = %s AND closed AND simulated = %s AND (changed, session.id) > (%s::text::xid8, %s) "
    "AND opened <= received + interval '1 hour' ORDER BY session.changed, session.id LIMIT %s"
)
EVENTS_OF = f"SELECT {_ENTRY} FROM cornerwise.session_event WHERE session = %s ORDER BY sequence"
_BYTES_OF = "SELECT coalesce(sum(octet_length(payload)), 0) AS bytes FROM cornerwise.session_event WHERE session = %s"
LOGS_OF = (
    "SELECT names.bench, names.name AS log, (SELECT coalesce(sum(octet_length(payload)), 0) FROM "
    "cornerwise.machine_event AS event WHERE event.bench = names.bench AND event.log = names.name) AS bytes "
    "FROM cornerwise.machine_name_now AS names WHERE names.machine = %s ORDER BY names.bench, names.name"
)
LOG_OF = f"SELECT bench, log, {_ENTRY} FROM cornerwise.machine_event WHERE bench = %s AND log = %s ORDER BY sequence"
# As its shop calls each bench: those of one name, which their computers often have, by the end of the id as well.
_BENCHES = (
    "(SELECT id, CASE WHEN id = cornerwise.this_bench() OR count(*) OVER (PARTITION BY name) = 1 THEN name "
    "ELSE left(name, 195) || ' ' || right(id, 4) END AS name FROM cornerwise.bench) AS bench"
)
Row = dict[str, Any]
Connection = psycopg.Connection[Row]
# What breaks off is said by whoever asked; the driver's own word for it is for nobody here.
logging.getLogger("psycopg").setLevel(logging.ERROR)


class ShopServer:
    """One connection as a bench; made by `connected`."""

    def __init__(self, connection: Connection, access: ShopAccess) -> None:
        self._connection = connection
        self._access = access

    def register(self, bench: str, name: str) -> Part | None:
        """Be known to the shop; why not, where this role is another bench's."""
        with self._asking():
            self._connection.execute(
                "INSERT INTO cornerwise.bench (id, role, name) VALUES (%s, session_user, %s) ON CONFLICT DO NOTHING",
                (bench, name),
            )
            known = self._connection.execute("SELECT cornerwise.this_bench() AS id").fetchone()
        if known is not None and known["id"] == bench:
            return None
        return said(
            "{role} admits another bench to this shop: ask its keeper to admit this one", role=Name(self._access.role)
        )

    def machines(self) -> tuple[ShopMachine, ...]:
        """The machines that the shop knows."""
        rows = self._rows(
            "SELECT machine.id, machine.name, array_remove(array_agg(DISTINCT bench.name), NULL) AS benches "
            "FROM cornerwise.machine LEFT JOIN cornerwise.machine_name_now AS names ON names.machine = machine.id "
            f"LEFT JOIN {_BENCHES} ON bench.id = names.bench GROUP BY machine.id ORDER BY machine.name, machine.id"
        )
        return tuple(ShopMachine(id=row["id"], name=row["name"], benches=tuple(row["benches"])) for row in rows)

    def benches(self) -> dict[str, str]:
        """The names of the shop's benches by their ids."""
        return {row["id"]: row["name"] for row in self._rows(f"SELECT id, name FROM {_BENCHES}")}

    def named(self, bench: str) -> dict[str, str]:
        """The machines' ids by what a bench calls them."""
        rows = self._rows("SELECT name, machine FROM cornerwise.machine_name_now WHERE bench = %s", bench)
        return {row["name"]: row["machine"] for row in rows}

    def meant_by(self, machine: str) -> frozenset[tuple[str, str]]:
        """The ids of the benches that mean this machine, each with its name for it."""
        rows = self._rows("SELECT bench, name FROM cornerwise.machine_name_now WHERE machine = %s", machine)
        return frozenset((row["bench"], row["name"]) for row in rows)

    def add_machine(self, bench: str, machine: str, name: str) -> None:
        """A machine that the shop does not know yet."""
        with self._asking():
            self._connection.execute(
                "INSERT INTO cornerwise.machine (id, name, bench) VALUES (%s, %s, %s)", (machine, name, bench)
            )

    def name_machine(self, bench: str, name: str, machine: str) -> None:
        """From now on the bench means this machine of the shop by that name."""
        with self._asking():
            self._connection.execute(
                "INSERT INTO cornerwise.machine_name (bench, name, number, machine) SELECT %s, %s, "
                "coalesce(max(number), 0) + 1, %s FROM cornerwise.machine_name WHERE bench = %s AND name = %s",
                (bench, name, machine, bench, name),
            )

    def deliver(self, bench: str, parcel: Parcel) -> Delivered | Refused:
        """Send what the shop has not yet, in order, all of it or nothing; raises NotAvailableError where the way is
        barred, and then nothing is lost: what has arrived is known by the next time."""
        table = _TABLES[parcel.kind]
        name = folder_name(parcel.log) if parcel.kind is LogKind.SESSION else parcel.log
        theirs = 0
        try:
            with self._asking():
                theirs, no_more = self._common(table, bench, name, parcel.entries)
                if no_more is not None:
                    return Refused(entries=theirs, reason=no_more)
                new = parcel.entries[theirs:]
                with self._connection.cursor() as cursor:
                    cursor.executemany(table.insert, [table.values(bench, name, entry) for entry in new])
        except psycopg.Error as error:
            return Refused(entries=theirs, reason=_refusal(error))
        return Delivered(entries=len(parcel.entries), sent=len(new))

    def sessions_of(self, machine: str, since: str, *, simulated: bool) -> tuple[tuple[SharedSession, ...], str, bool]:
        """Finished sessions of a machine that came or changed since a mark, the next mark, and whether there are more.

        Those that a bench measured in the future of the server's clock are left: their place in a history is not known.
        """
        with self._asking(isolation="REPEATABLE READ"):
            mark = self._mark()
            rows = self._connection.execute(
                SESSIONS_OF.encode(),
                (machine, simulated, *_since(since, mark), _AT_ONCE),
            ).fetchall()
            sessions = tuple(
                SharedSession(id=row["id"], bench=row["bench"], machine=machine, entries=self._events(row["id"]))
                for row in rows
            )
        more = len(rows) == _AT_ONCE
        return sessions, f"{rows[-1]['changed']}/{rows[-1]['id']}" if more else mark, more

    def all_sessions(self, *, limit: int) -> Iterator[SharedSession]:
        """The newest finished sessions of the whole shop, the oldest of them first."""
        rows = self._rows(
            "SELECT session.id, session.bench, coalesce(names.machine, '') AS machine FROM (SELECT * FROM "
            "cornerwise.session WHERE closed ORDER BY id DESC LIMIT %s) AS session "
            "LEFT JOIN cornerwise.machine_name_now AS names "
            "ON names.bench = session.bench AND names.name = session.machine_name ORDER BY session.id",
            limit,
        )
        for row in rows:
            with self._asking():
                entries = self._events(row["id"])
            yield SharedSession(id=row["id"], bench=row["bench"], machine=row["machine"], entries=entries)

    def logs_of(self, machine: str) -> tuple[tuple[SharedEntry, ...], tuple[tuple[str, str], ...]]:
        """What every bench logged of a machine; and which logs, by bench and name, are too large to be read."""
        entries: list[SharedEntry] = []
        too_large: list[tuple[str, str]] = []
        room = _LOGS_BYTES
        for log in self._rows(LOGS_OF, machine):
            if log["bytes"] > min(room, _LOG_BYTES):
                too_large.append((log["bench"], log["log"]))
                continue
            room -= log["bytes"]
            rows = self._rows(LOG_OF, log["bench"], log["log"])
            entries += [SharedEntry(bench=row["bench"], log=row["log"], entry=_entry(row)) for row in rows]
        return tuple(entries), tuple(too_large)

    def _common(self, table: _Table, bench: str, log: str, entries: Sequence[Entry]) -> tuple[int, Said | None]:
        """How much of a log the shop has; why no more of it can be sent, where it is not the beginning of ours."""
        head = self._connection.execute(table.head, {"bench": bench, "log": log}).fetchone()
        if head is None:
            return 0, None
        theirs = int(head["entries"])
        shared = min(theirs, len(entries))
        kept = self._connection.execute(table.kept, {"bench": bench, "log": log, "sequence": shared}).fetchone()
        same = kept is not None and kept["chain"] == entries[shared - 1].chain
        if head["bench"] != bench:
            # What this bench sent while it was known by another id, or took over from another: it is there already.
            if same and shared == len(entries):
                return shared, None
            return theirs, said("another bench has sent {log} to the shop: nothing was overwritten", log=Name(log))
        if theirs > len(entries) or not same:
            return theirs, forked(log)
        return theirs, None

    def _events(self, session: str) -> tuple[Entry, ...]:
        """None of a session that is too large to be read."""
        found = self._connection.execute(_BYTES_OF, (session,)).fetchone()
        if found is None or found["bytes"] > _SESSION_BYTES:
            return ()
        rows = self._connection.execute(EVENTS_OF.encode(), (session,)).fetchall()
        return tuple(_entry(row) for row in rows)

    def _mark(self) -> str:
        row = self._connection.execute("SELECT pg_snapshot_xmin(pg_current_snapshot())::text AS mark").fetchone()
        return str(row["mark"]) if row else ""

    def _rows(self, statement: str, *values: object) -> list[Row]:
        with self._asking():
            return self._connection.execute(statement.encode(), values).fetchall()

    @contextmanager
    def _asking(self, isolation: str = "READ COMMITTED") -> Iterator[None]:
        """One transaction; where the way is barred, or the server has no room, in words."""
        try:
            with self._connection.transaction():
                self._connection.execute(f"SET TRANSACTION ISOLATION LEVEL {isolation}".encode())
                yield
        except psycopg.OperationalError as error:
            raise _barred(error) from error


@contextmanager
def connected(access: ShopAccess) -> Iterator[ShopServer]:
    """A connection to the shop for as long as the context lasts; raises NotAvailableError, saying what is wrong."""
    with tempfile.NamedTemporaryFile("w", suffix=".pem") as certificate:
        certificate.write(access.certificate)
        certificate.flush()
        try:
            connection = psycopg.connect(
                **connection_options(access, certificate.name), autocommit=True, row_factory=dict_row
            )
        except psycopg.Error as error:
            raise _barred(error) from error
    with connection:
        check_there(connection, access)
        try:
            yield ShopServer(connection, access)
        except psycopg.Error as error:
            # What is no entry of a log, such as one machine too many, has no log that it is said of.
            raise NotAvailableError(_refusal(error)) from error


def check_there(connection: psycopg.Connection[Any], access: ShopAccess) -> None:
    """Raises NotAvailableError where the database is no shop."""
    found = connection.execute("SELECT FROM pg_namespace WHERE nspname = 'cornerwise'").fetchone()
    if found is None:
        raise NotAvailableError(
            said("{shop}: there is no shop in this database yet (cornerwise shop set-up)", shop=Name(access.shop))
        )


def connection_options(access: ShopAccess, certificate_file: str) -> dict[str, Any]:
    """What the driver is given; `certificate_file` holds the access's own certificate, where it has one."""
    return {
        "host": access.host,
        "port": access.port,
        "dbname": access.database,
        "user": access.role,
        "password": access.password,
        "sslmode": "verify-full",
        "sslrootcert": certificate_file if access.certificate else _SYSTEM_CERTIFICATES,
        "application_name": "cornerwise",
        **_TIMES,
    }


class _Table(Struct, frozen=True, kw_only=True):
    """The statements for one kind of log."""

    head: str
    kept: str
    insert: str
    first: int

    def values(self, bench: str, log: str, entry: Entry) -> tuple[object, ...]:
        """What is inserted for an entry."""
        names = (log, bench) if self.first == 0 else (bench, log)
        return (*names, entry.sequence, entry.time_utc, entry.kind, entry.version, entry.payload, entry.chain)


_MARKS = "VALUES (%s, %s, %s, %s, %s, %s, %s, %s)"
_TABLES = {
    LogKind.SESSION: _Table(
        head="SELECT entries, bench FROM cornerwise.session WHERE id = %(log)s",
        kept="SELECT chain FROM cornerwise.session_event WHERE session = %(log)s AND sequence = %(sequence)s",
        insert=f"INSERT INTO cornerwise.session_event (session, bench, {_ENTRY}) {_MARKS}",
        first=0,
    ),
    LogKind.MACHINE: _Table(
        head="SELECT entries, bench FROM cornerwise.machine_log WHERE bench = %(bench)s AND log = %(log)s",
        kept="SELECT chain FROM cornerwise.machine_event "
        "WHERE bench = %(bench)s AND log = %(log)s AND sequence = %(sequence)s",
        insert=f"INSERT INTO cornerwise.machine_event (bench, log, {_ENTRY}) {_MARKS}",
        first=1,
    ),
}


def _entry(row: Row) -> Entry:
    return Entry(**{name: row[name] for name in _ENTRY.split(", ")})


def _since(since: str, mark: str) -> tuple[str, str]:
    """Number of change and session of a mark; one of another server, or of one that was set up anew, is none."""
    changed, _, session = since.partition("/")
    return (changed, session) if changed and int(changed) <= int(mark) else ("0", "")


def _refusal(error: psycopg.Error) -> Said:
    """Why the shop will never take it, as the server says it."""
    return said("the shop does not take it: {reason}", reason=Name(_first_line(error)))


def _barred(error: psycopg.Error) -> NotAvailableError:
    """Why nothing goes now, by what the library and the server say."""
    text = str(error)
    reason = Name(_first_line(error))
    if error.sqlstate == "53100" or "No space left" in text:
        return NotAvailableError(
            said("the shop's server is full: nothing is lost, it is sent again ({reason})", reason=reason)
        )
    if "certificate" in text or "SSL" in text:
        return NotAvailableError(
            said("the server does not prove that it is the shop's; nothing was sent ({reason})", reason=reason)
        )
    if "password" in text or "authentication" in text or "permission denied for database" in text:
        return NotAvailableError(
            said(
                "the shop does not let this bench in: join it anew with the password of today ({reason})", reason=reason
            )
        )
    return NotAvailableError(said("the shop cannot be reached ({reason})", reason=reason))


def _first_line(error: psycopg.Error) -> str:
    return str(error).strip().split("\n")[0][:300]
