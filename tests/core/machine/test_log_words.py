"""Every kind of entry in a machine's log has its line, in both languages, and none gives an order."""

from __future__ import annotations

from itertools import chain
from typing import get_args

import pytest

from core.machine.cautions import ALL_CAUTIONS
from core.machine.directions import Direction, Side
from core.machine.log_words import entry_words, log_words
from core.machine.machine_log import (
    BeltsCompared,
    CautionAcknowledged,
    CoarseReset,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    CorrectionResumed,
    Deed,
    EntryUndone,
    GapPhase,
    GapRead,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    MotorStep,
    MotorStepDone,
    ReferenceKept,
    StepDone,
)
from ui.speech.language import Language
from ui.speech.notation import LengthUnit, Notation
from ui.speech.speech import Speech

BEGUN = CorrectionBegun(
    session="s", skew_deg=0.35, skew_u_deg=0.06, span_mm=640.0, move_mm=3.91, move_u_mm=0.71, end=Side.RIGHT,
    direction=Direction.NEARER,
)  # fmt: skip
ENTRIES: tuple[Deed, ...] = (
    BEGUN,
    *(CautionAcknowledged(caution=caution.name) for caution in ALL_CAUTIONS),
    *(GapRead(end=end, gap_mm=12.3, phase=phase) for end in Side for phase in GapPhase),
    *(StepDone(step=step) for step in GuidedStep),
    *(MotorStepDone(step=motor_step) for motor_step in MotorStep),
    CorrectionApplied(session="s", made_mm=3.9),
    *(CorrectionApplied(session="s", made_mm=None, coarse=coarse) for coarse in CoarseReset),
    CorrectionAbandoned(reason="Left, 3 mm"),
    CorrectionResumed(),
    ReferenceKept(session="s", skew_deg=0.1, skew_u_deg=0.05, first_gap_mm=12.3, second_gap_mm=12.4),
    BeltsCompared(first_hz=61.2, second_hz=58.9),
    *(MachineEvent(kind=kind) for kind in MachineEventKind),
    MachineEvent(kind=MachineEventKind.CRASH, note="Left, 3 mm"),
)


def test_every_kind_is_among_them() -> None:
    assert {type(entry) for entry in ENTRIES} == set(get_args(Deed)) == set(get_args(LogPayload)) - {EntryUndone}


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: type(entry).__name__)
def test_each_has_a_line_that_gives_no_order(entry: Deed) -> None:
    line = str(entry_words(entry))
    assert line
    assert not any(way in line for way in chain(("nearer", "farther", "Move "), ("to the left", "to the right")))


def test_what_a_person_wrote_stays_letter_for_letter_in_german_and_inches() -> None:
    speech = Speech(language=Language.GERMAN, notation=Notation(lengths=LengthUnit.INCH))
    assert "Left, 3 mm" in speech.say(entry_words(CorrectionAbandoned(reason="Left, 3 mm")))


def test_a_taking_back_names_what_was_taken_back() -> None:
    payloads: tuple[LogPayload, ...] = (
        MachineEvent(kind=MachineEventKind.CRASH),
        EntryUndone(number=1),
        EntryUndone(number=9),
    )
    log = [LogEntry(sequence=place, time_utc=None, payload=payload) for place, payload in enumerate(payloads, start=1)]
    assert [str(words) for _, words in log_words(log)] == [
        "a crash", "taken back: a crash", "taken back: an entry that is lost",
    ]  # fmt: skip
    assert (
        Speech(language=Language.GERMAN, notation=Notation()).say(log_words(log)[1][1]).startswith("zurückgenommen: ")
    )
