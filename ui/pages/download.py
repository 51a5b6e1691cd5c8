"""What the download screen says: what would be written, where it could go, and how far it is. Pure.

Input: Snapshot, and the session that is to be written. Output: DownloadPage.
"""

from core.said import NOTHING, Name, Number, Part, Said, lines, said
from ui.pages.errand import LAMPS, ErrandPage
from ui.pages.theme import Shape
from ui.state import DownloadSlice, DownloadState, Snapshot

_LAMPS = {
    **LAMPS,
    DownloadState.IDLE: (Shape.RING, said("READY"), said("nothing written yet")),
    DownloadState.SHOWN: (Shape.DISC, said("ON THE DRIVE"), said("eject it at the computer when done")),
}


class DownloadPage(ErrandPage, frozen=True, kw_only=True):
    """`button` is the stick's, which counts when `ready`; the cable's is there on boards with a `cable` drive."""

    button: Part = NOTHING
    ready: bool = False
    cable: bool = False
    cable_ready: bool = False


def download_page(snapshot: Snapshot, session: str) -> DownloadPage:
    """The page; `session` is the one that would be written, empty without one."""
    download = snapshot.download
    free = bool(session) and not download.state.is_busy
    coupon = said("Download coupon {session}", session=Name(session))
    return DownloadPage(
        lamp=_LAMPS[download.state],
        text=lines(download.text, sticks_text(download)),
        button=coupon if session else said("No coupon to download"),
        ready=free and len(download.sticks) == 1,
        cable=download.cable,
        cable_ready=download.cable and free,
    )


def sticks_text(download: DownloadSlice) -> Said:
    """What is plugged in, and what to do about it."""
    if not download.sticks:
        return said("Plug a USB stick in: report, CSV, JSON and drawing go onto it.")
    if len(download.sticks) > 1:
        return said("More than one stick is plugged in: leave only the one to write to.")
    stick = download.sticks[0]
    name = Name(stick.label) if stick.label else said("without a name")
    size = Number(stick.size_bytes / 1e9, 1, "GB")
    if stick.write_protected:
        return said("Stick: {name}, {size}. It is write-protected: slide its switch back.", name=name, size=size)
    return said("Stick: {name}, {size}.", name=name, size=size)
