"""The design desk: a design on the stick is chosen, corrected by what the coupon shows, and written by a second touch.

Input: commands and the download thread's reports. Output: the snapshot's `DesignSlice`, and orders to the thread.
"""

from msgspec.structs import replace

from core.machine import DesignCorrection, Refusal, RefusalReason
from core.machine.design_correction import design_correction
from core.said import NOTHING, paragraph, said
from ui.bench.routing import Desk
from ui.bench.steps import STICK_IN_USE, told
from ui.bench.workers.designs import DesignMoved, DesignPrepared, Designs, DesignsFound
from ui.bench.workers.downloads import WaysSeen
from ui.state import Command, DesignSlice, DesignSource, DesignStage, Snapshot


class LookForDesigns(Command, frozen=True, kw_only=True):
    """Look which designs are on the stick that is plugged in."""


class ChooseDesign(Command, frozen=True, kw_only=True):
    """Read this design and correct it by what the coupon shows; nothing is written yet."""

    source: DesignSource


class WriteDesign(Command, frozen=True, kw_only=True):
    """Write the corrected design beside the original."""


class DesignDesk(Desk):
    """Keeps nothing: what is under way is in the snapshot."""

    def __init__(self, designs: Designs | None) -> None:
        self._designs = designs
        self.takes = {
            LookForDesigns: self._ask,
            ChooseDesign: self._ask,
            WriteDesign: self._ask,
            DesignsFound: self._found,
            DesignPrepared: lambda draft, report: _with(draft, stage=DesignStage.READY, prepared=report.prepared),
            DesignMoved: self._moved,
        }
        self.hears = {WaysSeen: self._plugged}

    @property
    def first(self) -> DesignSlice:
        """Before anything has happened."""
        folder = self._designs.folder if self._designs else None
        return DesignSlice(folder=str(folder) if folder else "")

    def _found(self, draft: Snapshot, report: DesignsFound) -> Snapshot:
        return _with(draft, stage=DesignStage.FOUND, found=report.found, source=None, prepared=None, text=NOTHING)

    def _plugged(self, draft: Snapshot, _ways: WaysSeen) -> Snapshot:
        """Another stick, or none: what was found on the one before is gone; what was written on it stays said."""
        if draft.design.folder:
            return draft
        if draft.design.stage.is_busy or draft.design.stage is DesignStage.DONE:
            return replace(draft, design=replace(draft.design, found=None))
        return replace(draft, design=DesignSlice())

    def _ask(self, draft: Snapshot, command: LookForDesigns | ChooseDesign | WriteDesign) -> Snapshot:
        correction = correction_of_design(draft)
        if self._designs is None:
            return told(
                draft, said("No design is corrected from this bench: cornerwise correct-design does it."), alarm=True
            )
        if draft.stick_in_use:
            return told(draft, STICK_IN_USE, alarm=True)
        if not isinstance(correction, DesignCorrection):
            return told(draft, correction.text if correction else said("Measure a coupon first."), alarm=True)
        match command:
            case LookForDesigns():
                self._designs.look()
                return _with(draft, stage=DesignStage.LOOKING, source=None, prepared=None, text=NOTHING)
            case ChooseDesign(source=source):
                self._designs.prepare(source, correction.matrix, simulated=draft.simulated)
                return _with(draft, stage=DesignStage.READING, source=source, prepared=None, text=NOTHING)
            case WriteDesign():
                return self._write(draft, correction)

    def _write(self, draft: Snapshot, correction: DesignCorrection) -> Snapshot:
        assert self._designs is not None
        prepared = draft.design.prepared
        if draft.design.stage is not DesignStage.READY or prepared is None:
            return told(draft, said("Choose a design first."), alarm=True)
        if prepared.matrix != correction.matrix:
            # A reading came in between: what was shown is no longer what the coupon says.
            changed = said("The coupon was read on since: choose the design again.")
            return told(_with(draft, stage=DesignStage.FOUND, source=None, prepared=None), changed, alarm=True)
        self._designs.write()
        return _with(draft, stage=DesignStage.WRITING)

    def _moved(self, draft: Snapshot, moved: DesignMoved) -> Snapshot:
        match moved.stage:
            case DesignStage.DONE:
                draft = _with(draft, stage=moved.stage, text=moved.text, prepared=None)
                written = said("Written and checked: {file}.", file=moved.text)
                safe = NOTHING if draft.design.folder else said("The stick is safe to remove.")
                return told(draft, paragraph(written, safe))
            case DesignStage.FAILED:
                draft = _with(draft, stage=moved.stage, text=moved.text, prepared=None)
                return told(draft, said("Not corrected: {reason}", reason=moved.text), alarm=True)
            case DesignStage.FOUND:
                draft = _with(draft, stage=moved.stage, source=None, prepared=None)
                return told(draft, said("Stopped: the design is as it was."))
            case _:
                return _with(draft, stage=moved.stage)


def _with(draft: Snapshot, **changed: object) -> Snapshot:
    return replace(draft, design=replace(draft.design, **changed))


def correction_of_design(snapshot: Snapshot) -> DesignCorrection | Refusal | None:
    """What the coupon says of designs, or why nothing; None before one is measured, or while an exercise is open."""
    if snapshot.evaluation is None or snapshot.exercise_is_open:
        return None
    machines = snapshot.machines
    if isinstance(machines.correction, Refusal) and machines.correction.reason is RefusalReason.SPENT:
        return machines.correction
    named = machines.current is not None and machines.current.name == snapshot.machine
    return design_correction(snapshot.evaluation, machines.current if named else None, answers=snapshot.answers)
