"""A bench on a real archive and a clock that stands still until told, for tests."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Indication, Quantity, Unit
from core.metrology.tolerances import limits_for_class
from core.records.archive import Archive
from core.records.events import Opened
from core.records.session_record import SessionRecord
from core.said import Voice
from firmware_bridge.byte_link import IndicationArrived
from firmware_bridge.instrument_settings import InstrumentSettings
from hardware.stick_files import FilePlace, folder_place
from tests.patience import WAIT_S
from ui.bench.bench import Bench
from ui.bench.desks.measuring import OpenSession
from ui.bench.hearing import Loudspeaker
from ui.bench.supervision import LOG
from ui.bench.workers.archive_thread import ArchiveOpened, ArchiveThread
from ui.bench.workers.cables import CablePort, InstrumentJoined
from ui.bench.workers.designs import Designs
from ui.bench.workers.downloads import Downloads, Errand
from ui.bench.workers.keeping import Keeping, KeptBench
from ui.bench.workers.shop_files import ShopFiles
from ui.state.settings import SettingsFile
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadWay

COUPON = Coupon(width_mm=120, height_mm=80)
# A coupon with a skew of about -0.35 degrees, as read by a good hand. SIMULATED.
SKEWED = {
    Feature.NL_FR: 143.62,
    Feature.NR_FL: 144.43,
    Feature.NEAR: 119.85,
    Feature.RIGHT: 79.86,
    Feature.FAR: 119.87,
    Feature.LEFT: 79.84,
    Feature.NL: 90.4,
    Feature.NR: 89.6,
    Feature.FR: 90.3,
    Feature.FL: 89.7,
}


class CablesLater(CablePort):
    """No cables until some are given: these need the bench's queue first."""

    cables: CablePort | None = None

    def use(self, settings: InstrumentSettings, *, by_hand: bool = False) -> None:
        if self.cables is not None:
            self.cables.use(settings, by_hand=by_hand)

    def forget(self, port: str) -> None:
        if self.cables is not None:
            self.cables.forget(port)

    def listen(self, path: str) -> None:
        if self.cables is not None:
            self.cables.listen(path)

    def look_for_radio(self) -> None:
        if self.cables is not None:
            self.cables.look_for_radio()

    def request(self, instrument: str) -> None:
        if self.cables is not None:
            self.cables.request(instrument)


class DownloadsLater:
    """No download thread until one is given: it needs the bench's queue first."""

    downloads: Downloads | None = None

    def download(self, record: SessionRecord, way: DownloadWay, voice: Voice) -> None:
        assert self.downloads is not None
        self.downloads.download(record, way, voice)

    def run(self, errand: Errand) -> None:
        assert self.downloads is not None
        self.downloads.run(errand)


class BenchUnderTest:
    """A bench with its archive thread; `now_s` is its clock."""

    def __init__(
        self,
        folder: Path,
        instruments: tuple[InstrumentSettings, ...] = (),
        *,
        settings_file: SettingsFile | None = None,
        utc_now: Callable[[], datetime] = lambda: datetime.now(UTC),
        design_place: FilePlace | None = None,
        design_folder: Path | None = None,
        loudspeaker: Loudspeaker | None = None,
    ) -> None:
        folder.mkdir(exist_ok=True)
        self.now_s = 0.0
        self._reported = threading.Semaphore(0)
        self.open_archive = partial(Archive.open, folder / "archive.sqlite", utc_now)
        self.archive = ArchiveThread(self.open_archive)
        self.cables = CablesLater()
        self.downloads = DownloadsLater()
        self.design_place = design_place or folder_place(folder / "designs")
        self.keep_place = lambda: folder_place(folder / "stick")
        self.bench = Bench(
            archive=self.archive,
            clock_s=lambda: self.now_s,
            cables=self.cables,
            downloads=self.downloads,
            designs=Designs(self.downloads, lambda: self.design_place, design_folder),
            keeping=Keeping(
                self.downloads,
                lambda: self.keep_place(),
                KeptBench(folder=folder, records=self.open_archive, utc_now=utc_now),
            ),
            shop=ShopFiles(self.downloads, lambda: self.keep_place(), folder, self.open_archive),
            settings_file=settings_file,
            loudspeaker=loudspeaker,
        )
        self.archive.start(self._report)
        for settings in instruments:
            self.bench.post(InstrumentJoined(settings=settings))

    def _report(self, report: object) -> None:
        self.bench.post(report)  # type: ignore[arg-type]
        if not isinstance(report, ArchiveOpened):
            self._reported.release()

    def use_cables(self, cables: CablePort) -> None:
        self.cables.cables = cables

    def use_downloads(self, downloads: Downloads) -> None:
        self.downloads.downloads = downloads

    def pump(self) -> Snapshot:
        return self.bench.pump()

    def stored(self) -> Snapshot:
        """Wait for the archive's next report and return the snapshot after it."""
        self.bench.pump()
        assert self._reported.acquire(timeout=WAIT_S), "the archive did not answer"
        return self.bench.pump()

    def settled(self) -> Snapshot:
        """Wait until the archive owes no answer and return the snapshot then."""
        while (snapshot := self.bench.pump()).storing:
            assert self._reported.acquire(timeout=WAIT_S), "the archive did not answer"
        return snapshot

    def open(self, coupon: Coupon = COUPON) -> Snapshot:
        opened = Opened(coupon=coupon, limits=limits_for_class(coupon, "mK"), setup=MeasuringSetup(), span_mm=640)
        self.bench.send(OpenSession(opened=opened))
        return self.stored()

    def indicate(
        self, value: float, *, instrument: str = "caliper", pressed: bool = False, after_s: float = 0.1
    ) -> None:
        """An instrument says a value, some time later."""
        self.now_s += after_s
        angle = instrument == "gauge"
        self.bench.post(
            IndicationArrived(
                instrument=instrument,
                indication=Indication(shown=value, unit=Unit.DEG if angle else Unit.MM, requested=pressed),
                arrived_s=self.now_s,
            )
        )


@contextmanager
def running_bench(
    folder: Path, instruments: tuple[InstrumentSettings, ...] = (), *, errors_meant: bool = False, **given: Any
) -> Iterator[BenchUnderTest]:
    """A bench that is closed again, its threads with it; an error nobody foresaw at the bench fails the test."""
    under_test = BenchUnderTest(folder, instruments, **given)
    unforeseen = _Unforeseen()
    LOG.addHandler(unforeseen)
    try:
        yield under_test
    finally:
        LOG.removeHandler(unforeseen)
        if under_test.downloads.downloads is not None:
            under_test.downloads.downloads.close()
        under_test.archive.close()
    assert errors_meant or not unforeseen.seen, unforeseen.seen


class _Unforeseen(logging.Handler):
    """What was logged as unforeseen: without this a desk that raises is said on a screen that no test looks at."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.msg.startswith("unforeseen at the bench"):
            self.seen.append(self.format(record))


def quantity_name(feature: Feature) -> str:
    return "caliper" if feature.is_length else "gauge"


__all__ = ["COUPON", "SKEWED", "BenchUnderTest", "Quantity", "quantity_name", "running_bench"]
