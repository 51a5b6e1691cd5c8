"""The machine desk: the machines of the shop, their logs, and the guided correction.

Input: commands, gaps, archive answers. Output: the next snapshot's `MachinesSlice`, and tasks for the archive. How
far a correction has come is a fold over the machine's log; this desk keeps profiles and logs and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from core.machine.gantry_correction import (
    Correction,
    Refusal,
    RefusalReason,
    gantry_correction,
    profile_of_span,
    refusal_of_evidence,
)
from core.machine.guided_correction import GuidedState, Stage, answer, begin, guided_state
from core.machine.guided_wording import TITLES, coarse_reset_sentence
from core.machine.machine_log import (
    CorrectionAbandoned,
    CorrectionApplied,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    StepDone,
)
from core.machine.parallelism import Gaps
from core.machine.profile import MachineProfile
from core.machine.spent_coupon import spent_coupon
from core.machine.square_reference import correction_by_reference, keep_reference, reference_state
from core.metrology.readings import Quantity
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import (
    Begun,
    MachineLogged,
    MachinesLoaded,
    load_machines,
    log_on_machine,
    save_machine,
)
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.outbox import Outbox
from ui.state.commands import (
    AbandonCorrection,
    BeginCorrection,
    BeginCorrectionByReference,
    ChooseMachine,
    Command,
    GuidedAnswer,
    KeepReference,
    LoadMachines,
    LogCoarseReset,
    LogMachineEvent,
    SaveMachine,
)
from ui.state.machine_view import MachinesSlice
from ui.state.snapshot import Snapshot

MAX_GAP_MM = 500.0  # no feeler, block or caliper reaches further between a gantry and its reference


class MachineDesk:
    """Keeps what the archive knows of machines; `handle` takes what concerns them."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox
        self._profiles: tuple[MachineProfile, ...] = ()
        self._logs: dict[str, tuple[LogEntry, ...]] = {}
        self._chosen = ""

    def handle(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """Take what concerns machines; anything else leaves the snapshot as it is, but for the correction it allows."""
        match event:
            case LoadMachines():
                self._outbox.submit(load_machines)
            case SaveMachine(profile=profile):
                self._outbox.submit(save_machine(profile))
            case ChooseMachine(name=name):
                self._chosen = name
            case MachinesLoaded():
                self._loaded(event)
            case MachineLogged(machine=machine, entry=entry):
                self._logs[machine] = (*self._logs.get(machine, ()), entry)
                if entry.payload == StepDone(step=GuidedStep.RECUT):
                    draft = told(draft, f"{TITLES[Stage.DONE]}: it will be held against the one before.")
            case LogMachineEvent(kind=kind, note=note):
                return self._log(draft, (MachineEvent(kind=kind, note=note),))
            case BeginCorrection():
                return self._begin(draft)
            case BeginCorrectionByReference(gaps=gaps):
                return self._begin_by_reference(draft, gaps)
            case KeepReference(gaps=gaps):
                return self._keep_reference(draft, gaps)
            case LogCoarseReset(reset=reset):
                if draft.machines.current is not None:
                    draft = told(draft, coarse_reset_sentence(reset, draft.machines.current))
                return self._log(draft, (CorrectionApplied(session=draft.session or "", made_mm=None, coarse=reset),))
            case GuidedAnswer(gap_mm=gap_mm):
                return self._answered(draft, gap_mm)
            case AbandonCorrection(reason=reason):
                return self._log(draft, (CorrectionAbandoned(reason=reason),))
            case Begun():
                self._chosen = draft.machine or self._chosen
        return replace(draft, machines=self._view(draft))

    def wants_gap(self, draft: Snapshot, quantity: Quantity) -> bool:
        """Whether a length that is meant now is a gap: a correction waits for one, and no other coupon is measured."""
        guided = draft.machines.guided
        if guided is None or quantity is not Quantity.LENGTH:
            return False
        other_coupon = draft.session not in (None, guided.begun.session) and not draft.closed
        return guided.gap_end is not None and not other_coupon

    def gap_read(self, draft: Snapshot, gap_mm: float) -> Snapshot:
        """A gap came in by cable."""
        return self._answered(draft, gap_mm)

    def _loaded(self, loaded: MachinesLoaded) -> None:
        self._profiles = loaded.profiles
        self._logs = {profile.name: log for profile, log in zip(loaded.profiles, loaded.logs, strict=True)}
        self._chosen = loaded.saved or self._chosen

    def _begin(self, draft: Snapshot) -> Snapshot:
        correction = draft.machines.correction
        if not isinstance(correction, Correction) or draft.session is None or draft.machines.current is None:
            text = correction.text if correction else "A correction needs a judged coupon and a machine profile."
            return told(draft, text, alarm=True)
        return self._log(draft, (begin(draft.session, correction),))

    def _begin_by_reference(self, draft: Snapshot, gaps: Gaps) -> Snapshot:
        machine = draft.machines.current
        if machine is None:
            return told(draft, "Describe your machine first: its span and its gap points count here.", alarm=True)
        correction = correction_by_reference(reference_state(draft.machines.log), gaps, machine)
        if isinstance(correction, Refusal):
            return told(draft, correction.text, alarm=True)
        # No session: the coupon behind the reference is not what this correction is held against.
        return self._log(draft, (begin("", correction),))

    def _keep_reference(self, draft: Snapshot, gaps: Gaps) -> Snapshot:
        if draft.evaluation is None or draft.session is None or draft.machines.current is None:
            text = "A square reference needs the coupon that was just cut, and a machine profile."
            return told(draft, text, alarm=True)
        refusal = refusal_of_evidence(draft.evaluation, mark_confirmed=draft.mark_confirmed)
        if refusal is not None:
            return told(draft, refusal.text, alarm=True)
        kept = keep_reference(draft.session, draft.evaluation.adjustment.skew_deg, gaps)
        return told(self._log(draft, (kept,)), "Square reference: skew and gaps are remembered together.")

    def _answered(self, draft: Snapshot, gap_mm: float | None) -> Snapshot:
        guided = draft.machines.guided
        if guided is None:
            return told(draft, "No correction is under way.", alarm=True)
        if gap_mm is not None and not 0.0 < gap_mm <= MAX_GAP_MM:
            return told(draft, f"{gap_mm:.2f} mm is no gap: between 0 and {MAX_GAP_MM:g} mm is possible.", alarm=True)
        payloads = answer(guided, gap_mm)
        if not payloads:
            return told(draft, "Read the gap: press the data button, take it by touch, or type it.", alarm=True)
        return self._log(draft, payloads)

    def _log(self, draft: Snapshot, payloads: Iterable[LogPayload]) -> Snapshot:
        machine = draft.machines.current
        if machine is None:
            return told(draft, "Describe your machine first, so that there is a log to write into.", alarm=True)
        for payload in payloads:
            self._outbox.submit(log_on_machine(machine.name, payload))
        return draft

    def _view(self, draft: Snapshot) -> MachinesSlice:
        current = self._current()
        log = self._logs.get(current.name, ()) if current else ()
        guided = guided_state(log, current) if current else None
        return MachinesSlice(
            profiles=self._profiles,
            current=current,
            log=log,
            guided=guided if _is_under_way(guided) else None,
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
        return gantry_correction(draft.evaluation, profile, mark_confirmed=draft.mark_confirmed, setup=draft.setup)


def _is_under_way(guided: GuidedState | None) -> bool:
    return guided is not None and guided.stage is not Stage.DONE
