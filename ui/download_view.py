"""What the snapshot says of the download: the sticks that are plugged in, and how far the download has come."""

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
    FAILED = "failed"

    @property
    def is_busy(self) -> bool:
        """True while a stick must not be pulled out."""
        return self in (DownloadState.WRITING, DownloadState.CHECKING)


@dataclass(frozen=True, slots=True, kw_only=True)
class DownloadView:
    """`text` says it in words; `session` is what is or was downloaded last, empty before."""

    sticks: tuple[Stick, ...] = ()
    state: DownloadState = DownloadState.IDLE
    session: str = ""
    text: str = ""
