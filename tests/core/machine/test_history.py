"""The history of a machine: stretches begin anew after a correction or an upset."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from core import SOFTWARE
from core.machine.history import ClosedCoupon, MarkKind, NoGo, Trended, machine_history
from core.machine.machine_log import (
    CoarseReset,
    CorrectionApplied,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    StepDone,
)
from core.metrology.adjustment import Estimate

LIMITS = NoGo(skew_deg=0.2, size_x_percent=0.25)
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def coupon(day: float, skew_deg: float) -> ClosedCoupon:
    return ClosedCoupon(
        session=f"s{day:g}", time_utc=START + timedelta(days=day), skew_deg=Estimate(value=skew_deg, u=0.01)
    )


def entry(day: float | None, payload: LogPayload) -> LogEntry:
    return LogEntry(sequence=1, time_utc=None if day is None else START + timedelta(days=day), payload=payload)


def test_a_correction_begins_a_new_stretch() -> None:
    coupons = [coupon(day, 0.5 + 0.01 * day) for day in range(10)] + [coupon(20.0 + day, 0.0) for day in range(6)]
    history = machine_history(reversed(coupons), [entry(15.0, CorrectionApplied(session="s9", made_mm=5.4))], LIMITS)
    assert [mark.kind for mark in history.marks] == [MarkKind.CORRECTION]
    assert str(history.marks[0].text) == "corrected by 5.40 mm"
    assert len(history.since) == 6
    assert not history.drifts[Trended.SKEW].proven
    assert str(history.check_now) == ""


@pytest.mark.parametrize("kind", MachineEventKind)
def test_after_an_upset_a_check_is_due_at_once(kind: MachineEventKind) -> None:
    history = machine_history([coupon(0.0, 0.0)], [entry(1.0, MachineEvent(kind=kind, note="hit a clamp"))], LIMITS)
    assert str(history.check_now).startswith("Cut and measure a coupon now")
    assert "hit a clamp" in str(history.check_now)
    checked = machine_history([coupon(2.0, 0.0)], [entry(1.0, MachineEvent(kind=kind))], LIMITS)
    assert str(checked.check_now) == ""


def test_in_an_older_log_a_coupon_dated_ahead_is_before_the_correction_it_led_to_and_all_behind_that() -> None:
    """Earlier releases did not note which session came before; whose correction it was they did."""
    coupons, begun = [coupon(0.0, 0.5), coupon(900.0, 0.5), coupon(4.0, 0.0)], {"s0": 1, "s900": 2, "s4": 3}
    corrected = entry(1.0, CorrectionApplied(session="s900", made_mm=5.4))
    upset = replace(entry(2.0, MachineEvent(kind=MachineEventKind.CRASH)), sequence=2)
    assert not machine_history(coupons[:2], [corrected], LIMITS, begun=lambda _sessions: begun).since
    upset_then = machine_history(coupons[:2], [corrected, upset], LIMITS, begun=lambda _sessions: begun)
    assert not upset_then.since
    assert "was upset" in str(upset_then.check_now)
    assert [
        one.session for one in machine_history(coupons, [corrected, upset], LIMITS, begun=lambda _sessions: begun).since
    ] == ["s4"]


def test_of_two_benches_the_time_counts() -> None:
    here, there = coupon(3.0, 0.0), replace(coupon(5.0, 0.0), bench="the other")
    crash = entry(4.0, MachineEvent(kind=MachineEventKind.CRASH, after="s3"))
    assert machine_history([here, there], [crash], LIMITS, begun=lambda _sessions: {"s3": 1}).since == (there,)
    assert machine_history([here, there], [], LIMITS, [("the other", [crash])], lambda _sessions: {"s3": 1}).since == (
        there,
    )
    later = entry(6.0, MachineEvent(kind=MachineEventKind.CRASH))
    assert (
        machine_history([here, there], [crash], LIMITS, [("the other", [later])], lambda _sessions: {"s3": 1}).since
        == ()
    )


def test_steps_and_entries_without_a_time_are_no_marks() -> None:
    entries = [
        entry(1.0, StepDone(step=GuidedStep.LOOSENED)),
        entry(None, MachineEvent(kind=MachineEventKind.CRASH)),
        entry(3.0, CorrectionApplied(session="", made_mm=None, coarse=CoarseReset.END_STOP)),
    ]
    history = machine_history([], entries, LIMITS)
    assert [str(mark.text) for mark in history.marks] == ["squared to its frame"]
    assert "was set (squared to its frame" in str(history.check_now)
    assert str(history.text(Trended.SKEW)) == "No coupon yet: cut one."


def sized(day: float, percent: float | None) -> ClosedCoupon:
    size = None if percent is None else Estimate(value=percent, u=0.01)
    return replace(coupon(day, 0.0), size_x_percent=size, size_y_percent=size)


def test_it_is_told_by_date_when_the_limits_are_left_and_when_to_check() -> None:
    # 0.01 degrees a day from 0.05: the limit of 0.2 is reached on day 15; watched for 12 days until the 14th of March.
    history = machine_history([coupon(day, 0.05 + 0.01 * day) for day in range(13)], [], LIMITS)
    assert "Expected outside limits from 2026-03-17." in str(history.text(Trended.SKEW))
    # After the newest coupon, before it is expected outside.
    assert "Check again by 2026-03-14." < str(history.check_next) < "Check again by 2026-03-17."
    times = [time for time, _point in history.chart(Trended.SKEW)]
    assert times == [one.time_utc for one in history.since]
    assert history.chart(Trended.SKEW)[-1][1].outside


def test_no_date_is_named_where_the_evidence_does_not_support_one() -> None:
    steady = machine_history([coupon(day, 0.05) for day in range(13)], [], LIMITS)
    assert "Expected" not in str(steady.text(Trended.SKEW))
    assert str(steady.check_next).startswith("Check again by 2026-03-")


def test_sizes_have_a_trend_of_their_own_from_the_coupons_that_know_them() -> None:
    coupons = [sized(day, None if day < 4 else 0.02 * (day - 4)) for day in range(13)]
    history = machine_history(coupons, [], LIMITS)
    assert history.drifts[Trended.SIZE_X].proven
    assert "It drifts by +0.0200" in str(history.text(Trended.SIZE_X))
    assert "Expected outside limits from 2026-03-" in str(history.text(Trended.SIZE_X))
    assert history.chart(Trended.SIZE_X)[0][0] == START + timedelta(days=4)
    # Without a limit along Y the same drift names no day.
    assert "Expected" not in str(history.text(Trended.SIZE_Y))
    # The skew alone would wait longer than this size does.
    skew_alone = machine_history([sized(day, None) for day in range(13)], [], LIMITS)
    assert str(history.check_next) < str(skew_alone.check_next)
    assert str(skew_alone.text(Trended.SIZE_X)) == "No size is known yet."


def test_it_is_told_by_which_versions_words_and_values_were_worked_out() -> None:
    then = [replace(coupon(float(day), 0.0), software="cornerwise 0.0.9") for day in range(2)]
    now = replace(coupon(3.0, 0.0), software=SOFTWARE)
    assert str(machine_history([now], [], LIMITS).worked_out_by) == ""
    assert str(machine_history([*then, now], [], LIMITS).worked_out_by) == (
        f"Words and values stand as they were said then, by cornerwise 0.0.9 (2), {SOFTWARE} (1)."
    )
