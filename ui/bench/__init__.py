"""The controller, its desks, its workers: the one place where threads meet. Below, what others may use."""

from ui.bench.alone import alone_on
from ui.bench.bench import Bench
from ui.bench.bench_port import BenchPort
from ui.bench.desks.belts import ListenToBelt, LogBelts
from ui.bench.desks.cables import AskPort, ForgetInstrument, ListenPort, TryInstrument, UseInstrument
from ui.bench.desks.design import ChooseDesign, LookForDesigns, WriteDesign, correction_of_design
from ui.bench.desks.download import Download
from ui.bench.desks.live import TakeReading
from ui.bench.desks.machines import (
    AbandonCorrection,
    BeginCorrection,
    BeginCorrectionByReference,
    ChooseMachine,
    GuidedAnswer,
    KeepReference,
    LoadMachines,
    LogCoarseReset,
    LogMachineEvent,
    SaveMachine,
)
from ui.bench.desks.measuring import (
    AnswerQuestion,
    CloseSession,
    ConfirmMark,
    HoldReadings,
    OpenSession,
    ResumeSession,
    SelectFeature,
    TypeReading,
    VoidReading,
)
from ui.bench.desks.practice import AnswerExercise, BeginExercise, Practice, StopHand
from ui.bench.desks.records import LookUpGrid, LookUpHistory
from ui.bench.desks.settings import ChangeSettings
from ui.bench.desks.update import ChangeVersion, UpdateStep
from ui.bench.fault_report import fault_report, report_name
from ui.bench.gauge_checks import CheckCaliper, CheckGauge
from ui.bench.journal import keep_journal
from ui.bench.lamp_box import TICK_S, Box
from ui.bench.opening import DEFAULT_CLASS, OwnLimits, chosen_limits, limits_of, opening
from ui.bench.practice import FAULT_WORDS, MOVES, Diagnosis, Exercise, Move, PracticeFault, exercises
from ui.bench.simulated_hand import HandOnTheBench
from ui.bench.supervision import WorkerFaulted, guarded, unforeseen
from ui.bench.workers.archive_thread import ArchiveThread
from ui.bench.workers.belt_listener import note_of_file, record
from ui.bench.workers.cables import Cables, InstrumentJoined
from ui.bench.workers.designs import Designs
from ui.bench.workers.downloads import Downloads
from ui.bench.workers.inspector import Inspector
from ui.bench.workers.updates import came_back, installed_update
