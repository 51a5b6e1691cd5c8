"""The machine log: what happened to a machine between coupons. Append-only; every state is a fold over it.

Stage: correction. Input: what the person did and read. Output: frozen entries; the archive keeps them in their order.
"""

from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum

from msgspec import Struct

from core.machine.directions import Direction, Side
from core.machine.one_history import in_one_order


class GapPhase(StrEnum):
    """When a gap was read."""

    UNTOUCHED = "untouched"  # before anything was loosened: the position the coupon was cut in
    SET = "set"  # after setting and tightening, or trying
    RUN = "run"  # after running end to end by hand, or homing once more


class GuidedStep(StrEnum):
    """The steps of a guided correction that are ticked off; cautions and gaps have entries of their own."""

    NO_PLAY = "no-play"
    LOOSENED = "loosened"
    SET = "set"
    TIGHTENED = "tightened"
    RUN_BY_HAND = "run-by-hand"
    REALIGNED = "realigned"
    RECUT = "recut"


class MotorStep(StrEnum):
    """The steps that only a gantry held by two motors has; a kind of their own, which older software passes over."""

    STARTED = "started"  # homed, or pushed against its stops, as it was when the coupon was cut
    TRIED = "tried"  # homed with a quarter of the move in the controller's offset
    OFFSET = "offset"
    STORED = "stored"


class CoarseReset(StrEnum):
    """Squaring the gantry to its frame without a coupon, by stops, blocks or equal gaps; older logs say which."""

    FRAME = "frame"
    SETTING_BLOCKS = "setting-blocks"
    END_STOP = "end-stop"
    ONE_GAP = "one-gap"


class MachineEventKind(StrEnum):
    """What can upset a machine's squareness, logged by one touch."""

    CRASH = "crash"
    MOVE = "move"
    BELT_CHANGE = "belt-change"
    TOOL_CHANGE = "tool-change"
    PLAY_CURED = "play-cured"


class CorrectionBegun(Struct, frozen=True, kw_only=True):
    """A guided correction starts from the session of a coupon: the move as it was said, so that it never changes.

    `share` of the whole move is less than 1 for a trial step, whose direction is not proven.
    """

    session: str
    skew_deg: float
    skew_u_deg: float
    span_mm: float
    move_mm: float
    move_u_mm: float
    end: Side
    direction: Direction
    share: float = 1.0


class CautionAcknowledged(Struct, frozen=True, kw_only=True):
    """The person has read a caution; `caution` is its stable name."""

    caution: str


class GapRead(Struct, frozen=True, kw_only=True):
    """A gap read at one end."""

    end: Side
    gap_mm: float
    phase: GapPhase


class StepDone(Struct, frozen=True, kw_only=True):
    """A step ticked off."""

    step: GuidedStep


class MotorStepDone(Struct, frozen=True, kw_only=True):
    """A step of a gantry held by two motors, ticked off."""

    step: MotorStep


class CorrectionApplied(Struct, frozen=True, kw_only=True):
    """The gantry was set and is tight again. `made_mm` is what the gaps say was really moved, along the direction
    asked for; None where no gaps were read (a coarse reset). `after` is as that of MachineEvent."""

    session: str
    made_mm: float | None
    coarse: CoarseReset | None = None
    after: str = ""


class CorrectionAbandoned(Struct, frozen=True, kw_only=True):
    """The correction was given up; what was loosened is said in the reason."""

    reason: str


class CorrectionResumed(Struct, frozen=True, kw_only=True):
    """The correction was taken up again after the bench had been left: the cautions that still matter are asked "
    "anew."""


class ReferenceKept(Struct, frozen=True, kw_only=True):
    """Skew of a coupon and both gaps at the time it was cut, remembered together."""

    session: str
    skew_deg: float
    skew_u_deg: float
    first_gap_mm: float
    second_gap_mm: float


class BeltsCompared(Struct, frozen=True, kw_only=True):
    """The note of both belts, in hertz; first is the left or near one."""

    first_hz: float
    second_hz: float


class MachineEvent(Struct, frozen=True, kw_only=True):
    """Something that may have upset the machine. `after` is the session that this bench had begun last, of whatever
    machine: what came before is told by it where the clock was wrong. Empty before the first, and in older logs."""

    kind: MachineEventKind
    note: str = ""
    after: str = ""


class EntryUndone(Struct, frozen=True, kw_only=True):
    """The entry of this number was taken back: no fold sees it any more, the record keeps both."""

    number: int


Deed = (
    CorrectionBegun
    | CautionAcknowledged
    | GapRead
    | StepDone
    | MotorStepDone
    | CorrectionApplied
    | CorrectionAbandoned
    | CorrectionResumed
    | ReferenceKept
    | BeltsCompared
    | MachineEvent
)
LogPayload = Deed | EntryUndone


class LogEntry(Struct, frozen=True, kw_only=True):
    """One line of a machine's log. `sequence` counts from 1 within the machine and is the order that counts;
    `time_utc` is None while the clock is not set."""

    sequence: int
    time_utc: datetime | None
    payload: LogPayload


def can_be_undone(payload: LogPayload) -> bool:
    """Whether an entry says what one touch noted, and can be taken back; what was done by steps at the machine was
    done."""
    match payload:
        case CorrectionApplied(coarse=coarse):
            return coarse is not None
        case MachineEvent() | CorrectionAbandoned() | ReferenceKept():
            return True
        case _:
            return False


def standing(entries: Iterable[LogEntry]) -> tuple[LogEntry, ...]:
    """What holds of a log, for every fold over it: without what was taken back, and without the taking back."""
    held: list[LogEntry] = []
    for entry in entries:
        if isinstance(entry.payload, EntryUndone):
            number = entry.payload.number
            held = [one for one in held if one.sequence != number or not can_be_undone(one.payload)]
        else:
            held.append(entry)
    return tuple(held)


def in_order(*logs: Iterable[LogEntry]) -> tuple[LogEntry, ...]:
    """Logs that several benches kept of one machine as one, by time."""
    return in_one_order(lambda entry: entry.time_utc, *logs)
