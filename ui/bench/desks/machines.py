"""The machine desk: the machines of the shop, their logs, and the guided correction.

Input: commands, gaps, archive answers. Output: the next snapshot's `MachinesSlice`, and tasks for the archive. How
far a correction has come is a fold over the machine's log; this desk keeps profiles and logs and nothing else.
"""

from collections.abc import Iterable

from msgspec.structs import replace

from core.machine import (
    CoarseReset,
    Correction,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionResumed,
    EntryUndone,
    Gaps,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    MachineProfile,
    Refusal,
    RefusalReason,
    Stage,
    StepDone,
    answer,
    begin,
    can_be_undone,
    coarse_reset_sentence,
    correction_by_reference,
    entry_words,
    guided_state,
    keep_reference,
    profile_of_span,
    reference_state,
    refusal_of,
    standing,
    to_be_resumed,
    trial_came_true,
)
from core.machine.gantry_correction import gantry_correction
from core.machine.spent_coupon import spent_coupon
from core.metrology import MoveHeld, Quantity, move_evidence
from core.records import MachineNamed
from core.said import Length, Name, said
from ui.bench.routing import Desk
from ui.bench.steps import NOTHING_TO_TAKE_BACK, TAKEN_BACK, told
from ui.bench.workers.archive_tasks import (
    Begun,
    Committed,
    MachineLogged,
    MachinesLoaded,
    append,
    load_machines,
    log_on_machine,
    save_machine,
)
from ui.bench.workers.archive_thread import LOOKING, Outbox
from ui.state import Command, MachinesSlice, Snapshot, Undoable

MAX_GAP_MM = 500.0  # no feeler, block or caliper reaches further between a gantry and its reference


class LoadMachines(Command, frozen=True, kw_only=True):
    """Look up the machines of the shop."""


class SaveMachine(Command, frozen=True, kw_only=True):
    """Keep a machine profile, new or changed, and work on that machine."""

    profile: MachineProfile


class ChooseMachine(Command, frozen=True, kw_only=True):
    """Work on the machine of this name."""

    name: str


class LogMachineEvent(Command, frozen=True, kw_only=True):
    """Something happened to the machine that may have upset it."""

    kind: MachineEventKind
    note: str = ""


class TakeBackEntry(Command, frozen=True, kw_only=True):
    """Take back the entry of this number in a machine's log: an event, a reset, a correction given up; only while it
    was done last."""

    machine: str
    number: int


class BeginCorrection(Command, frozen=True, kw_only=True):
    """Start the guided correction that the coupon on the bench calls for."""


class BeginCorrectionByReference(Command, frozen=True, kw_only=True):
    """Start the guided correction that the machine's square reference calls for, by both gaps as they are now."""

    gaps: Gaps


class KeepReference(Command, frozen=True, kw_only=True):
    """Remember the skew of the coupon on the bench with both gaps as they were when it was cut."""

    gaps: Gaps


class LogCoarseReset(Command, frozen=True, kw_only=True):
    """The gantry was squared to the frame without a coupon."""

    reset: CoarseReset


class GuidedAnswer(Command, frozen=True, kw_only=True):
    """The person has done what the present step of the correction asks; `gap_mm` where a gap is typed."""

    gap_mm: float | None = None


class AbandonCorrection(Command, frozen=True, kw_only=True):
    """Give the correction up; `reason` says what state the machine was left in."""

    reason: str


class MachineDesk(Desk):
    """Keeps what the archive knows of machines."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox
        self._profiles: tuple[MachineProfile, ...] = ()
        self._logs: dict[str, tuple[LogEntry, ...]] = {}
        self._chosen = ""
        self._taken_up = ""  # the machine whose correction goes on at this bench

        self.takes = {
            LoadMachines: self._load,
            SaveMachine: self._save,
            ChooseMachine: self._choose,
            MachinesLoaded: self._loaded,
            MachineLogged: self._logged,
            LogMachineEvent: lambda draft, event: self._log(draft, (MachineEvent(kind=event.kind, note=event.note),)),
            TakeBackEntry: self._take_back,
            BeginCorrection: self._begin,
            BeginCorrectionByReference: self._begin_by_reference,
            KeepReference: self._keep_reference,
            LogCoarseReset: self._log_reset,
            GuidedAnswer: lambda draft, answered: self.answered(draft, answered.gap_mm),
            AbandonCorrection: lambda draft, given_up: self._log(draft, (CorrectionAbandoned(reason=given_up.reason),)),
        }
        self.hears = {Begun: self._begun, Committed: self._renewed}

    def _renewed(self, draft: Snapshot, _event: object = None) -> Snapshot:
        """The slice derived anew: machines, logs, or the coupon that a correction follows from, have changed."""
        draft = replace(draft, answers=replace(draft.answers, foretold=self._foretold(draft)))
        return replace(draft, machines=self._slice(draft))

    def _foretold(self, draft: Snapshot) -> bool | None:
        """Whether this coupon shows that a trial step was made the right way."""
        current = self._current()
        if current is None or draft.session is None or draft.evaluation is None or current.name != draft.machine:
            return None
        return trial_came_true(
            self._logs.get(current.name, ()),
            current,
            session=draft.session,
            opened_utc=draft.log[0].time_utc if draft.log else None,
            evaluation=draft.evaluation,
            answers=draft.answers,
        )

    def _load(self, draft: Snapshot, _load: LoadMachines) -> Snapshot:
        self._outbox.submit(load_machines, LOOKING)
        return draft

    def _save(self, draft: Snapshot, wish: SaveMachine) -> Snapshot:
        self._outbox.submit(save_machine(wish.profile))
        return draft

    def _choose(self, draft: Snapshot, wish: ChooseMachine) -> Snapshot:
        self._chosen = wish.name
        self._name_on_coupon(draft)
        self._take_up()
        return self._renewed(draft)

    def _begun(self, draft: Snapshot, _begun: Begun) -> Snapshot:
        self._chosen = draft.machine or self._chosen
        return self._renewed(draft)

    def _loaded(self, draft: Snapshot, loaded: MachinesLoaded) -> Snapshot:
        self._profiles = loaded.profiles
        self._logs = {profile.name: log for profile, log in zip(loaded.profiles, loaded.logs, strict=True)}
        self._chosen = loaded.saved or self._chosen
        if loaded.saved:
            self._name_on_coupon(draft)
        self._take_up()
        return self._renewed(draft)

    def _name_on_coupon(self, draft: Snapshot) -> None:
        """The machine that the person says is at work is the one that the coupon on the bench was cut on; a finished
        coupon keeps the one it has, and an exercise's was cut on none."""
        current = self._current()
        exercise = draft.practice is not None and draft.practice.session == draft.session
        if current is None or draft.session is None or exercise or (draft.machine and draft.closed):
            return
        if (draft.machine, draft.span_mm) != (current.name, current.span_mm):
            named = MachineNamed(machine=current.name, span_mm=current.span_mm)
            self._outbox.submit(append(draft.session, named))

    def _take_up(self) -> None:
        """The cautions that still matter are asked anew for a correction that was under way when the bench was left."""
        current = self._current()
        if current is None or self._taken_up == current.name:
            return
        self._taken_up = current.name
        if to_be_resumed(guided_state(self._logs.get(current.name, ()), current)):
            self._outbox.submit(log_on_machine(current.name, CorrectionResumed()))

    def _logged(self, draft: Snapshot, logged: MachineLogged) -> Snapshot:
        entry = logged.entry
        self._logs[logged.machine] = standing((*self._logs.get(logged.machine, ()), entry))
        match entry.payload:
            case StepDone(step=GuidedStep.RECUT):
                draft = told(draft, said("Measure the new coupon: it will be held against the one before."))
            case EntryUndone():
                draft = told(replace(draft, undo=None), TAKEN_BACK)
            case MachineEvent() as event:
                draft = told(
                    draft, said("Noted of {machine}: {event}.", machine=Name(logged.machine), event=entry_words(event))
                )
        if can_be_undone(entry.payload):
            back = TakeBackEntry(machine=logged.machine, number=entry.sequence)
            draft = replace(draft, undo=Undoable(command=back))
        return self._renewed(draft)

    def _take_back(self, draft: Snapshot, wish: TakeBackEntry) -> Snapshot:
        """Only what was done last: two touches take back one thing."""
        if draft.undo is None or draft.undo.command != wish:
            return told(draft, NOTHING_TO_TAKE_BACK, alarm=True)
        self._outbox.submit(log_on_machine(wish.machine, EntryUndone(number=wish.number)))
        return replace(draft, undo=None)

    def _log_reset(self, draft: Snapshot, done: LogCoarseReset) -> Snapshot:
        if draft.machines.current is not None:
            draft = told(draft, coarse_reset_sentence(draft.machines.current))
        return self._log(draft, (CorrectionApplied(session=draft.session or "", made_mm=None, coarse=done.reset),))

    def wants_gap(self, draft: Snapshot, quantity: Quantity) -> bool:
        """Whether a length that is meant now is a gap: a correction waits for one, and no other coupon is measured."""
        guided = draft.machines.guided
        if guided is None or quantity is not Quantity.LENGTH:
            return False
        other_coupon = draft.session not in (None, guided.begun.session) and not draft.closed
        return guided.gap_end is not None and not other_coupon

    def _begin(self, draft: Snapshot, _begin: BeginCorrection) -> Snapshot:
        correction = draft.machines.correction
        if not isinstance(correction, Correction) or draft.session is None or draft.machines.current is None:
            text = correction.text if correction else said("A correction needs a judged coupon and a machine profile.")
            return told(draft, text, alarm=True)
        return self._log(draft, (begin(draft.session, correction),))

    def _begin_by_reference(self, draft: Snapshot, wish: BeginCorrectionByReference) -> Snapshot:
        machine = draft.machines.current
        if machine is None:
            return told(draft, said("Describe your machine first: its span and its gap points count here."), alarm=True)
        correction = correction_by_reference(reference_state(draft.machines.log), wish.gaps, machine)
        if isinstance(correction, Refusal):
            return told(draft, correction.text, alarm=True)
        # No session: the coupon behind the reference is not what this correction is held against.
        return self._log(draft, (begin("", correction),))

    def _keep_reference(self, draft: Snapshot, wish: KeepReference) -> Snapshot:
        if draft.evaluation is None or draft.session is None or draft.machines.current is None:
            text = said("A square reference needs the coupon that was just cut, and a machine profile.")
            return told(draft, text, alarm=True)
        evidence = move_evidence(draft.evaluation, replace(draft.answers, names_confirmed=False))
        if evidence.held not in (None, MoveHeld.NOT_SIGNIFICANT):
            return told(draft, refusal_of(evidence).text, alarm=True)
        kept = keep_reference(draft.session, evidence.skew_deg, wish.gaps)
        return told(self._log(draft, (kept,)), said("Square reference: skew and gaps are remembered together."))

    def answered(self, draft: Snapshot, gap_mm: float | None) -> Snapshot:
        """The step that is up is done; with a gap, typed or by cable, where it asks for one."""
        guided = draft.machines.guided
        if guided is None:
            return told(draft, said("No correction is under way."), alarm=True)
        if gap_mm is not None and not 0.0 < gap_mm <= MAX_GAP_MM:
            text = said(
                "{gap} is no gap: between {least} and {most} is possible.",
                gap=Length(gap_mm),
                least=Length(0.0, None, unit=False),
                most=Length(MAX_GAP_MM, None),
            )
            return told(draft, text, alarm=True)
        payloads = answer(guided, gap_mm)
        if not payloads:
            return told(draft, said("Read the gap: press the data button, take it by touch, or type it."), alarm=True)
        return self._log(draft, payloads)

    def _log(self, draft: Snapshot, payloads: Iterable[LogPayload]) -> Snapshot:
        machine = draft.machines.current
        if machine is None:
            return told(draft, said("Describe your machine first, so that there is a log to write into."), alarm=True)
        for payload in payloads:
            self._outbox.submit(log_on_machine(machine.name, payload))
        return draft

    def _slice(self, draft: Snapshot) -> MachinesSlice:
        current = self._current()
        log = self._logs.get(current.name, ()) if current else ()
        guided = guided_state(log, current) if current else None
        return MachinesSlice(
            profiles=self._profiles,
            current=current,
            log=log,
            guided=None if guided is None or guided.stage is Stage.DONE else guided,
            correction=self._correction(draft, current),
        )

    def _current(self) -> MachineProfile | None:
        """The machine chosen, else the one used last."""
        named = (profile for profile in self._profiles if profile.name == self._chosen)
        return next(named, self._profiles[0] if self._profiles else None)

    def _correction(self, draft: Snapshot, current: MachineProfile | None) -> Correction | Refusal | None:
        if draft.evaluation is None:
            return None
        if current is not None and current.name == draft.machine:
            profile = current
        elif draft.span_mm is not None:
            profile = profile_of_span(draft.span_mm)
        else:
            return None
        spent = spent_coupon(self._logs.get(profile.name, ()), draft.session or "")
        if spent:
            return Refusal(reason=RefusalReason.SPENT, text=spent)
        return gantry_correction(draft.evaluation, profile, answers=draft.answers, setup=draft.setup)
