"""What the snapshot says of the design being corrected, and the reports that bring it further.

Input: what the download thread found, read and wrote. Output: frozen values for desk and screen.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from core.geometry.affine import Affine
from core.geometry.coupon import Coupon
from hardware.stick_files import FilesFound


class DesignStage(StrEnum):
    """How far the correction of a design has come."""

    IDLE = "idle"
    LOOKING = "looking"
    FOUND = "found"
    READING = "reading"
    READY = "ready"
    WRITING = "writing"
    CHECKING = "checking"
    DONE = "done"
    FAILED = "failed"

    @property
    def is_busy(self) -> bool:
        """True while a stick must not be pulled out."""
        return self in (DesignStage.LOOKING, DesignStage.READING, DesignStage.WRITING, DesignStage.CHECKING)


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignSource:
    """What is corrected: the file at `path`, or the coupon drawn anew, which then goes by that path."""

    path: str
    coupon: Coupon | None = None

    @property
    def name(self) -> str:
        """By which it is chosen: no file's path begins with a slash."""
        return self.path if self.coupon is None else f"/{self.path}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedDesign:
    """A design that was read and corrected and waits to be written under `path`: by which map, and how many things in
    it lean, become ellipses, or could not be corrected."""

    source: DesignSource
    path: str
    matrix: Affine
    texts: int
    circles: int
    left_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignSlice:
    """`folder` is the one that stands for a stick where the bench was not installed, empty where it was. `prepared` is
    there from READY on; `text` is the path that was written, or why it failed."""

    folder: str = ""
    stage: DesignStage = DesignStage.IDLE
    found: FilesFound | None = None
    source: DesignSource | None = None
    prepared: PreparedDesign | None = None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignsFound:
    """The designs on the stick."""

    found: FilesFound


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPrepared:
    """A design is corrected and can be written."""

    prepared: PreparedDesign


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignMoved:
    """Writing came further, ended, or something failed; `text` says it in words."""

    stage: DesignStage
    text: str = ""


DesignReport = DesignsFound | DesignPrepared | DesignMoved
