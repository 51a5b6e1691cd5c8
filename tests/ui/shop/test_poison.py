"""What a bench that means harm can do to those who only read: to views, to other benches' rounds, to another shop."""

from __future__ import annotations

from datetime import date
from typing import Any

import psycopg
import pytest
from msgspec.structs import replace

from core.errors import NotAvailableError
from core.records.outbox import Entry, LogKind, as_sent
from core.records.shop_state import shop_state
from core.said import worded
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import LOG, MACHINE, SESSION, Bench, Connection
from ui.shop.access import ShopAccess
from ui.shop.keeping import admit, set_up
from ui.shop.server import connection_options

VIEWS = ("sessions", "machines", "machine_marks", "readings")


def session_of(bench: Bench) -> list[Entry]:
    session = bench.measure()
    return list(bench.archive.shop.parcel(LogKind.SESSION, session, names=False).entries)


def send(connection: Connection, bench: Bench, session: str, entries: list[Entry]) -> None:
    """As its role may, rightly chained."""
    me = bench.archive.shop.bench_id()
    for e in as_sent(entries, names=True):
        values = (session, e.sequence, me, e.time_utc, e.kind, e.version, e.payload, e.chain)
        connection.execute(SESSION.encode(), values)


def send_log(connection: Connection, bench: Bench, log: str, entries: list[Entry]) -> None:
    """Likewise, what was done to a machine."""
    me = bench.archive.shop.bench_id()
    for e in as_sent(entries, names=True):
        values = (me, log, e.sequence, e.time_utc, e.kind, e.version, e.payload, e.chain)
        connection.execute(LOG.encode(), values)


def claim(connection: Connection, bench: Bench, name: str, machine: str) -> None:
    """Mean another bench's machine by a name."""
    connection.execute(
        "INSERT INTO cornerwise.machine_name (bench, name, number, machine) "
        "SELECT %s, %s, coalesce(max(number), 0) + 1, %s FROM cornerwise.machine_name WHERE bench = %s AND name = %s",
        (bench.archive.shop.bench_id(), name, machine, bench.archive.shop.bench_id(), name),
    )


NEW = "20260302-100000-0a1b2c3d"
READING_POISON: tuple[dict[str, Any], ...] = (
    {"payload": "no json"},
    {"payload": '{"reading":{"value":"wide"}}'},
    {"payload": '{"reading":{"value":1e400}}'},
    {"payload": '{"reading":{"feature":"near\\u0000","value":1}}'},
    {"time_utc": "half past nine"},
    {"time_utc": "infinity"},
    {"time_utc": "13/02/2026 10:00"},
    {"time_utc": "2026-03-02 10:00:00 Nowhere/Land"},
    {"time_utc": "tomorrow"},
)
MARK = Entry(sequence=1, time_utc="2026-03-02T09:00:00Z", kind="event", version=1, payload="{}", chain="")


@pytest.mark.parametrize("change", READING_POISON)
def test_no_reading_makes_a_view_fail_for_everybody(
    hostile: Connection, second: Bench, server: RealServer, keeper: ShopAccess, change: dict[str, Any]
) -> None:
    """What a view casts is cast before it is in, and as everybody casts it: the role's own settings change nothing."""
    hostile.execute("SET datestyle = 'ISO, DMY'")
    entries = session_of(second)[:2]
    entries[1] = replace(entries[1], **change)
    with pytest.raises(psycopg.Error):
        send(hostile, second, NEW, entries)
    for view in VIEWS:
        server.as_owner(keeper.database, f"SELECT * FROM cornerwise.{view}")


@pytest.mark.parametrize(
    "change", [{"payload": "no json"}, {"payload": '"\\u0000"'}, {"time_utc": "13/02/2026"}, {"time_utc": "-infinity"}]
)
def test_no_line_of_a_log_makes_a_view_fail_for_everybody(
    hostile: Connection, second: Bench, server: RealServer, keeper: ShopAccess, change: dict[str, Any]
) -> None:
    hostile.execute("SET datestyle = 'ISO, DMY'")
    with pytest.raises(psycopg.Error):
        send_log(hostile, second, "x", [replace(MARK, **change)])
    for view in VIEWS:
        server.as_owner(keeper.database, f"SELECT * FROM cornerwise.{view}")


@pytest.mark.parametrize("field", ["machine", "verdict", "size_verdict"])
def test_no_word_in_a_list_is_longer_than_a_name(hostile: Connection, second: Bench, field: str) -> None:
    entries = session_of(second)
    place = 0 if field == "machine" else len(entries) - 1
    long = entries[place].payload.replace(f'"{field}":"', f'"{field}":"{"x" * 9_000}')
    assert long != entries[place].payload
    entries[place] = replace(entries[place], payload=long)
    with pytest.raises(psycopg.Error):
        send(hostile, second, NEW, entries)


def test_a_session_and_a_log_that_are_too_large_are_named_and_not_fetched(
    hostile: Connection, first: Bench, second: Bench
) -> None:
    """Fetched whole they would end every other bench's service for want of memory, again and again."""
    machine = first.archive.shop.machines()[0].id
    claim(hostile, second, MACHINE, machine)
    entries = session_of(second)
    note = replace(entries[1], kind="note", version=1, payload='{"text":"' + "long " * 12_000 + '"}')
    notes = [replace(note, sequence=number) for number in range(7, 40)]
    send(hostile, second, NEW, [*entries, *notes])
    lines = [replace(MARK, sequence=number, payload='{"note":"' + "long " * 12_000 + '"}') for number in range(1, 90)]
    send_log(hostile, second, MACHINE, lines)
    done = first.round()
    assert done.taken == 0
    assert [("too large" in worded(one)) for one in done.refused] == [True, True]
    assert first.archive.shop.shared_logs(MACHINE) == ()


def spelt(number: int) -> str:
    """One name in many spellings."""
    return "".join(letter.upper() if number >> place & 1 else letter for place, letter in enumerate(MACHINE))


def test_nobody_is_asked_a_thousand_questions(hostile: Connection, first: Bench, second: Bench) -> None:
    """Each machine of a name that is used here is a question here."""
    insert = "INSERT INTO cornerwise.machine (id, name, bench) VALUES (%s, %s, %s)"
    me = second.archive.shop.bench_id()
    for number in range(20):
        hostile.execute(insert.encode(), (f"machine-{number:016x}", spelt(number), me))
        claim(hostile, second, spelt(number), f"machine-{number:016x}")
    with pytest.raises(psycopg.Error, match="too many machines"):
        hostile.execute(insert.encode(), (f"machine-{20:016x}", spelt(20), me))
    first.round()
    assert len(shop_state(first.archive.shop).questions) == 20


def test_a_machine_of_too_long_a_name_keeps_nothing_else_from_the_shop(first: Bench) -> None:
    first.measure()
    long = first.measure(machine="a name that is far too long " * 20)
    first.join()
    done = first.round()
    assert done.sent == 1
    assert [long in worded(reason) for reason in done.refused] == [True]


def test_what_the_shop_does_not_take_of_a_machine_is_said_and_ends_no_service(first: Bench) -> None:
    first.join()
    for number in range(21):
        first.measure(machine=spelt(number))
    with pytest.raises(NotAvailableError, match="too many machines"):
        first.round()


def test_many_sessions_in_one_transaction_hide_nobody_elses(
    hostile: Connection, first: Bench, second: Bench, keeper: ShopAccess
) -> None:
    """They have one number of change: whoever fetches page by page comes to what was sent behind them."""
    machine = first.archive.shop.machines()[0].id
    claim(hostile, second, MACHINE, machine)
    entries = session_of(second)
    with hostile.transaction():
        for number in range(60):
            send(hostile, second, f"20260302-1100{number:02d}-0a1b2c3d", entries)
    honest = second.measure()
    second.round()
    first.round()
    assert honest in {one.id for one in first.archive.sessions()}


def test_a_bench_of_one_shop_is_nobody_in_another_on_the_same_server(
    hostile: Connection, second: Bench, server: RealServer
) -> None:
    other = server.shop()
    set_up(other, date(2026, 3, 1))
    with pytest.raises(psycopg.OperationalError, match="permission denied"):
        psycopg.connect(**connection_options(replace(second.access, database=other.database), str(server.authority)))
    # Who is admitted there is, and a shop brought to this version keeps its benches.
    admitted = admit(other, "bench_of_the_other")
    set_up(other, date(2026, 3, 1))
    psycopg.connect(**connection_options(admitted, str(server.authority))).close()


def test_two_benches_of_one_name_are_asked_which_machine_is_which_and_told_apart(
    first: Bench, second: Bench, keeper: ShopAccess
) -> None:
    """Benches that were given no name are called as their computers are, and those are often called alike."""
    second.name = first.name
    for bench in (first, second):
        bench.join()
        bench.measure()
        bench.round()
    first.round()
    for bench, other in ((first, second), (second, first)):
        (question,) = shop_state(bench.archive.shop).questions
        assert question.other.benches == (f"first bench {other.archive.shop.bench_id()[-4:]}",)
