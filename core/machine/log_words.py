"""The machine log in words: what was done, as one line an entry, for whoever reads it afterwards.

Input: an entry's payload. Output: a sentence. What was moved is said, never what is still to be moved: orders are
worded by `move_order` alone, with their caution.
"""

from collections.abc import Iterable

from core.machine.cautions import ALL_CAUTIONS
from core.machine.machine_log import (
    BeltsCompared,
    CautionAcknowledged,
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
    MachineEvent,
    MotorStep,
    MotorStepDone,
    ReferenceKept,
    StepDone,
)
from core.machine.square_reference import DROPPING_WORDS
from core.said import Angle, Length, Name, Number, Said, said

_CAUTIONS = {caution.name: caution.short for caution in ALL_CAUTIONS}
_GUIDED = {
    GuidedStep.NO_PLAY: said("no play found"),
    GuidedStep.LOOSENED: said("what holds the gantry was loosened"),
    GuidedStep.SET: said("the gantry was set"),
    GuidedStep.TIGHTENED: said("tightened, both sides alike"),
    GuidedStep.RUN_BY_HAND: said("run from end to end by hand"),
    GuidedStep.REALIGNED: said("re-aligned"),
    GuidedStep.RECUT: said("a new coupon was cut"),
}
_MOTOR = {
    MotorStep.STARTED: said("homed, as it was when the coupon was cut"),
    MotorStep.TRIED: said("homed with a quarter of the move in the controller's offset"),
    MotorStep.OFFSET: said("the offset was set in the controller"),
    MotorStep.STORED: said("the offset was stored in the controller"),
}


def log_words(entries: Iterable[LogEntry]) -> tuple[tuple[LogEntry, Said], ...]:
    """A whole log, line by line; the taking back names what was taken back."""
    worded: dict[int, Said] = {}
    found = []
    for entry in entries:
        if isinstance(entry.payload, EntryUndone):
            words = said("taken back: {entry}", entry=worded.get(entry.payload.number, said("an entry that is lost")))
        else:
            words = entry_words(entry.payload)
        worded[entry.sequence] = words
        found.append((entry, words))
    return tuple(found)


def entry_words(payload: Deed) -> Said:
    """What an entry says was done."""
    match payload:
        case CorrectionBegun(skew_deg=skew, skew_u_deg=u):
            return said("correction begun, from a skew of {skew}", skew=Angle(skew, u_deg=u, signed=True))
        case CautionAcknowledged(caution=name):
            return said("read and followed: {caution}", caution=_CAUTIONS.get(name, Name(name)))
        case GapRead():
            return _gap_words(payload)
        case StepDone(step=step):
            return _GUIDED[step]
        case MotorStepDone(step=motor_step):
            return _MOTOR[motor_step]
        case CorrectionApplied(coarse=None, made_mm=made_mm):
            return said("corrected by {made}", made=Length(made_mm or 0.0))
        case CorrectionApplied():
            return said("squared to its frame")
        case CorrectionAbandoned(reason=reason):
            return said("correction given up: {reason}", reason=Name(reason))
        case CorrectionResumed():
            return said("correction taken up again")
        case _:
            return _noted_words(payload)


def _gap_words(read: GapRead) -> Said:
    gap = Length(read.gap_mm)
    match read.phase:
        case GapPhase.UNTOUCHED:
            return said("gap at the {end} end before anything was loosened: {gap}", end=read.end.word, gap=gap)
        case GapPhase.SET:
            return said("gap at the {end} end after setting: {gap}", end=read.end.word, gap=gap)
        case GapPhase.RUN:
            return said("gap at the {end} end after a run: {gap}", end=read.end.word, gap=gap)


def _noted_words(payload: ReferenceKept | BeltsCompared | MachineEvent) -> Said:
    match payload:
        case ReferenceKept(first_gap_mm=first_mm, second_gap_mm=second_mm):
            first, second = Length(first_mm), Length(second_mm)
            return said("square reference kept, gaps {first} and {second}", first=first, second=second)
        case BeltsCompared(first_hz=first_hz, second_hz=second_hz):
            return said(
                "belts compared: {first} and {second}",
                first=Number(first_hz, 1, "Hz"),
                second=Number(second_hz, 1, "Hz"),
            )
        case MachineEvent(kind=kind, note=note):
            event = DROPPING_WORDS[kind]
            return said("{event}: {note}", event=event, note=Name(note)) if note else event
