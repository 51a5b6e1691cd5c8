"""The history of a machine: stretches begin anew after a correction or an upset."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from core.machine.history import ClosedCoupon, MarkKind, machine_history
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

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def coupon(day: float, skew_deg: float) -> ClosedCoupon:
    return ClosedCoupon(
        session=f"s{day:g}", time_utc=START + timedelta(days=day), skew_deg=Estimate(value=skew_deg, u=0.01)
    )


def entry(day: float | None, payload: LogPayload) -> LogEntry:
    return LogEntry(sequence=1, time_utc=None if day is None else START + timedelta(days=day), payload=payload)


def test_a_correction_begins_a_new_stretch() -> None:
    coupons = [coupon(day, 0.5 + 0.01 * day) for day in range(10)] + [coupon(20.0 + day, 0.0) for day in range(6)]
    history = machine_history(reversed(coupons), [entry(15.0, CorrectionApplied(session="s9", made_mm=5.4))], 0.2)
    assert [mark.kind for mark in history.marks] == [MarkKind.CORRECTION]
    assert history.marks[0].text == "corrected by 5.40 mm"
    assert len(history.since) == 6
    assert not history.drift.proven
    assert history.check_now == ""


@pytest.mark.parametrize("kind", MachineEventKind)
def test_after_an_upset_a_check_is_due_at_once(kind: MachineEventKind) -> None:
    history = machine_history([coupon(0.0, 0.0)], [entry(1.0, MachineEvent(kind=kind, note="hit a clamp"))], 0.2)
    assert history.check_now.startswith("Cut and measure a coupon now")
    assert "hit a clamp" in history.check_now
    checked = machine_history([coupon(2.0, 0.0)], [entry(1.0, MachineEvent(kind=kind))], 0.2)
    assert checked.check_now == ""


def test_steps_and_entries_without_a_time_are_no_marks() -> None:
    entries = [
        entry(1.0, StepDone(step=GuidedStep.LOOSENED)),
        entry(None, MachineEvent(kind=MachineEventKind.CRASH)),
        entry(3.0, CorrectionApplied(session="", made_mm=None, coarse=CoarseReset.END_STOP)),
    ]
    history = machine_history([], entries, 0.2)
    assert [mark.text for mark in history.marks] == ["coarse reset (end-stop)"]
    assert "was set (coarse reset" in history.check_now
    assert history.drift.text == "No coupon yet: cut one."
