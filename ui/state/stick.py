"""What the snapshot says of the download: where it could go, and how far it has come."""

from enum import StrEnum

from msgspec import Struct

from core.geometry import Affine, Coupon
from core.records import SavedBench
from core.said import NOTHING, Part
from hardware import FilesFound, Stick
from ui.state.messages import Report


class DownloadWay(StrEnum):
    """How a download leaves the bench."""

    STICK = "stick"
    CABLE = "cable"


class Stage(StrEnum):
    """How far something has come that is done with a stick."""

    @property
    def is_busy(self) -> bool:
        """True while it is under way, and a stick must not be pulled out."""
        return self.value in _BUSY


_BUSY = frozenset({"looking", "reading", "writing", "checking", "joining", "wiping", "installing", "starting"})


class DownloadState(Stage):
    """Where a download stands."""

    IDLE = "idle"
    WRITING = "writing"
    CHECKING = "checking"
    SAFE = "safe"
    SHOWN = "shown"
    FAILED = "failed"


class DownloadSlice(Struct, frozen=True, kw_only=True):
    """`text` says it in words; `session` is what is or was downloaded last, empty before. `cable` is True on a board
    that can be a drive on a computer's USB cable."""

    sticks: tuple[Stick, ...] = ()
    cable: bool = False
    state: DownloadState = DownloadState.IDLE
    session: str = ""
    text: Part = NOTHING


class KeepSlice(Report, frozen=True, kw_only=True):
    """The whole bench on a stick, and the fault report: how far it is, in words, as its worker reports it. `found` is
    what could be taken back (None: not looked); `starts_anew` once it waits for the next start and the program is to
    end."""

    state: DownloadState = DownloadState.IDLE
    text: Part = NOTHING
    found: SavedBench | None = None
    starts_anew: bool = False


class DesignStage(Stage):
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


class DesignSource(Struct, frozen=True, kw_only=True):
    """What is corrected: the file at `path`, or the coupon drawn anew, which then goes by that path."""

    path: str
    coupon: Coupon | None = None

    @property
    def name(self) -> str:
        """By which it is chosen: no file's path begins with a slash."""
        return self.path if self.coupon is None else f"/{self.path}"


class PreparedDesign(Struct, frozen=True, kw_only=True):
    """A design that was read and corrected and waits to be written under `path`: by which map, and how many things in
    it lean, become ellipses or (`flattened`) chains of short lines, could not be corrected, or are left out because
    nobody drew their lines (`undrawn`)."""

    source: DesignSource
    path: str
    matrix: Affine
    texts: int
    circles: int
    left_out: int
    flattened: int = 0
    undrawn: int = 0


class DesignSlice(Struct, frozen=True, kw_only=True):
    """`folder` is the one that stands for a stick where the bench was not installed, empty where it was. `prepared` is
    there from READY on; `text` is the path that was written, or why it failed."""

    folder: str = ""
    stage: DesignStage = DesignStage.IDLE
    found: FilesFound | None = None
    source: DesignSource | None = None
    prepared: PreparedDesign | None = None
    text: Part = NOTHING


class ShopStage(Stage):
    """How far joining a shop, or leaving it, has come."""

    IDLE = "idle"
    LOOKING = "looking"
    FOUND = "found"
    JOINING = "joining"
    JOINED = "joined"
    WIPING = "wiping"
    FAILED = "failed"


class ShopFile(Struct, frozen=True, kw_only=True):
    """A file on the stick that admits this bench: whose shop, as what. The password in it stays in the worker."""

    path: str
    shop: str
    bench: str


class ShopSlice(Report, frozen=True, kw_only=True):
    """As its worker reports it: `files` are those found on the stick; `joined_by` the path of the one that was used and
    lies there still; `text` why it failed."""

    stage: ShopStage = ShopStage.IDLE
    files: tuple[ShopFile, ...] = ()
    joined_by: str = ""
    text: Part = NOTHING


class UpdateState(Stage):
    """Where an update stands."""

    IDLE = "idle"
    LOOKING = "looking"
    FOUND = "found"
    INSTALLING = "installing"
    STARTING = "starting"
    FAILED = "failed"


class UpdateSlice(Struct, frozen=True, kw_only=True):
    """`running` is the version that runs here, `before` the one that can be gone back to (empty: none), `found` the one
    on the stick; `text` is how far it is, or why not; `last` what became of the last update, `news` the same on the
    first start after it.
    """

    running: str
    before: str = ""
    state: UpdateState = UpdateState.IDLE
    found: str = ""
    text: Part = NOTHING
    last: Part = NOTHING
    news: Part = NOTHING
