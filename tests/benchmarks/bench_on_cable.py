"""The bench on a cable, a coupon half measured; and what it costs without a screen, in processor time.

    python -m tests.benchmarks.bench_on_cable

It needs nothing but the installed program: on an emulated board that counts instructions, where a second is 10^9 of
them, a millisecond here is a million (`tests/endurance/on_board_counted.py`).
"""

import os
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.evaluation import evaluate
from core.metrology.readings import Quantity, Unit
from core.records.archive import Archive
from firmware_bridge.instrument_settings import Capture, InstrumentSettings
from firmware_bridge.links import make_link
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from ui.bench.bench import Bench
from ui.bench.desks.measuring import ConfirmMark, OpenSession, SelectFeature, TypeReading
from ui.bench.opening import opening
from ui.bench.workers.archive_thread import ArchiveThread
from ui.bench.workers.cables import InstrumentJoined
from ui.pages.bench import Doing, bench_page
from ui.start import utc_now
from ui.state.snapshot import Snapshot

STREAM_HZ = 50.0
JUDGEMENTS, NUMBERS = 50, 200
LOST_AFTER_S = 60.0
# A racked coupon, the house's own scenario: mm and degrees. SIMULATED.
TAKEN = {
    Feature.NL_FR: 143.62,
    Feature.NR_FL: 144.43,
    Feature.RIGHT: 79.86,
    Feature.FAR: 119.87,
    Feature.LEFT: 79.84,
    Feature.NL: 90.4,
    Feature.NR: 89.6,
    Feature.FR: 90.3,
    Feature.FL: 89.7,
}


def caliper(path: Path) -> InstrumentSettings:
    """A streaming caliper whose indications are shown and never taken."""
    return InstrumentSettings(
        name="caliper",
        port=str(path),
        format_name="length-3.3",
        quantity=Quantity.LENGTH,
        capture=Capture.DATA_BUTTON,
    )


class Streamer:
    """An angle gauge that streams at `STREAM_HZ` from a thread of its own, held far from any corner."""

    def __init__(self, path: Path) -> None:
        self.cable = PseudoTerminal(path)
        self.cable.plug()
        self.settings = InstrumentSettings(
            name=path.name, port=str(path), format_name="angle-x", quantity=Quantity.ANGLE, capture=Capture.DATA_BUTTON
        )
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._stream, daemon=True)
        self._thread.start()

    def _stream(self) -> None:
        while not self._stop.wait(1.0 / STREAM_HZ):
            # It never moves, so the caliper stays the instrument in hand.
            self.cable.write(b"X=+00.100\r\n")

    def close(self) -> None:
        """Stop and pull the cable."""
        self._stop.set()
        self._thread.join()
        self.cable.pull()


class Run:
    """The real bench on a screen in memory, a coupon half measured, the cursor on the near edge."""

    def __init__(self, folder: Path, others: int) -> None:
        self.cable = PseudoTerminal(folder / "caliper")
        self.cable.plug()
        self.archive = ArchiveThread(lambda: Archive.open(folder / "archive.sqlite", utc_now))
        self.bench = Bench(archive=self.archive, clock_s=time.monotonic, simulated=True)
        self._woken = threading.Event()
        self._waiting = False
        self.bench.subscribe(self._wake)
        self.archive.start(self.bench.post)
        self.streamers = [Streamer(folder / f"gauge-{number}") for number in range(others)]
        self.links = []
        for settings in (caliper(self.cable.path), *(streamer.settings for streamer in self.streamers)):
            self.bench.post(InstrumentJoined(settings=settings))
            self.links.append(make_link(settings))
            self.links[-1].start(self.bench.post)

    def prepare(self) -> None:
        """Open a coupon and type all but the near edge, so that every frame has a full judgement behind it."""
        self.bench.send(OpenSession(opened=opening(Coupon(width_mm=120, height_mm=80))))
        self.settled()
        self.bench.send(ConfirmMark())
        for feature, value in TAKEN.items():
            self.take(feature, value)
        self.bench.send(SelectFeature(feature=Feature.NEAR))
        self.settled()

    def take(self, feature: Feature, value: float) -> None:
        """Type one reading, until it is on the disk and judged."""
        unit = Unit.MM if feature.is_length else Unit.DEG
        self.bench.send(TypeReading(feature=feature, shown=value, unit=unit))
        self.settled()

    def settled(self) -> Snapshot:
        """The snapshot once the archive owes nothing; asleep meanwhile, or a slow card's syncs would count as work."""
        self._waiting = True
        while (snapshot := self.bench.pump()).storing or snapshot.session is None:
            if not self._woken.wait(LOST_AFTER_S):
                raise SystemExit("the archive never answered")
            self._woken.clear()
        self._waiting = False
        return snapshot

    def _wake(self) -> None:
        if self._waiting:  # else it would be measured with every number
            self._woken.set()

    def close(self) -> None:
        """Everything that was started has ended."""
        for link in self.links:
            link.close()
        for streamer in self.streamers:
            streamer.close()
        self.cable.pull()
        self.archive.close()


def judgement_ms(snapshot: Snapshot) -> float:
    """What one judgement of these readings costs, everything included."""
    assert snapshot.coupon is not None
    assert snapshot.limits is not None
    coupon, limits, setup = snapshot.coupon, snapshot.limits, snapshot.setup
    readings = [item.reading for item in snapshot.readings]
    return used_ms(lambda: evaluate(coupon, readings, limits, setup), JUDGEMENTS)


def used_ms(deed: Callable[[], object], times: int) -> float:
    """Processor time of this process for doing it once, out of so many times."""
    deed()
    begun_s = time.process_time()
    for _ in range(times):
        deed()
    return 1000.0 * (time.process_time() - begun_s) / times


def shown_number(run: Run, number: int) -> None:
    """One number down the cable, until the page of the snapshot says it."""
    value = 119.0 + 0.01 * (number % 200)
    run.cable.write(f"{value:+08.3f}\r".encode())
    until_s = time.monotonic() + LOST_AFTER_S
    while (snapshot := run.bench.pump()).live_length.value != round(value, 3):
        if time.monotonic() > until_s:
            raise SystemExit(f"{value} never reached the bench")
        time.sleep(0.0005)
    bench_page(snapshot, Quantity.LENGTH, Doing())


def main() -> None:
    """Measure and print."""
    with TemporaryDirectory() as folder, closing(Run(Path(folder), 0)) as run:
        run.prepare()
        print(f"one judgement, ten features   {judgement_ms(run.bench.snapshot):8.2f} ms of processor")
        numbers = iter(range(10 * NUMBERS))
        streamed = used_ms(lambda: shown_number(run, next(numbers)), NUMBERS)
        print(f"one indication, cable to page {streamed:8.2f} ms of processor")
        taken = used_ms(lambda: run.take(Feature.NEAR, 119.85), 10)
        print(f"one accepted reading, judged  {taken:8.2f} ms of processor")


if __name__ == "__main__":
    main()
