"""What the snapshot says of the download: where it could go, and how far it has come."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from hardware.usb_stick import Stick


class DownloadState(StrEnum):
    """Where a download stands."""

    IDLE = "idle"
    WRITING = "writing"
    CHECKING = "checking"
    SAFE = "safe"
    SHOWN = "shown"
    FAILED = "failed"

    @property
    def is_busy(self) -> bool:
        """True while a stick must not be pulled out."""
        return self in (DownloadState.WRITING, DownloadState.CHECKING)


@dataclass(frozen=True, slots=True, kw_only=True)
class DownloadSlice:
    """`text` says it in words; `session` is what is or was downloaded last, empty before. `cable` is True on a board
    that can be a drive on a computer's USB cable."""

    sticks: tuple[Stick, ...] = ()
    cable: bool = False
    state: DownloadState = DownloadState.IDLE
    session: str = ""
    text: str = ""
