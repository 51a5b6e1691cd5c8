"""Whether a coupon still says how its machine stands, by what was done to the machine since.

Stage: correction. Input: the machine log. Output: why it does not, in words; nothing while it does.
"""

from collections.abc import Iterable

from core.machine.machine_log import (
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    GuidedStep,
    LogEntry,
    MachineEvent,
    MachineEventKind,
    MotorStep,
    MotorStepDone,
    StepDone,
)
from core.said import NOTHING, Said, said

VOID_WORDS = {
    MachineEventKind.CRASH: said(
        "The machine crashed meanwhile: the coupon no longer shows how it stands. Cut and measure another."
    ),
    MachineEventKind.MOVE: said(
        "The machine was moved meanwhile: the coupon no longer shows how it stands. Cut and measure another."
    ),
    MachineEventKind.BELT_CHANGE: said(
        "A belt was changed meanwhile: the coupon no longer shows how the machine stands. Cut and measure another."
    ),
    MachineEventKind.TOOL_CHANGE: said("The tool was changed meanwhile: cut and measure another coupon to be sure."),
    MachineEventKind.PLAY_CURED: said(
        "Play was found and cured: the coupon was cut with it, so its number is void. Cut and measure another before "
        "anything is set."
    ),
}


def spent_coupon(entries: Iterable[LogEntry], session: str) -> Said:
    """Why the coupon of a session no longer says how its machine stands, by what was done since; nothing while it does.

    A correction made from it, or given up after something was loosened or an offset changed, or an upset on the way,
    has used it up.
    """
    under_way = touched = False
    for entry in entries:
        match entry.payload:
            case CorrectionBegun(session=begun):
                under_way, touched = begun == session, touched and begun == session
            case CorrectionApplied(session=corrected) if corrected == session:
                return said(
                    "The correction from this coupon was made: cut and measure the next one. Never correct twice."
                )
            case StepDone(step=GuidedStep.LOOSENED) | MotorStepDone(step=MotorStep.TRIED) if under_way:
                touched = True
            case CorrectionAbandoned() if under_way and touched:
                return said(
                    "The machine was touched and the correction given up: this coupon no longer shows how the machine "
                    "stands. Cut another."
                )
            case CorrectionAbandoned():
                under_way = False
            case MachineEvent(kind=kind) if under_way:
                return VOID_WORDS[kind]
    return NOTHING
