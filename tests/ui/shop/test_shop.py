"""Two benches and a real PostgreSQL: what goes there, what comes, and what a bench that is alone never does."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import cast

import pytest
from msgspec.structs import replace

from core.errors import NotAvailableError
from core.machine.machine_log import CorrectionApplied, EntryUndone
from core.records.archive import Archive
from core.records.browser.coupon_page import coupon_page
from core.records.browser.drive_page import drive_page
from core.records.browser.shelf import shelf_of
from core.records.comparison import reported_record
from core.records.events import Note, Undone
from core.records.history import history_of
from core.records.outbox import LogKind
from core.records.shop_records import Mark
from core.records.shop_state import shop_state
from core.said import NOTHING, worded
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import MACHINE, Bench
from ui.bench.desks.records import say_which_machine
from ui.shop import keeping
from ui.shop.access import AccessFile, ShopAccess
from ui.shop.courier import carry
from ui.shop.joining import join_here, leave
from ui.shop.server import ShopServer, connected
from ui.shop.service import one_round


def asked(server: RealServer, keeper: ShopAccess, statement: str) -> str:
    return server.as_owner(keeper.database, statement)


def stored(server: RealServer, keeper: ShopAccess) -> str:
    return asked(server, keeper, "SELECT count(*), count(DISTINCT session) FROM cornerwise.session_event")


def test_a_finished_coupon_goes_once_its_undo_has_passed_and_what_is_noted_later_follows_in_order(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    first.join()
    session = first.measure()
    assert first.round(after=timedelta(minutes=1)).sent == 0
    assert first.round(after=timedelta(minutes=5)).entries == 6
    assert stored(server, keeper) == "6|1"
    first.archive.append(session, Note(text="birch, “sheet” 3"))
    first.archive.append(session, Undone(number=6))
    assert first.round().entries == 2
    assert first.round().sent == 0
    kinds = asked(server, keeper, "SELECT string_agg(kind, ' ' ORDER BY sequence) FROM cornerwise.session_event")
    assert kinds == "opened " + "reading-accepted " * 4 + "closed note undone"
    assert asked(server, keeper, "SELECT closed, verdict IS NULL FROM cornerwise.sessions") == "f|t"


def test_a_coupon_that_is_not_finished_stays_here_until_it_is(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    first.join()
    session = first.measure()
    first.archive.append(session, Undone(number=6))
    assert first.round().sent == 0
    assert stored(server, keeper) == "0|0"


def test_names_of_people_go_only_where_they_are_wanted(
    server: RealServer, keeper: ShopAccess, first: Bench, second: Bench
) -> None:
    first.join()
    second.join(names=True)
    first.measure(operator="Ana")
    second.measure(operator="Bogdan")
    first.round()
    second.round()
    sent = asked(server, keeper, "SELECT string_agg(payload, '') FROM cornerwise.session_event WHERE kind = 'opened'")
    assert "Bogdan" in sent
    assert "Frau Öz & Söhne ✂ 𝟙" in sent
    assert sent.count("Öz") == 1
    assert "Ana" not in sent


def test_one_machine_at_two_benches_is_one_history_and_what_was_done_to_it_is_seen_at_both(
    first: Bench, second: Bench
) -> None:
    first.join()
    first.measure(0.1)
    first.upset()
    first.pass_time(timedelta(days=3))
    first.measure(0.2)
    first.round()
    second.pass_time(timedelta(days=1))
    second.measure(0.3, machine="the router")
    with connected(second.access) as there:
        (machine,) = there.machines()
    assert machine.benches == ("first bench",)
    second.join(same={"the router": machine.id})
    assert second.round().taken == 2
    history = history_of(second.archive, "the router").history
    assert history is not None
    assert len(history.coupons) == 3
    assert len(history.marks) == 1
    assert len(history_of(first.archive, MACHINE).sessions) == 2
    assert first.round().taken == 1
    assert len(history_of(first.archive, MACHINE).sessions) == 3
    assert (first.round().taken, second.round().taken) == (0, 0)
    elsewhere_is_said(second, "the router", first.name)


def elsewhere_is_said(bench: Bench, machine: str, other: str) -> None:
    """List, chart, marks, before and after, page and report name the other bench, and no other but that."""
    found = history_of(bench.archive, machine)
    assert found.history is not None
    own = next(one.id for one in found.sessions if one.id not in found.benches)
    assert set(found.benches.values()) == {other}
    assert [coupon.bench for coupon in found.history.coupons] == [other, "", other]
    assert [one.id in found.benches for one in found.sessions] == [True, False, True]
    assert [mark.bench for mark in found.history.marks] == [other]
    assert worded(found.history.other_benches) == f"{other} (2)"
    record = reported_record(bench.archive, own)
    assert record.comparison is not None
    assert f"The coupon before was measured at another bench: {other}." in worded(record.comparison.text)
    assert f"(at {other})" in coupon_page(record)
    theirs = reported_record(bench.archive, next(iter(found.benches)))
    assert other in coupon_page(theirs)
    assert other in drive_page(shelf_of(bench.archive), ())


def test_a_correction_at_another_bench_is_what_the_next_coupon_is_held_against(first: Bench, second: Bench) -> None:
    first.join()
    before = first.measure(0.4)
    first.archive.append_machine_event(MACHINE, CorrectionApplied(session=before, made_mm=2.9))
    first.round()
    second.pass_time(timedelta(days=1))
    second.join()
    with connected(second.access) as there:
        (machine,) = there.machines()
    second.measure(0.5, machine="another")
    after = second.measure(0.05)
    second.join(same={MACHINE: machine.id})
    assert second.round(after=timedelta(days=2)).taken == 1
    comparison = reported_record(second.archive, after).comparison
    assert comparison is not None
    assert comparison.skew_before_deg.value == pytest.approx(reported_record(first.archive, before).evaluation
                                                             .adjustment.skew_deg.value)  # fmt: skip
    assert "measured at another bench: first bench" in worded(comparison.text)


def test_what_was_taken_back_at_another_bench_is_no_mark_here(first: Bench, second: Bench) -> None:
    first.join()
    first.measure()
    first.upset()
    first.archive.append_machine_event(MACHINE, EntryUndone(number=1))
    first.round()
    second.join()
    second.measure()
    with connected(second.access) as there:
        (machine,) = (one for one in there.machines() if one.benches == ("first bench",))
    second.join(same={MACHINE: machine.id})
    assert second.round().taken == 1
    history = history_of(second.archive, MACHINE).history
    assert history is not None
    assert history.marks == ()


def test_equal_names_make_no_one_machine_and_profile_gaps_and_hand_stay_each_bench_its_own(
    first: Bench, second: Bench
) -> None:
    first.join()
    second.join()
    first.measure()
    second.measure()
    first.upset()
    first.round()
    assert second.round().taken == 0
    with connected(second.access) as there:
        one, other = sorted(there.machines(), key=lambda machine: machine.benches)
    assert (one.name, one.benches) == (other.name, ("first bench",))
    second.join(same={MACHINE: one.id})
    assert second.round().taken == 1
    assert second.archive.machine_events(MACHINE) == ()
    assert second.archive.machines() == ()
    own = second.archive.last_closed()
    assert own is not None
    assert second.archive.newest_of_bench(simulated=True) == own.id


def test_a_bench_that_is_alone_keeps_nothing_of_a_shop_and_one_that_leaves_keeps_everything(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    first.measure()
    first.upset()
    assert first.archive.shop.membership() is None
    assert shop_rows(first.folder) == 0
    first.join()
    first.round()
    before = first.archive.events(first.archive.sessions()[0].id)
    leave(first.archive, first.folder)
    assert first.archive.shop.membership() is None
    assert not (first.folder / "shop.json").exists()
    assert first.archive.events(first.archive.sessions()[0].id) == before
    assert stored(server, keeper) == "6|1"
    first.join()
    done = first.round()
    assert (done.sent, done.entries) == (2, 0)
    assert stored(server, keeper) == "6|1"


def shop_rows(folder: Path) -> int:
    connection = sqlite3.connect(folder / "archive.sqlite")
    tables = ("bench_identity", "shop_membership", "machine_identity", "outbox_mark", "shared_machine_event")
    rows = sum(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in tables)
    connection.close()
    return int(rows)


def test_what_was_sent_and_forgotten_is_sent_again_and_stored_once(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    first.join()
    sessions = [first.measure() for _ in range(3)]
    assert first.round().entries == 18
    first.archive.shop.mark([Mark(kind=LogKind.SESSION, log=session, entries=0) for session in sessions])
    done = first.round()
    assert (done.sent, done.entries) == (3, 0)
    assert stored(server, keeper) == "18|3"


def test_a_server_that_is_gone_holds_nothing_up_and_everything_goes_when_it_is_back(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    first.join()
    first.measure()
    server.kill()
    first.measure()
    with pytest.raises(NotAvailableError, match="cannot be reached"):
        first.round()
    server.start()
    assert first.round().sent == 2
    assert stored(server, keeper) == "12|2"


def test_a_bench_that_joined_without_network_is_asked_which_machine_is_which_and_the_shop_hears_the_answer(
    server: RealServer, keeper: ShopAccess, first: Bench, second: Bench
) -> None:
    """As by touch: the bench does its own part alone, the sending service the rest."""
    first.join()
    first.measure(0.1)
    first.round()
    for machine in (MACHINE, "laser"):
        second.measure(0.3, machine=machine)
    join_here(second.archive, second.access, second.folder, bench=second.name, names=False)
    assert shop_state(second.archive.shop).questions == ()
    assert second.round().sent == 2
    assert first.round().taken == 0
    state = shop_state(second.archive.shop)
    (question,) = state.questions
    assert (question.machine, question.other.benches, state.sent, state.waiting) == (MACHINE, ("first bench",), 2, 0)
    assert say_which_machine(question=question, same=True).found_in(second.archive).questions == ()
    assert second.round().taken == 1
    assert first.round().taken == 1  # measured long before the answer
    assert asked(server, keeper, "SELECT machine, benches, sessions FROM cornerwise.machines ORDER BY benches DESC, "
                 "machine") == "template router|2|2\nlaser|1|1\ntemplate router|0|0"  # fmt: skip
    assert len(history_of(second.archive, MACHINE).sessions) == 2


def test_what_is_another_machine_is_asked_once(first: Bench, second: Bench) -> None:
    for bench in (first, second):
        bench.join()
        bench.measure()
        bench.round()
    first.round()
    for bench in (first, second):
        (question,) = shop_state(bench.archive.shop).questions
        assert say_which_machine(question=question, same=False).found_in(bench.archive).questions == ()
        assert bench.round().taken == 0
        assert shop_state(bench.archive.shop).questions == ()


def test_a_wrong_answer_is_said_anew_and_both_histories_are_as_if_it_had_been_right(
    server: RealServer, keeper: ShopAccess, first: Bench, second: Bench
) -> None:
    """Same, then another, then the same again; the other bench hears it in its next round."""
    second.pass_time(timedelta(minutes=7))
    for bench in (first, second):
        bench.join()
        bench.upset()
        bench.measure()
        bench.round()
    second.round()
    (question,) = shop_state(second.archive.shop).questions
    counts = []
    for same in (True, False, True):
        state = say_which_machine(question=question, same=same).found_in(second.archive)
        assert [(one.question.other.id, one.same) for one in state.answers] == [(question.other.id, same)]
        assert state.questions == ()
        histories = [history_of(second.archive, MACHINE)]
        second.round()
        first.round()
        for bench in (second, first):
            histories.append(history_of(bench.archive, MACHINE))
        assert all(found.history is not None for found in histories)
        counts.append([(len(found.sessions), len(found.history.marks) if found.history else -1) for found in histories])
        assert asked(server, keeper, "SELECT count(*) FROM cornerwise.machines WHERE sessions > 0") == "12"[not same]
    assert counts == [[(1, 1), (2, 2), (2, 2)], [(1, 1)] * 3, [(1, 1), (2, 2), (2, 2)]]
    # Nothing is thrown away: what came meanwhile stands under a name of its own.
    say_which_machine(question=question, same=False).found_in(second.archive)
    assert len(history_of(second.archive, f"{MACHINE} (first bench)").sessions) == 1
    assert len(second.archive.sessions()) == 2


def test_what_is_another_machine_takes_nothing_from_those_that_are_the_same(
    keeper: ShopAccess, first: Bench, second: Bench, tmp_path: Path
) -> None:
    third = Bench(tmp_path / "third", keeper, "third bench")
    for bench in (first, third):
        bench.join()
        bench.measure()
        bench.round()
    second.measure()
    second.join(same={MACHINE: first.archive.shop.machines()[0].id})
    assert second.round().taken == 1
    (question,) = shop_state(second.archive.shop).questions
    assert question.other.benches == ("third bench",)
    say_which_machine(question=question, same=False).found_in(second.archive)
    assert len(history_of(second.archive, MACHINE).sessions) == 2
    third.archive.close()


def test_what_hinders_is_kept_for_the_bench_from_when_it_began_until_a_round_is_whole(first: Bench) -> None:
    first.join()
    first.measure()
    wrong = AccessFile(first.folder)
    wrong.save(replace(first.access, password="changed"))
    began = first.time
    for _ in range(2):
        with pytest.raises(NotAvailableError):
            one_round(first.folder, first.folder / "archive.sqlite", lambda: first.time, simulated=True)
        first.pass_time(timedelta(hours=1))
    state = shop_state(first.archive.shop)
    assert "does not let this bench in" in worded(state.hindrance)
    assert state.hindered_utc == began
    assert worded(state.line) == "Shop: nothing sent yet, 1 waits, not reached"
    wrong.save(first.access)
    one_round(first.folder, first.folder / "archive.sqlite", lambda: first.time, simulated=True)
    state = shop_state(first.archive.shop)
    assert (state.hindrance, state.waiting, state.sent) == (NOTHING, 0, 1)


def test_a_round_is_two_commits_beside_whoever_measures(first: Bench) -> None:
    """What was sent, and up to where others' records were taken, however many logs and machines there are."""
    first.join()
    first.measure()
    first.measure(machine="laser")
    first.round()
    for _ in range(6):
        first.measure()
    first.upset()
    first.pass_time(timedelta(hours=1))
    statements: list[str] = []
    with (
        closing(Archive.open(first.folder / "archive.sqlite", lambda: first.time)) as beside,
        connected(first.access) as server,
    ):
        beside._connection.set_trace_callback(statements.append)
        assert carry(beside, server, first.time, simulated=True).sent == 7
    assert statements.count("COMMIT") == 2
    # Nor does a disk hold the lock: it is waited for behind the commit.
    begun = [place for place, statement in enumerate(statements) if statement == "BEGIN IMMEDIATE"]
    assert {statements[place - 1] for place in begun} == {"PRAGMA synchronous = NORMAL"}
    assert statements[-1] == "PRAGMA synchronous = FULL"


class Measuring:
    """A server at each of whose answers somebody measures, and does not wait for the lock."""

    def __init__(self, server: ShopServer, bench: Bench, session: str) -> None:
        self._server = server
        self._bench = bench
        self._session = session
        self.asked = 0
        bench.archive._connection.execute("PRAGMA busy_timeout = 0")

    def __getattr__(self, name: str) -> Callable[..., object]:
        def asked(*values: object, **named: object) -> object:
            self._measure()
            answer = getattr(self._server, name)(*values, **named)
            self._measure()
            return answer

        return asked

    def _measure(self) -> None:
        self.asked += 1
        self._bench.archive.append(self._session, Note(text="at once"))


def test_the_archives_lock_is_free_whenever_the_service_waits_for_its_shop(first: Bench, second: Bench) -> None:
    for bench in (first, second):
        bench.join()
        for _ in range(3):
            bench.measure()
        bench.upset()
    second.round()
    open_session = first.measure()
    with (
        closing(Archive.open(first.folder / "archive.sqlite", lambda: first.time)) as beside,
        connected(first.access) as server,
    ):
        slow = Measuring(server, first, open_session)
        first.pass_time(timedelta(hours=1))
        assert carry(beside, cast(ShopServer, slow), first.time, simulated=True).sent == 5
    assert slow.asked > 20
    assert len(first.archive.events(open_session)) == 6 + slow.asked


@pytest.fixture
def of_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[int | None], None]:
    """What makes the software one of before: its schema ends with the version given; it is today's again by None."""

    def ends_with(version: int | None) -> None:
        monkeypatch.undo()
        if version is not None:
            schema = tmp_path / f"schema_{version}"
            schema.mkdir()
            for number in range(1, version + 1):
                shutil.copy(keeping._SCHEMA / f"shop_{number:04d}.sql", schema)
            monkeypatch.setattr(keeping, "_SCHEMA", schema)

    return ends_with


def test_a_shop_of_every_version_before_becomes_what_a_new_one_is(
    server: RealServer, template: ShopAccess, of_before: Callable[[int | None], None]
) -> None:
    newest = len(list(keeping._SCHEMA.glob("shop_*.sql")))
    new = server.schema(template)
    assert len(new) > 500
    for version in range(1, newest):
        keeper = server.shop()
        of_before(version)
        keeping.set_up(keeper, date(2026, 3, 1))
        assert server.schema(keeper) != new, version
        of_before(None)
        keeping.set_up(keeper, date(2026, 3, 1))
        assert server.schema(keeper) == new, version


def test_a_shop_of_before_is_brought_to_this_version_with_what_is_in_it(
    server: RealServer, tmp_path: Path, of_before: Callable[[int | None], None]
) -> None:
    """Its first two versions, with a bench at work; what a view could not show came in then, and stays."""
    keeper = server.shop()
    of_before(2)
    keeping.set_up(keeper, date(2026, 3, 1))
    bench = Bench(tmp_path / "bench", keeper, "bench")
    bench.join()
    bench.measure()
    bench.round()
    asked(server, keeper, "UPDATE cornerwise.session SET machine_name = repeat('x', 500), skew_deg = 'NaN'")
    of_before(None)
    keeping.set_up(keeper, date(2026, 3, 1))
    bench.measure()
    bench.upset()
    assert bench.round().sent == 2
    assert stored(server, keeper) == "12|2"
    bench.archive.close()
