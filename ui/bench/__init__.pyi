from .alone import alone_on as alone_on
from .bench import Bench as Bench
from .desks.belts import ListenToBelt as ListenToBelt, LogBelts as LogBelts
from .desks.cables import (
    AskPort as AskPort,
    ForgetInstrument as ForgetInstrument,
    ListenPort as ListenPort,
    LookForRadio as LookForRadio,
    TryInstrument as TryInstrument,
    UseInstrument as UseInstrument,
)
from .desks.design import (
    ChooseDesign as ChooseDesign,
    LookForDesigns as LookForDesigns,
    WriteDesign as WriteDesign,
    correction_of_design as correction_of_design,
)
from .desks.download import Download as Download
from .desks.keeping import KeepBench as KeepBench, KeepStep as KeepStep
from .desks.live import TakeReading as TakeReading
from .desks.machines import (
    AbandonCorrection as AbandonCorrection,
    BeginCorrection as BeginCorrection,
    BeginCorrectionByReference as BeginCorrectionByReference,
    ChooseMachine as ChooseMachine,
    GuidedAnswer as GuidedAnswer,
    KeepReference as KeepReference,
    LoadMachines as LoadMachines,
    LogCoarseReset as LogCoarseReset,
    LogMachineEvent as LogMachineEvent,
    SaveMachine as SaveMachine,
)
from .desks.measuring import (
    VOID_REASONS as VOID_REASONS,
    AnswerQuestion as AnswerQuestion,
    CloseSession as CloseSession,
    ConfirmMark as ConfirmMark,
    HoldReadings as HoldReadings,
    LabelCoupon as LabelCoupon,
    OpenSession as OpenSession,
    ResumeSession as ResumeSession,
    SeeCoupon as SeeCoupon,
    SelectFeature as SelectFeature,
    TypeReading as TypeReading,
    VoidReading as VoidReading,
)
from .desks.practice import (
    AnswerExercise as AnswerExercise,
    BeginExercise as BeginExercise,
    Practice as Practice,
    StopHand as StopHand,
)
from .desks.records import (
    LookUp as LookUp,
    look_up_grid as look_up_grid,
    look_up_history as look_up_history,
    look_up_shop as look_up_shop,
    say_which_machine as say_which_machine,
)
from .desks.settings import ChangeSettings as ChangeSettings
from .desks.shop import (
    JoinShop as JoinShop,
    KeepShopFile as KeepShopFile,
    LeaveShop as LeaveShop,
    LookForShop as LookForShop,
    WipeShopFile as WipeShopFile,
)
from .desks.update import ChangeVersion as ChangeVersion, UpdateStep as UpdateStep
from .desks.witness import FindByReversal as FindByReversal, SeeLight as SeeLight, TryAStep as TryAStep
from .desks.work import NOTHING_TO_STOP as NOTHING_TO_STOP, SAID_S as SAID_S, StopWork as StopWork
from .fault_report import report_name as report_name
from .gauge_checks import AskWhatHappened as AskWhatHappened, CheckCaliper as CheckCaliper, CheckGauge as CheckGauge
from .journal import keep_journal as keep_journal
from .lamp_box import TICK_S as TICK_S, Box as Box
from .opening import (
    DEFAULT_CLASS as DEFAULT_CLASS,
    DEFAULT_SCENARIO as DEFAULT_SCENARIO,
    HOUSE_COUPON as HOUSE_COUPON,
    OwnLimits as OwnLimits,
    chosen_limits as chosen_limits,
    limits_of as limits_of,
    opening_again as opening_again,
)
from .practice import (
    FAULT_WORDS as FAULT_WORDS,
    MOVES as MOVES,
    Diagnosis as Diagnosis,
    Exercise as Exercise,
    Move as Move,
    PracticeFault as PracticeFault,
    exercises as exercises,
)
from .simulated_hand import HandOnTheBench as HandOnTheBench
from .steps import NOTHING_TO_TAKE_BACK as NOTHING_TO_TAKE_BACK
from .supervision import WorkerFaulted as WorkerFaulted, guarded as guarded, unforeseen as unforeseen
from .workers.archive_thread import ArchiveThread as ArchiveThread
from .workers.belt_listener import note_of_file as note_of_file, record as record
from .workers.cables import Cables as Cables, InstrumentJoined as InstrumentJoined
from .workers.designs import Designs as Designs
from .workers.downloads import CableDrive as CableDrive, Downloads as Downloads
from .workers.inspector import Inspector as Inspector
from .workers.keeping import Keeping as Keeping, KeptBench as KeptBench
from .workers.shop_files import ShopFiles as ShopFiles
from .workers.speaker import Speaker as Speaker
from .workers.updates import came_back as came_back, installed_update as installed_update
