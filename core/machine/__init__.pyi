from .bed_map import FEWEST_PLACES as FEWEST_PLACES, BedMap as BedMap, Place as Place
from .before_after import (
    BeforeAfter as BeforeAfter,
    CharacteristicChange as CharacteristicChange,
    ForetoldReading as ForetoldReading,
    Outcome as Outcome,
)
from .belt_note import BeltNote as BeltNote, NoNote as NoNote
from .belts import compare_belts as compare_belts
from .cautions import (
    BEFORE_HANDS as BEFORE_HANDS,
    BY_HAND as BY_HAND,
    Caution as Caution,
    before_cutting as before_cutting,
    cautions_of_cutting as cautions_of_cutting,
)
from .correction_words import PART_SIDE_MM as PART_SIDE_MM, part_sentence as part_sentence, part_side_mm as part_side_mm
from .design_correction import WARNINGS as WARNINGS, DesignCorrection as DesignCorrection
from .diagnosis import diagnose as diagnose
from .directions import Axis as Axis, Direction as Direction, Front as Front, Side as Side
from .gantry_correction import (
    Correction as Correction,
    Refusal as Refusal,
    RefusalReason as RefusalReason,
    profile_of_span as profile_of_span,
    refusal_of as refusal_of,
)
from .guided_correction import (
    PHASE_OF_STAGE as PHASE_OF_STAGE,
    STEP_OF_STAGE as STEP_OF_STAGE,
    GuidedState as GuidedState,
    answer as answer,
    begin as begin,
    guided_state as guided_state,
    to_be_resumed as to_be_resumed,
)
from .guided_wording import (
    DONE_WORDS as DONE_WORDS,
    coarse_reset_sentence as coarse_reset_sentence,
    first_orders as first_orders,
    power_sentence as power_sentence,
    sentences as sentences,
    title as title,
)
from .history import (
    ClosedCoupon as ClosedCoupon,
    MachineHistory as MachineHistory,
    MarkKind as MarkKind,
    NoGo as NoGo,
    Trended as Trended,
    machine_history as machine_history,
)
from .holding import HOLDINGS as HOLDINGS, HowHeld as HowHeld, TurnedPart as TurnedPart, UnitKind as UnitKind
from .log_words import entry_words as entry_words
from .machine_log import (
    BeltsCompared as BeltsCompared,
    CautionAcknowledged as CautionAcknowledged,
    CoarseReset as CoarseReset,
    CorrectionAbandoned as CorrectionAbandoned,
    CorrectionApplied as CorrectionApplied,
    CorrectionBegun as CorrectionBegun,
    CorrectionResumed as CorrectionResumed,
    EntryUndone as EntryUndone,
    GapRead as GapRead,
    GuidedStep as GuidedStep,
    LogEntry as LogEntry,
    LogPayload as LogPayload,
    MachineEvent as MachineEvent,
    MachineEventKind as MachineEventKind,
    MotorStepDone as MotorStepDone,
    ReferenceKept as ReferenceKept,
    StepDone as StepDone,
    can_be_undone as can_be_undone,
    in_order as in_order,
    standing as standing,
)
from .move import move_of_skew as move_of_skew
from .one_history import in_one_order as in_one_order
from .parallelism import Gaps as Gaps, gap_span_mm as gap_span_mm
from .procedure import Act as Act, Stage as Stage
from .profile import MAX_SPAN_MM as MAX_SPAN_MM, MachineProfile as MachineProfile, Process as Process
from .reversal_check import (
    Overhang as Overhang,
    ReversalCheck as ReversalCheck,
    StepGauge as StepGauge,
    fence_steps as fence_steps,
    reversal_steps as reversal_steps,
)
from .side_ways import (
    before_plucking as before_plucking,
    before_two_gaps as before_two_gaps,
    coarse_reset as coarse_reset,
)
from .sound_file import Recording as Recording, read_wav as read_wav
from .square_reference import (
    correction_by_reference as correction_by_reference,
    keep_reference as keep_reference,
    reference_state as reference_state,
)
from .trial_step import trial_came_true as trial_came_true
