from .accuracy import (
    DEFAULT_CALIPER as DEFAULT_CALIPER,
    DEFAULT_GAUGE as DEFAULT_GAUGE,
    DEFAULT_JAW_DEPTH_MM as DEFAULT_JAW_DEPTH_MM,
    CouponForm as CouponForm,
    EarlierHand as EarlierHand,
    EdgeMethod as EdgeMethod,
    InstrumentAccuracy as InstrumentAccuracy,
    MeasuringSetup as MeasuringSetup,
)
from .adjustment import (
    AdjustedReading as AdjustedReading,
    Adjustment as Adjustment,
    Estimate as Estimate,
    adjust as adjust,
)
from .characteristics import GROUPS as GROUPS, Scope as Scope
from .distributions import chi_square_quantile as chi_square_quantile
from .evaluation import evaluate as evaluate
from .expansion import (
    MATERIALS as MATERIALS,
    ExpansionDifference as ExpansionDifference,
    expansion_difference as expansion_difference,
)
from .findings import NextReading as NextReading, NextReason as NextReason
from .gauge_check import (
    JAWS_CLOSED_MM as JAWS_CLOSED_MM,
    Block as Block,
    CheckedLength as CheckedLength,
    check_caliper as check_caliper,
    check_gauge as check_gauge,
)
from .gauge_study import (
    StudyResult as StudyResult,
    analysis_of_variance as analysis_of_variance,
    average_and_range as average_and_range,
)
from .groups import GroupVerdict as GroupVerdict
from .hands import learn as learn
from .jaws import seated_edges as seated_edges
from .judgement import Evaluation as Evaluation
from .kerf import SizeCause as SizeCause, SizeFinding as SizeFinding
from .live import (
    LiveState as LiveState,
    better_fit as better_fit,
    compare as compare,
    is_inch_for_mm as is_inch_for_mm,
    is_plausible as is_plausible,
    live_limit as live_limit,
    plausible_range as plausible_range,
    square_value as square_value,
)
from .measuring_model import PARAMETERS as PARAMETERS, predicted_readings as predicted_readings
from .plausible_size import likely_size as likely_size
from .readings import (
    MM_PER_INCH as MM_PER_INCH,
    Indication as Indication,
    Method as Method,
    Quantity as Quantity,
    Reading as Reading,
    Unit as Unit,
)
from .sentences import (
    GROUP_WORD as GROUP_WORD,
    VERDICT_WORD as VERDICT_WORD,
    acute_corners as acute_corners,
    conditions_sentence as conditions_sentence,
    cross_check_note as cross_check_note,
    explanation_sentences as explanation_sentences,
    groups_of as groups_of,
    headline as headline,
    kept_word as kept_word,
    lamp_of as lamp_of,
    seats_sentence as seats_sentence,
    size_cause as size_cause,
    size_sentence as size_sentence,
    skew_sentence as skew_sentence,
    told_word as told_word,
    worst_sentence as worst_sentence,
)
from .tolerances import (
    Limits as Limits,
    limits_for_class as limits_for_class,
    own_limits as own_limits,
    perpendicularity_tolerance_mm as perpendicularity_tolerance_mm,
)
from .two_skews import TwoSkews as TwoSkews
from .verdict import (
    GUARD_FACTOR as GUARD_FACTOR,
    Characteristic as Characteristic,
    CharacteristicGroup as CharacteristicGroup,
    Verdict as Verdict,
    combine as combine,
)
from .witness import (
    TRIAL_SHARE as TRIAL_SHARE,
    Answers as Answers,
    Light as Light,
    MarkSeen as MarkSeen,
    MoveEvidence as MoveEvidence,
    MoveHeld as MoveHeld,
    WitnessKind as WitnessKind,
    came_as_foretold as came_as_foretold,
    held_by_readings as held_by_readings,
    light_can_tell as light_can_tell,
    move_evidence as move_evidence,
    too_small as too_small,
    trial_share as trial_share,
    turned_by as turned_by,
)
