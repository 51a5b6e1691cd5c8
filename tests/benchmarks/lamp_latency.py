"""From the last byte on the cable to changed lamp pixels, and frame times while an instrument streams.

    SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.lamp_latency [count] [others]

`others` angle gauges stream fifty numbers a second each beside it (0 when not said).

A caliper's line goes into a pseudo-terminal; the ordinary link, decoder, bench and screen do the rest; the lamp's pixel
is read back after every frame by glReadPixels. Also prints the adjustment's share, measured in the same run.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

import numpy as np

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.evaluation import evaluate
from core.metrology.readings import Quantity, Reading, Unit
from core.records.archive import Archive
from firmware_bridge.instrument_settings import Capture, InstrumentSettings
from firmware_bridge.serial_link import SerialLink
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.ui.bench_bits import SKEWED
from ui.bench.bench import Bench
from ui.bench.desks.measuring import ConfirmMark, OpenSession, SelectFeature, TypeReading
from ui.bench.opening import opening
from ui.bench.workers.archive_thread import ArchiveThread
from ui.bench.workers.cables import InstrumentJoined
from ui.start import utc_now
from ui.state.snapshot import Snapshot
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

FRAMES_PER_S = 60
STREAM_HZ = 50.0
SETTLE_FRAMES = 2
LOST_AFTER_S = 2.0
INSIDE, OUTSIDE = b"+120.000\r", b"+121.500\r"


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
        self.archive.start(self.bench.post)
        self.streamers = [Streamer(folder / f"gauge-{number}") for number in range(others)]
        self.links = []
        for settings in (caliper(self.cable.path), *(streamer.settings for streamer in self.streamers)):
            self.bench.post(InstrumentJoined(settings=settings))
            self.links.append(SerialLink(settings))
            self.links[-1].start(self.bench.post)

    def prepare(self) -> None:
        """Open a coupon and type all but the near edge, so that every frame has a full judgement behind it."""
        self.bench.send(OpenSession(opened=opening(Coupon(width_mm=120, height_mm=80))))
        self._settled()
        self.bench.send(ConfirmMark())
        for feature, value in SKEWED.items():
            if feature is not Feature.NEAR:
                unit = Unit.MM if feature.is_length else Unit.DEG
                self.bench.send(TypeReading(feature=feature, shown=value, unit=unit))
                self._settled()
        self.bench.send(SelectFeature(feature=Feature.NEAR))
        self._settled()

    def _settled(self) -> Snapshot:
        while (snapshot := self.bench.pump()).storing or snapshot.session is None:
            time.sleep(0.001)
        return snapshot

    def close(self) -> None:
        """Everything that was started has ended."""
        for link in self.links:
            link.close()
        for streamer in self.streamers:
            streamer.close()
        self.cable.pull()
        self.archive.close()


def main(count: int, others: int) -> None:
    """Measure and print."""
    configure(ScreenSettings(frames_per_s=FRAMES_PER_S))
    from kivy.base import EventLoop
    from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels

    from tests.ui.offscreen import Offscreen
    from ui.touch.widgets.lamp import Lamp

    with TemporaryDirectory() as name, closing(Run(Path(name), others)) as run:
        run.prepare()
        with Offscreen(run.bench) as screen:
            screen.app.root.go("bench")
            screen.frames(10)
            lamp = max((w for w in screen.app.root.walk() if isinstance(w, Lamp)), key=lambda w: w.width * w.height)
            x, y = (int(part) for part in lamp.to_window(lamp.right - 8, lamp.y + 8))

            def pixel() -> bytes:
                return bytes(glReadPixels(x, y, 1, 1, GL_RGBA, GL_UNSIGNED_BYTE))

            latencies_ms = [
                latency_ms(OUTSIDE if number % 2 == 0 else INSIDE, number % 3, run, pixel, EventLoop.idle)
                for number in range(count)
            ]
            snapshot = run.bench.snapshot
    report(np.array(latencies_ms), adjustment_ms(snapshot))


def latency_ms(
    line: bytes, extra_frames: int, run: Run, pixel: Callable[[], bytes], turn_frame: Callable[[], None]
) -> float:
    """Write one line and turn frames until the lamp's pixel has changed."""
    for _ in range(SETTLE_FRAMES + extra_frames):
        turn_frame()
    before = pixel()
    began_s = time.perf_counter()
    run.cable.write(line)
    while pixel() == before:
        turn_frame()
        if time.perf_counter() - began_s > LOST_AFTER_S:
            raise SystemExit(f"{line!r} never reached the lamp")
    return 1000.0 * (time.perf_counter() - began_s)


def adjustment_ms(snapshot: Snapshot) -> float:
    """What one judgement costs here, by the same clock."""
    assert snapshot.coupon is not None
    assert snapshot.limits is not None
    readings = [
        Reading(feature=item.feature, value=item.value, unit=Unit.MM if item.feature.is_length else Unit.DEG)
        for item in snapshot.readings
    ]
    began_s = time.perf_counter()
    for _ in range(50):
        evaluate(snapshot.coupon, readings, snapshot.limits, snapshot.setup)
    return 1000.0 * (time.perf_counter() - began_s) / 50


def report(latencies_ms: np.ndarray, judgement_ms: float) -> None:
    """Print the figures."""
    frame_ms = 1000.0 / FRAMES_PER_S
    median, p99 = np.percentile(latencies_ms, [50, 99])
    print(f"last byte to changed lamp pixel, {len(latencies_ms)} readings at {FRAMES_PER_S} frames/s")
    print(f"  median {median:.1f} ms, 99th percentile {p99:.1f} ms, worst {latencies_ms.max():.1f} ms")
    print(f"  99th percentile in frames of {frame_ms:.1f} ms: {p99 / frame_ms:.2f}")
    print(f"  one judgement {judgement_ms:.2f} ms; one frame plus it: {frame_ms + judgement_ms:.1f} ms")


if __name__ == "__main__":
    main(*(int(word) for word in (sys.argv[1:] + ["200", "0"][len(sys.argv) - 1 :])[:2]))
