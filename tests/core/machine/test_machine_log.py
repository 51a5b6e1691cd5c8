"""What was taken back of a machine's log says nothing any more, and what was done at the machine cannot be."""

from __future__ import annotations

import pytest

from core.machine.directions import Side
from core.machine.guided_correction import guided_state
from core.machine.history import marks_of
from core.machine.machine_log import (
    CautionAcknowledged,
    CoarseReset,
    CorrectionAbandoned,
    CorrectionApplied,
    EntryUndone,
    GapPhase,
    GapRead,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    ReferenceKept,
    StepDone,
    can_be_undone,
    standing,
)
from core.machine.spent_coupon import spent_coupon
from core.machine.square_reference import reference_state
from tests.core.machine.test_guided_fold import ROUTER
from tests.core.machine.test_log_words import BEGUN

KEPT = ReferenceKept(session="s", skew_deg=0.1, skew_u_deg=0.05, first_gap_mm=12.3, second_gap_mm=12.4)
NOTED = (
    *(MachineEvent(kind=kind) for kind in MachineEventKind),
    *(CorrectionApplied(session="s", made_mm=None, coarse=reset) for reset in CoarseReset),
    CorrectionAbandoned(reason="lunch"),
    KEPT,
)
DONE = (
    CorrectionApplied(session="s", made_mm=3.9),
    StepDone(step=GuidedStep.LOOSENED),
    CautionAcknowledged(caution="unplugged"),
    GapRead(end=Side.LEFT, gap_mm=12.3, phase=GapPhase.UNTOUCHED),
    BEGUN,
)


def log_of(*payloads: LogPayload) -> list[LogEntry]:
    return [LogEntry(sequence=place, time_utc=None, payload=payload) for place, payload in enumerate(payloads, start=1)]


@pytest.mark.parametrize("noted", NOTED, ids=repr)
@pytest.mark.parametrize("before", [(KEPT,), (BEGUN,), (BEGUN, StepDone(step=GuidedStep.NO_PLAY)), ()], ids=len)
def test_what_was_taken_back_was_never_there_for_any_fold(noted: LogPayload, before: tuple[LogPayload, ...]) -> None:
    log = standing(log_of(*before, noted, EntryUndone(number=len(before) + 1)))
    without = log_of(*before)
    assert log == tuple(without)
    assert guided_state(log, ROUTER) == guided_state(without, ROUTER)
    assert reference_state(log) == reference_state(without)
    assert spent_coupon(log, "s") == spent_coupon(without, "s")
    assert marks_of(log) == marks_of(without)


@pytest.mark.parametrize("done", DONE, ids=repr)
def test_what_was_done_at_the_machine_stays_done(done: LogPayload) -> None:
    assert not can_be_undone(done)
    assert [entry.payload for entry in standing(log_of(done, EntryUndone(number=1)))] == [done]


def test_the_fold_of_a_fold_is_the_same() -> None:
    """The bench keeps what stands and adds entries one by one; the archive reads the whole log."""
    log = log_of(KEPT, NOTED[0], EntryUndone(number=2), NOTED[1], EntryUndone(number=7))
    kept: tuple[LogEntry, ...] = ()
    for entry in log:
        kept = standing((*kept, entry))
    assert kept == standing(log)
    assert [entry.sequence for entry in kept] == [1, 4]
