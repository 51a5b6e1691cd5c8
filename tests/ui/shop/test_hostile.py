"""What a bench that means harm can do with its role: read. Rows that do not verify are refused, and named."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from core.records.chain import next_link
from core.records.outbox import Entry, LogKind, as_sent
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import LOG, MACHINE, SESSION, Bench, Connection
from ui.shop.access import ShopAccess
from ui.shop.server import connection_options


def entries_of(bench: Bench) -> tuple[Entry, ...]:
    session = bench.measure()
    return bench.archive.shop.parcel(LogKind.SESSION, session, names=False).entries


def rows(bench: Bench, session: str, entries: tuple[Entry, ...]) -> list[tuple[object, ...]]:
    me = bench.archive.shop.bench_id()
    return [(session, e.sequence, me, e.time_utc, e.kind, e.version, e.payload, e.chain) for e in entries]


def refused(connection: Connection, state: str, statement: str, values: tuple[object, ...] = ()) -> str:
    with pytest.raises(psycopg.Error) as found:
        connection.execute(statement.encode(), values)
    assert found.value.sqlstate == state, found.value
    return str(found.value).split("\n")[0]


NEW = "20260302-100000-0a1b2c3d"


def test_nothing_can_be_changed_or_deleted_and_no_head_be_written(hostile: Connection) -> None:
    for table in ("bench", "machine", "machine_name", "session", "session_event", "machine_log", "machine_event"):
        for statement in (
            f"UPDATE cornerwise.{table} SET bench = bench"
            if table != "bench"
            else "UPDATE cornerwise.bench SET name = ''",
            f"DELETE FROM cornerwise.{table}",
            f"TRUNCATE cornerwise.{table}",
            f"ALTER TABLE cornerwise.{table} DISABLE TRIGGER ALL",
            f"ALTER TABLE cornerwise.{table} DISABLE ROW LEVEL SECURITY",
            f"DROP TABLE cornerwise.{table}",
        ):
            refused(hostile, "42501", statement)
    for statement in (
        f"INSERT INTO cornerwise.session (id, bench) VALUES ('{NEW}', 'bench-0000000000000000')",
        "INSERT INTO cornerwise.machine_log (bench, log) VALUES ('bench-0000000000000000', 'x')",
        "INSERT INTO cornerwise.session_event_202603 SELECT * FROM cornerwise.session_event",
        "INSERT INTO cornerwise.session_event_other SELECT * FROM cornerwise.session_event",
        "CREATE TABLE cornerwise.mine ()",
        "SELECT cornerwise.make_months('2030-01-01', '2030-02-01')",
        "SELECT cornerwise.list_session_event(NULL)",
        "SET ROLE postgres",
        "CREATE ROLE another LOGIN",
    ):
        refused(hostile, "42501", statement)


def test_a_bench_inserts_as_itself_only(hostile: Connection, first: Bench, second: Bench, server: RealServer) -> None:
    entries = entries_of(second)
    as_another = [(row[0], row[1], first.archive.shop.bench_id(), *row[3:]) for row in rows(second, NEW, entries)]
    assert "row-level security" in refused(hostile, "42501", SESSION, as_another[0])
    me, other = second.archive.shop.bench_id(), first.archive.shop.bench_id()
    log = (other, MACHINE, 2, *as_another[0][3:])
    with pytest.raises(psycopg.Error):
        hostile.execute(LOG.encode(), log)
    name = "INSERT INTO cornerwise.machine_name (bench, name, number, machine) VALUES (%s, %s, %s, %s)"
    machine = first.archive.shop.machines()[0].id
    refused(hostile, "42501", name, (other, MACHINE, 2, machine))
    refused(hostile, "42501", "INSERT INTO cornerwise.machine (id, name, bench) VALUES (%s, 'x', %s)",
            ("machine-0000000000000000", other))  # fmt: skip
    refused(hostile, "42501", "INSERT INTO cornerwise.bench (id, role, name) VALUES (%s, %s, 'x')",
            ("bench-0000000000000000", first.access.role))  # fmt: skip
    refused(hostile, "42501", "INSERT INTO cornerwise.machine (id, name, bench, made) VALUES (%s, 'x', %s, now())",
            ("machine-0000000000000000", me))  # fmt: skip
    assert hostile.execute("SELECT count(DISTINCT bench) FROM cornerwise.session_event").fetchone() == (1,)


def test_rows_that_do_not_verify_are_refused_and_named(hostile: Connection, second: Bench, first: Bench) -> None:
    entries = entries_of(second)
    good = rows(second, NEW, entries)
    theirs = first.archive.sessions()[0].id
    assert "entry 2: one before it is missing" in refused(hostile, "CW001", SESSION, good[1])
    hostile.execute(SESSION.encode(), good[0])
    for place, value in ((4, "note"), (5, 2), (6, good[1][6] + " "), (7, "0" * 32), (3, None)):  # type: ignore[operator]
        changed = (*good[1][:place], value, *good[1][place + 1 :])
        assert f"session {NEW}, entry 2: it does not verify" in refused(hostile, "CW002", SESSION, changed)
    assert "entry 3: one before it is missing" in refused(hostile, "CW001", SESSION, good[2])
    hostile.execute(SESSION.encode(), good[1])
    assert "entry 2: another one stands there" in refused(hostile, "CW003", SESSION, (*good[1][:7], "0" * 32))
    assert hostile.execute(SESSION.encode(), good[1]).rowcount == 0
    into_theirs = (theirs, 7, *good[2][2:])
    assert f"session {theirs} is of another bench" in refused(hostile, "CW004", SESSION, into_theirs)


MADE_UP: tuple[tuple[str, dict[str, Any], str], ...] = (
    ("../../etc/passwd", {}, "23514"),
    (f"{NEW}\n", {}, "23514"),
    (NEW, {"sequence": 2_001}, "CW001"),
    (NEW, {"kind": "note"}, "CW005"),
    (NEW, {"kind": "Opened'; DROP"}, "CW005"),
    (NEW, {"payload": "[" * 60_000}, "54001"),
    (NEW, {"payload": '{"coupon":{"width_mm":"wide"}}'}, "22P02"),
    (NEW, {"payload": "x" * 70_000}, "22P02"),
    (NEW, {"payload": '{"machine":"' + "x" * 70_000 + '"}'}, "23514"),
    (NEW, {"time_utc": "yesterday, more or less"}, "22007"),
    (NEW, {"version": 9_999}, "23514"),
)


def test_a_first_event_that_is_none_is_refused_whatever_its_chain(hostile: Connection, second: Bench) -> None:
    """Rightly chained by whoever made it up: a chain is no signature."""
    opened = entries_of(second)[0]
    for session, change, state in MADE_UP:
        (made_up,) = as_sent([replace(opened, **change)], names=True)
        (row,) = rows(second, session, (made_up,))
        refused(hostile, state, SESSION, row)
        assert hostile.execute("SELECT count(*) FROM cornerwise.session WHERE id = %s", (session,)).fetchone() == (0,)


def test_what_is_well_formed_and_no_session_is_taken_by_no_bench(
    hostile: Connection, first: Bench, second: Bench
) -> None:
    """The shop keeps it, for it cannot judge; a bench looks at every field before it stores anything."""
    entries = entries_of(second)
    machine = first.archive.shop.machines()[0].id
    hostile.execute(
        "INSERT INTO cornerwise.machine_name (bench, name, number, machine) VALUES (%s, %s, 2, %s)",
        (second.archive.shop.bench_id(), MACHINE, machine),
    )
    huge = [replace(e, payload=e.payload.replace('"value":', '"value":99')) for e in entries]
    for row in rows(second, NEW, as_sent(huge, names=True)):
        hostile.execute(SESSION.encode(), row)
    before = len(first.archive.sessions())
    done = first.round()
    assert done.taken == 0
    assert [NEW in str(reason) for reason in done.refused] == [True]
    assert len(first.archive.sessions()) == before
    assert first.round().refused == ()  # said once


def test_a_reader_sees_the_views_and_nothing_else(hostile: Connection, server: RealServer, keeper: ShopAccess) -> None:
    server.as_owner(keeper.database, "SET ROLE cornerwise_reader; SELECT count(*) FROM cornerwise.sessions")
    for view in ("sessions", "machines", "machine_marks", "readings"):
        said = server.as_owner(keeper.database, f"SELECT obj_description('cornerwise.{view}'::regclass)")
        assert len(said) > 40
        server.as_owner(keeper.database, f"SET ROLE cornerwise_reader; SELECT * FROM cornerwise.{view}")
    with pytest.raises(AssertionError, match="permission denied"):
        server.as_owner(keeper.database, "SET ROLE cornerwise_reader; SELECT * FROM cornerwise.session_event")


_TEXT = st.text(st.characters(blacklist_categories=["Cs"], blacklist_characters="\0"), max_size=40)


@pytest.fixture(scope="module")
def owner(server: RealServer, template: ShopAccess) -> Iterator[Connection]:
    with psycopg.connect(**connection_options(template, str(server.authority)), autocommit=True) as connection:
        yield connection


@given(before=_TEXT, sequence=st.integers(1, 2_000), time=st.none() | _TEXT, kind=_TEXT, version=st.integers(1, 999),
       payload=_TEXT)  # fmt: skip
def test_the_server_links_as_the_bench_does(
    owner: Connection, before: str, sequence: int, time: str | None, kind: str, version: int, payload: str
) -> None:
    """One link in two languages, over every letter there is."""
    fields = (sequence, time, kind, version, payload)
    found = owner.execute("SELECT cornerwise.link(%s, %s, %s, %s, %s, %s)", (before, *fields)).fetchone()
    assert found == (next_link(before, fields),)
