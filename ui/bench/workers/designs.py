"""Designs corrected on the stick, in the download thread: looked for, read and corrected, written beside the original.

Input: what to correct and by which map. Output: design reports, posted into the bench's queue. Reading a large drawing
takes seconds, so the bench does not wait for it; what was shown as prepared is what is written, byte for byte.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from core.errors import BadInputError, CornerwiseError, StoppedError
from core.said import NOTHING, Name, Part, said
from hardware import FilePlace, FilesFound, ReadFile, Step, find_files, new_name, read_file, write_new_file
from ui.bench.workers.design_process import DesignProcess
from ui.bench.workers.downloads import Downloads, Errand, Post
from ui.bench.workers.work import under_way
from ui.state import DesignSource, DesignStage, PreparedDesign, Report

if TYPE_CHECKING:
    # Loaded by whoever corrects a design.
    from core.geometry import Affine, CorrectedDesign

_STAGE_OF = {Step.WRITING: DesignStage.WRITING, Step.CHECKING: DesignStage.CHECKING}


class DesignsFound(Report, frozen=True, kw_only=True):
    """The designs on the stick."""

    found: FilesFound


class DesignPrepared(Report, frozen=True, kw_only=True):
    """A design is corrected and can be written."""

    prepared: PreparedDesign


class DesignMoved(Report, frozen=True, kw_only=True):
    """Writing came further, ended, or something failed; `text` says it in words."""

    stage: DesignStage
    text: Part = NOTHING


class _Waiting(Struct, frozen=True, kw_only=True):
    """What waits to be written, and the file it was made from; None for a coupon."""

    prepared: PreparedDesign
    content: bytes
    made_from: ReadFile | None


class Designs:
    """Asks the download thread; `place` says where the designs are now, raising NotAvailableError where nowhere.

    `folder` is the folder that stands for a stick, None where there is none.
    """

    def __init__(self, runner: Downloads, place: Callable[[], FilePlace], folder: Path | None = None) -> None:
        self._runner = runner
        self._place = place
        self.folder = folder
        self._process = DesignProcess()
        self._waiting: _Waiting | None = None  # of the download thread alone

    def look(self) -> None:
        """Look which designs there are."""
        self._ask(self._look, said("looking for designs"))

    def prepare(self, source: DesignSource, matrix: Affine, *, simulated: bool) -> None:
        """Read this and correct it; nothing is written yet. What is corrected by an invented number is named so."""
        self._process.expect()
        ending = "corrected-SIMULATED" if simulated else "corrected"
        correcting = said("correcting the design")
        self._ask(lambda post: self._prepare(source, matrix, ending, post), correcting, self._process.stop)

    def write(self) -> None:
        """Write what was prepared last."""
        self._ask(self._write, said("writing the design"))

    def _ask(self, errand: Errand, what: Part, stopping: Callable[[], None] | None = None) -> None:
        def told(post: Post) -> None:
            try:
                with under_way(post, what, stopping) as work:
                    if stopping is None:
                        work.must_end()  # one small file, on a stick that may be slow
                    errand(post)
            except StoppedError:
                post(DesignMoved(stage=DesignStage.FOUND))
            except CornerwiseError as error:
                post(DesignMoved(stage=DesignStage.FAILED, text=error.what))
            except MemoryError:
                post(DesignMoved(stage=DesignStage.FAILED, text=said("The design is too large for this bench.")))

        self._runner.run(told)

    def _look(self, post: Post) -> None:
        from core.geometry import SUFFIXES

        post(DesignsFound(found=find_files(self._place(), SUFFIXES)))

    def _prepare(self, source: DesignSource, matrix: Affine, ending: str, post: Post) -> None:
        self._waiting = None
        made_from = None if source.coupon else read_file(self._place(), source.path)
        design = (
            self._process.correct(made_from.path, made_from.content, matrix)
            if made_from
            else _corrected_coupon(source, matrix)
        )
        prepared = PreparedDesign(
            source=source,
            path=new_name(source.path, ending),
            matrix=matrix,
            texts=design.texts,
            circles=design.circles,
            flattened=design.flattened,
            left_out=design.left_out,
            undrawn=design.undrawn,
        )
        self._waiting = _Waiting(prepared=prepared, content=design.content, made_from=made_from)
        post(DesignPrepared(prepared=prepared))

    def _write(self, post: Post) -> None:
        waiting = self._waiting
        if waiting is None:
            raise BadInputError(said("nothing is prepared: choose a design first"))

        def progress(step: Step) -> None:
            if step in _STAGE_OF:
                post(DesignMoved(stage=_STAGE_OF[step]))

        written = write_new_file(
            self._place(), waiting.prepared.path, waiting.content, progress, made_from=waiting.made_from
        )
        self._waiting = None
        post(DesignMoved(stage=DesignStage.DONE, text=Name(written)))


def _corrected_coupon(source: DesignSource, correction: Affine) -> CorrectedDesign:
    """The coupon that proves the correction, drawn by it; the mark and the lead-in are as on every coupon."""
    from core.geometry import CorrectedDesign, CutPlan, corrected, coupon_text, coupon_title, draw

    assert source.coupon is not None
    plan = CutPlan(coupon=source.coupon)
    drawing = corrected(draw(plan), correction)
    return CorrectedDesign(
        content=coupon_text(Path(source.path), drawing, str(coupon_title(plan, corrected=True))).encode("utf-8"),
        texts=0,
        circles=0,
    )
