"""The design desk: a design on the stick is chosen, corrected by what the coupon shows, and written by a second touch.

Input: commands and the download thread's reports. Output: the snapshot's `DesignSlice`, and orders to the thread.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Protocol

from core.geometry.affine import Affine
from core.machine.design_correction import DesignCorrection
from ui.bench.steps import told
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.downloads import DownloadReport, WaysSeen
from ui.pages.design import correction_of_design
from ui.state.commands import Command
from ui.state.design_commands import ChooseDesign, LookForDesigns, WriteDesign
from ui.state.design_state import DesignMoved, DesignPrepared, DesignsFound, DesignSlice, DesignSource, DesignStage
from ui.state.snapshot import Snapshot


class DesignPort(Protocol):
    """Where designs are read and written; `folder` stands for a stick where the bench was not installed."""

    folder: Path | None

    def look(self) -> None:
        """Look which designs there are."""
        ...

    def prepare(self, source: DesignSource, matrix: Affine, *, simulated: bool) -> None:
        """Read this and correct it; nothing is written yet."""
        ...

    def write(self) -> None:
        """Write what was prepared last."""
        ...


class DesignDesk:
    """Keeps nothing: what is under way is in the snapshot."""

    def __init__(self, designs: DesignPort | None) -> None:
        self._designs = designs

    @property
    def first(self) -> DesignSlice:
        """Before anything has happened."""
        folder = self._designs.folder if self._designs else None
        return DesignSlice(folder=str(folder) if folder else "")

    def handle(self, draft: Snapshot, event: Command | ArchiveReport | DownloadReport) -> Snapshot:
        """Take what concerns designs; anything else leaves the snapshot as it is."""
        match event:
            case LookForDesigns() | ChooseDesign() | WriteDesign():
                return self._ask(draft, event)
            case WaysSeen(sticks=sticks) if not draft.design.folder and sticks != draft.download.sticks:
                return _plugged(draft)
            case DesignsFound(found=found):
                return _with(draft, stage=DesignStage.FOUND, found=found, source=None, prepared=None, text="")
            case DesignPrepared(prepared=prepared):
                return _with(draft, stage=DesignStage.READY, prepared=prepared)
            case DesignMoved():
                return _moved(draft, event)
        return draft

    def _ask(self, draft: Snapshot, command: LookForDesigns | ChooseDesign | WriteDesign) -> Snapshot:
        correction = correction_of_design(draft)
        if self._designs is None:
            return told(draft, "No design is corrected from this bench: cornerwise correct-design does it.", alarm=True)
        if draft.stick_in_use:
            return told(draft, "The stick is being read or written: wait for it.", alarm=True)
        if not isinstance(correction, DesignCorrection):
            return told(draft, correction.text if correction else "Measure a coupon first.", alarm=True)
        match command:
            case LookForDesigns():
                self._designs.look()
                return _with(draft, stage=DesignStage.LOOKING, source=None, prepared=None, text="")
            case ChooseDesign(source=source):
                self._designs.prepare(source, correction.matrix, simulated=draft.simulated)
                return _with(draft, stage=DesignStage.READING, source=source, prepared=None, text="")
            case WriteDesign():
                return self._write(draft, correction)

    def _write(self, draft: Snapshot, correction: DesignCorrection) -> Snapshot:
        assert self._designs is not None
        prepared = draft.design.prepared
        if draft.design.stage is not DesignStage.READY or prepared is None:
            return told(draft, "Choose a design first.", alarm=True)
        if prepared.matrix != correction.matrix:
            # A reading came in between: what was shown is no longer what the coupon says.
            changed = "The coupon was read on since: choose the design again."
            return told(_with(draft, stage=DesignStage.FOUND, source=None, prepared=None), changed, alarm=True)
        self._designs.write()
        return _with(draft, stage=DesignStage.WRITING)


def _plugged(draft: Snapshot) -> Snapshot:
    """Another stick, or none: what was found on the one before is gone; what was written on it stays said."""
    if draft.design.stage.is_busy or draft.design.stage is DesignStage.DONE:
        return replace(draft, design=replace(draft.design, found=None))
    return replace(draft, design=DesignSlice())


def _moved(draft: Snapshot, moved: DesignMoved) -> Snapshot:
    match moved.stage:
        case DesignStage.DONE:
            draft = _with(draft, stage=moved.stage, text=moved.text, prepared=None)
            safe = "" if draft.design.folder else " The stick is safe to remove."
            return told(draft, f"Written and checked: {moved.text}.{safe}")
        case DesignStage.FAILED:
            draft = _with(draft, stage=moved.stage, text=moved.text, prepared=None)
            return told(draft, f"Not corrected: {moved.text}", alarm=True)
        case _:
            return _with(draft, stage=moved.stage)


def _with(draft: Snapshot, **changed: object) -> Snapshot:
    return replace(draft, design=replace(draft.design, **changed))  # type: ignore[arg-type]
