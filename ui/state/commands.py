"""What a person can tell the bench: sent by screens, keypad, text bench and panel buttons into the bench's queue."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from core.geometry.features import Feature
from core.machine.belt_note import BeltNote
from core.machine.machine_log import CoarseReset, MachineEventKind
from core.machine.parallelism import Gaps
from core.machine.profile import MachineProfile
from core.metrology.gauge_check import CheckedLength
from core.metrology.readings import Quantity, Unit
from core.records.events import Opened
from core.records.session_tables import ALL_SESSIONS, SessionFilter
from firmware_bridge.instrument_settings import InstrumentSettings
from ui.bench.practice import Diagnosis
from ui.pages.update import UpdateStep
from ui.state.design_commands import ChooseDesign, LookForDesigns, WriteDesign
from ui.state.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenSession:
    """Begin a new coupon."""

    opened: Opened


@dataclass(frozen=True, slots=True, kw_only=True)
class ResumeSession:
    """Go on with the coupon that was not closed, if there is one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SelectFeature:
    """Put the cursor of the feature's kind on it."""

    feature: Feature


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeReading:
    """Take the live indication of this quantity now (touch, pedal)."""

    quantity: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeReading:
    """A number keyed in, in `unit`, for a feature."""

    feature: Feature
    shown: float
    unit: Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidReading:
    """Take a reading out of the judgement; it stays in the log."""

    number: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerQuestion:
    """Answer the question that is up; `question` is its name, so that a late touch answers nothing else."""

    question: str
    answer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmMark:
    """The orientation mark reads right and lies beside NL."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckCaliper:
    """The caliper was closed, or held against setting blocks, before measuring."""

    lengths: tuple[CheckedLength, ...]
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckGauge:
    """The angle gauge was held against a square, and the same square turned over; readings in degrees."""

    square_deg: tuple[float, ...]
    turned_over_deg: tuple[float, ...]
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldReadings:
    """While held, nothing on the cables is taken for a reading: the instruments are on something else."""

    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseSession:
    """The coupon is done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopHand:
    """The person takes over from the simulated hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandSays:
    """What the simulated hand is doing, in words; empty when it has let go."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadMachines:
    """Look up the machines of the shop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SaveMachine:
    """Keep a machine profile, new or changed, and work on that machine."""

    profile: MachineProfile


@dataclass(frozen=True, slots=True, kw_only=True)
class ChooseMachine:
    """Work on the machine of this name."""

    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LogMachineEvent:
    """Something happened to the machine that may have upset it."""

    kind: MachineEventKind
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginCorrection:
    """Start the guided correction that the coupon on the bench calls for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginCorrectionByReference:
    """Start the guided correction that the machine's square reference calls for, by both gaps as they are now."""

    gaps: Gaps


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepReference:
    """Remember the skew of the coupon on the bench with both gaps as they were when it was cut."""

    gaps: Gaps


@dataclass(frozen=True, slots=True, kw_only=True)
class LogCoarseReset:
    """The gantry was squared to the frame without a coupon."""

    reset: CoarseReset


@dataclass(frozen=True, slots=True, kw_only=True)
class LogBelts:
    """The notes of both belts were compared, and `text` says what came of it; the first is the left or near one."""

    first_hz: float
    second_hz: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenToBelt:
    """Record a belt that is about to be plucked; the first is the left or near one."""

    first: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltHeard:
    """What came of listening: the note, or None and the words why there is none."""

    first: bool
    note: BeltNote | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidedAnswer:
    """The person has done what the present step of the correction asks; `gap_mm` where a gap is typed."""

    gap_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AbandonCorrection:
    """Give the correction up; `reason` says what state the machine was left in."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UseInstrument:
    """Use the instrument on a port under these settings, and remember it; `by_hand` where a person overruled what was
    recognised there."""

    settings: InstrumentSettings
    by_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ForgetInstrument:
    """Do not use what is on this port any more."""

    port: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AskPort:
    """Ask what is on a silent port; sends bytes to it, which something other than an instrument may act on."""

    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TryInstrument:
    """Say how an instrument does; nothing is taken."""

    instrument: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadHistory:
    """Look up the history of a machine; `only` says which of its sessions to list."""

    machine: str
    only: SessionFilter = ALL_SESSIONS


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadGrid:
    """Look up a grid of coupons over the bed; without a name the machine's last one."""

    machine: str
    grid: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookAtSession:
    """Look at one session of the archive."""

    session: str


class DownloadWay(StrEnum):
    """How a download leaves the bench."""

    STICK = "stick"
    CABLE = "cable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Download:
    """Give a session's folder away: onto the stick that is plugged in, or onto the drive a computer sees."""

    session: str
    way: DownloadWay = DownloadWay.STICK


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeVersion:
    """Take this step towards another version of the program."""

    step: UpdateStep


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeSettings:
    """Use these settings from now on, and remember them."""

    settings: Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginExercise:
    """Practice: the next unknown machine's coupon, on the simulated bench."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerExercise:
    """Practice: what the person says is wrong."""

    diagnosis: Diagnosis


Command = (
    OpenSession
    | ResumeSession
    | SelectFeature
    | TakeReading
    | TypeReading
    | VoidReading
    | AnswerQuestion
    | ConfirmMark
    | CheckCaliper
    | CheckGauge
    | HoldReadings
    | CloseSession
    | StopHand
    | LoadMachines
    | SaveMachine
    | ChooseMachine
    | LogMachineEvent
    | BeginCorrection
    | BeginCorrectionByReference
    | KeepReference
    | LogCoarseReset
    | LogBelts
    | ListenToBelt
    | BeltHeard
    | GuidedAnswer
    | AbandonCorrection
    | UseInstrument
    | ForgetInstrument
    | AskPort
    | TryInstrument
    | LoadHistory
    | LoadGrid
    | LookAtSession
    | Download
    | LookForDesigns
    | ChooseDesign
    | WriteDesign
    | ChangeVersion
    | HandSays
    | ChangeSettings
    | BeginExercise
    | AnswerExercise
)
