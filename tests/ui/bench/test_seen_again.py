"""A finished coupon is seen again after a restart, with a machine or without one, and never in place of an open one."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ui.bench_bits import SKEWED, BenchUnderTest, quantity_name, running_bench
from ui.bench.desks.machines import LoadMachines
from ui.bench.desks.measuring import CloseSession, ResumeSession, SeeCoupon, SelectFeature
from ui.bench.desks.records import look_up_history
from ui.pages.bench import last_coupon_text
from ui.pages.verdict import verdict_page
from ui.state.snapshot import Snapshot


def measured(under_test: BenchUnderTest) -> Snapshot:
    under_test.open()
    for feature, value in SKEWED.items():
        under_test.bench.send(SelectFeature(feature=feature))
        under_test.indicate(value, instrument=quantity_name(feature), pressed=True)
        under_test.settled()
    under_test.bench.send(CloseSession())
    return under_test.settled()


def restarted(under_test: BenchUnderTest) -> Snapshot:
    """What a start asks for, and what follows from its answers."""
    under_test.bench.send(ResumeSession())
    under_test.bench.send(LoadMachines())
    return under_test.settled()


@pytest.fixture
def finished(tmp_path: Path) -> Snapshot:
    with running_bench(tmp_path) as before:
        return measured(before)


def test_after_a_restart_the_last_coupon_is_named_and_seen_as_it_was(tmp_path: Path, finished: Snapshot) -> None:
    with running_bench(tmp_path) as after:
        started = restarted(after)
        assert started.session is None
        assert started.records.last_closed is not None
        assert "Last coupon: 120 x 80 mm, NO-GO, " in str(last_coupon_text(started))
        assert finished.session is not None
        after.bench.send(SeeCoupon(session=finished.session))
        seen = after.settled()
    assert (seen.session, seen.closed) == (finished.session, True)
    assert seen.readings == finished.readings
    assert verdict_page(seen) == verdict_page(finished)
    assert seen.message is not None
    assert "finished" in str(seen.message.text)


def test_its_history_lists_it_though_no_machine_was_ever_described(tmp_path: Path, finished: Snapshot) -> None:
    with running_bench(tmp_path) as after:
        restarted(after)
        after.bench.send(look_up_history(machine=""))
        history = after.settled().records.history
    assert history is not None
    assert [one.id for one in history.sessions] == [finished.session]


def test_nothing_of_it_can_be_changed(tmp_path: Path, finished: Snapshot) -> None:
    with running_bench(tmp_path) as after:
        restarted(after)
        assert finished.session is not None
        after.bench.send(SeeCoupon(session=finished.session))
        after.settled()
        after.indicate(99.0, instrument="caliper", pressed=True)
        after.bench.send(CloseSession())
        assert after.settled().readings == finished.readings


def test_an_open_coupon_stays_on_the_bench(tmp_path: Path, finished: Snapshot) -> None:
    with running_bench(tmp_path) as after:
        restarted(after)
        after.open()
        now = after.settled()
        assert finished.session is not None
        after.bench.send(SeeCoupon(session=finished.session))
        refused = after.settled()
    assert refused.session == now.session != finished.session
    assert refused.message is not None
    assert refused.message.alarm


def test_one_that_was_begun_while_the_other_was_looked_for_stays_too(tmp_path: Path, finished: Snapshot) -> None:
    with running_bench(tmp_path) as after:
        restarted(after)
        assert finished.session is not None
        after.bench.send(SeeCoupon(session=finished.session))
        after.open()
        opened = after.settled()
    assert opened.session != finished.session
    assert not opened.closed


@pytest.mark.parametrize("session", ["", "*", "20260101-000000-00000000"])
def test_what_is_not_there_is_said(tmp_path: Path, session: str) -> None:
    with running_bench(tmp_path) as after:
        after.bench.send(SeeCoupon(session=session))
        refused = after.settled()
    assert refused.session is None
    assert refused.message is not None
    assert "there is no finished coupon" in str(refused.message.text)
