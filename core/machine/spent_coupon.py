"""Whether a coupon still says how its machine stands, by what was done to the machine since.

Stage: correction. Input: the machine log. Output: why it does not, in words; empty while it does.
"""

from __future__ import annotations

from collections.abc import Iterable

from core.machine.machine_log import (
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    GuidedStep,
    LogEntry,
    MachineEvent,
    MachineEventKind,
    StepDone,
)

VOID_WORDS = {
    MachineEventKind.CRASH: "The machine crashed meanwhile: the coupon no longer shows how it stands. Cut and measure "
    "another.",
    MachineEventKind.MOVE: "The machine was moved meanwhile: the coupon no longer shows how it stands. Cut and measure "
    "another.",
    MachineEventKind.BELT_CHANGE: "A belt was changed meanwhile: the coupon no longer shows how the machine stands. "
    "Cut and measure another.",
    MachineEventKind.TOOL_CHANGE: "The tool was changed meanwhile: cut and measure another coupon to be sure.",
    MachineEventKind.PLAY_CURED: "Play was found and cured: the coupon was cut with it, so its number is void. Cut and "
    "measure another before anything is set.",
}


def spent_coupon(entries: Iterable[LogEntry], session: str) -> str:
    """Why the coupon of a session no longer says how its machine stands, by what was done since; empty while it does.

    A correction made from it, or given up after something was loosened, or an upset on the way, has used it up.
    """
    under_way = loosened = False
    for entry in entries:
        match entry.payload:
            case CorrectionBegun(session=begun):
                under_way, loosened = begun == session, loosened and begun == session
            case CorrectionApplied(session=corrected) if corrected == session:
                return "The correction from this coupon was made: cut and measure the next one. Never correct twice."
            case StepDone(step=GuidedStep.LOOSENED) if under_way:
                loosened = True
            case CorrectionAbandoned() if under_way and loosened:
                return "It was loosened and given up: this coupon no longer shows how the machine stands. Cut another."
            case CorrectionAbandoned():
                under_way = False
            case MachineEvent(kind=kind) if under_way:
                return VOID_WORDS[kind]
    return ""
