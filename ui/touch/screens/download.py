"""Download: one coupon's folder onto the stick that is plugged in or onto the cable drive, by one touch."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ObjectProperty

from core.said import NOTHING, Name, Number, Said, lines, said
from ui.bench.desks.download import Download
from ui.pages.theme import Shape
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadSlice, DownloadState, DownloadWay
from ui.touch.screen import BenchScreen, Door, Group

LAMPS = {
    DownloadState.IDLE: (Shape.RING, said("READY"), said("nothing written yet")),
    DownloadState.WRITING: (Shape.HALF_DIAMOND, said("WRITING"), said("leave the stick in")),
    DownloadState.CHECKING: (Shape.HALF_DIAMOND, said("CHECKING"), said("leave the stick in")),
    DownloadState.SAFE: (Shape.DISC, said("SAFE TO REMOVE"), said("written and read back")),
    DownloadState.SHOWN: (Shape.DISC, said("ON THE DRIVE"), said("eject it at the computer when done")),
    DownloadState.FAILED: (Shape.CROSSED_SQUARE, said("FAILED"), said("nothing half-written was left")),
}


class DownloadScreen(BenchScreen):
    """Keeps which session is to be written: the one touched in the history, or the one on the bench."""

    screen_name = "download"
    heading = said("Download")
    door = Door(place=9, words=said("Download"), group=Group.RECORDS)
    parent_screen = "bench"
    shape = ObjectProperty(Shape.RING)
    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    text = ObjectProperty(NOTHING)
    button_text = ObjectProperty(NOTHING)
    ready = BooleanProperty(False)
    cable = BooleanProperty(False)
    cable_ready = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._session = ""

    def on_pre_enter(self) -> None:
        """The session that was touched last, the one on the bench, or the one that was finished last."""
        last = self.snapshot.records.last_closed
        self._session = self.looked_at() or self.snapshot.session or (last.id if last else "")

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        view = snapshot.download
        self.shape, self.word, self.caption = LAMPS[view.state]
        self.text = lines(view.text, sticks_text(view))
        self.button_text = (
            said("Download coupon {session}", session=Name(self._session))
            if self._session
            else said("No coupon to download")
        )
        free = bool(self._session) and not view.state.is_busy
        self.ready = free and len(view.sticks) == 1
        self.cable, self.cable_ready = view.cable, view.cable and free

    def download(self) -> None:
        """Write it onto the stick."""
        self.send(Download(session=self._session))

    def show_on_cable(self) -> None:
        """Put it onto the drive that the computer on the USB cable sees."""
        self.send(Download(session=self._session, way=DownloadWay.CABLE))


def sticks_text(view: DownloadSlice) -> Said:
    """What is plugged in, and what to do about it."""
    if not view.sticks:
        return said("Plug a USB stick in: report, CSV, JSON and drawing go onto it.")
    if len(view.sticks) > 1:
        return said("More than one stick is plugged in: leave only the one to write to.")
    stick = view.sticks[0]
    name = Name(stick.label) if stick.label else said("without a name")
    size = Number(stick.size_bytes / 1e9, 1, "GB")
    if stick.write_protected:
        return said("Stick: {name}, {size}. It is write-protected: slide its switch back.", name=name, size=size)
    return said("Stick: {name}, {size}.", name=name, size=size)
