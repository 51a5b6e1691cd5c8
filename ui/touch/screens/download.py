"""Download: one coupon's folder onto the stick that is plugged in or onto the cable drive, by one touch."""

from kivy.properties import ObjectProperty

from core.said import said
from ui.bench import Download
from ui.pages.download import DownloadPage, download_page
from ui.state import DownloadWay, Snapshot
from ui.touch.pictures.help import STICK, Help
from ui.touch.pictures.strokes import arrow
from ui.touch.screen import Door, ErrandScreen, Group


class DownloadScreen(ErrandScreen):
    """Keeps which session is to be written: the one touched in the history, or the one on the bench."""

    screen_name = "download"
    heading = said("Download")
    door = Door(place=9, words=said("Download"), group=Group.RECORDS)
    parent_screen = "bench"
    help = Help(
        (*STICK, *arrow((50, 96), (50, 66), width=5.0)),
        (
            said("Plug one stick in, and touch the blue button."),
            said("Leave it in until it says that it may be pulled out."),
            said("Report, readings and pictures lie in one folder."),
        ),
    )
    page = ObjectProperty(DownloadPage(), rebind=True)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._session = ""

    def on_pre_enter(self) -> None:
        """The session that was touched last, the one on the bench, or the one that was finished last."""
        last = self.snapshot.records.last_closed
        self._session = self.looked_at() or self.snapshot.session or (last.id if last else "")

    def page_of(self, snapshot: Snapshot) -> DownloadPage:
        """What is said of it."""
        return download_page(snapshot, self._session)

    def download(self) -> None:
        """Write it onto the stick."""
        self.send(Download(session=self._session))

    def show_on_cable(self) -> None:
        """Put it onto the drive that the computer on the USB cable sees."""
        self.send(Download(session=self._session, way=DownloadWay.CABLE))
