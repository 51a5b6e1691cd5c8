"""Two walks through the program as they are gone: one caliper frame from its bytes to the lamp, one reading to archive
and report. Prints each function once, in the order in which it is first on the way, and how often the way comes back.

    python -m tests.walks

The simulated bench measures a coupon over pseudo-terminals, its lamp box has pins that remember, and the cable, archive
and screen threads are all listened to. On the way is what stands on the stack of a thread while it passes a milestone:
what a step works out aside and hands back at once is not. A room is a folder; a return is a room that is come back to.
"""

import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

from core.metrology.readings import Quantity
from core.records.archive import Archive
from core.records.comparison import reported_record
from core.records.export import files_of
from core.records.saved_bench import ARCHIVE
from hardware.panel import Panel
from hardware.watchdog import Watchdog
from tests.hardware.fake_gpio import FakeGpioPort
from ui.bench.lamp_box import Box
from ui.start import BenchOptions, assembled, utc_now

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("core/", "firmware_bridge/", "hardware/", "ui/")
# A file or folder, a function in it, and a file that must have called for it.
Milestone = tuple[str, str] | tuple[str, str, str]
# In the order in which they are passed; each is met anew, so that the way is that of one frame, not of many.
FRAME_TO_LAMP: tuple[Milestone, ...] = (
    ("firmware_bridge/serial_link.py", "read"),
    ("firmware_bridge/decoders/", "feed"),
    ("ui/bench/inbox.py", "Inbox.put", "firmware_bridge/cable_link.py"),
    ("firmware_bridge/steady_hold.py", "SteadyHold.feed"),
    ("ui/bench/live.py", "LiveFollower.seen_at"),
    ("ui/bench/lamp_box.py", "lamps"),
    ("hardware/panel.py", "Panel.show"),
    ("hardware/panel.py", "Panel._write_all"),
)
READING_TO_REPORT: tuple[Milestone, ...] = (
    ("ui/bench/desks/measuring.py", "MeasuringDesk._accept"),
    ("ui/bench/workers/archive_thread.py", "ArchiveThread.submit"),
    ("core/records/session_tables.py", "insert_event"),
    ("core/records/chained_tables.py", "add_entry"),
    ("ui/bench/inbox.py", "Inbox.put", "ui/bench/workers/archive_thread.py"),
    ("core/records/session.py", "Session._with_payload"),
    ("core/metrology/least_squares.py", "gauss_newton"),
    ("core/metrology/groups.py", "_group_verdict"),
    ("core/metrology/next_reading.py", "next_reading"),
    ("ui/bench/steps.py", "with_session"),
    ("core/records/readings_csv_export.py", "readings_text"),
    ("core/records/report_pdf.py", "_verdict"),
)


class Walk:
    """Remembers the functions on the way past its milestones, each of which counts once, in their order."""

    def __init__(self, milestones: tuple[Milestone, ...]) -> None:
        self._left = list(milestones)
        self.functions: list[tuple[str, str]] = []

    def heard(self, frame: FrameType, event: str) -> None:
        """One call in any thread."""
        if event != "call" or not self._left:
            return
        file, name = _place(frame)
        begin, wanted, *caller = self._left[0]
        if not file.startswith(begin) or not f".{name}".endswith(f".{wanted}"):
            return
        stack = list(_stack(frame))
        if not all(any(file == one for file, _ in stack) for one in caller):
            return
        self._left.pop(0)
        for place in reversed(stack):
            if place not in self.functions:
                self.functions.append(place)

    def told(self) -> Iterator[str]:
        """The functions, room by room, and the sums."""
        rooms: list[str] = []
        for file, name in self.functions:
            room = file.rsplit("/", 1)[0]
            if not rooms or rooms[-1] != room:
                rooms.append(room)
                yield room
            yield f"    {file.rsplit('/', 1)[1]}: {name}"
        yield f"{len(self.functions)} functions, {len(set(rooms))} rooms, {len(rooms) - len(set(rooms))} returns"
        if self._left:
            yield f"not passed: {self._left}"


def _place(frame: FrameType) -> tuple[str, str]:
    file = frame.f_code.co_filename
    return file.removeprefix(f"{ROOT}/"), frame.f_code.co_qualname


def _stack(frame: FrameType | None) -> Iterator[tuple[str, str]]:
    while frame is not None:
        file, name = _place(frame)
        if file.startswith(ROOMS) and "<" not in name.rsplit(".", 1)[-1]:
            yield file, name
        frame = frame.f_back


def _listened(walks: tuple[Walk, ...], run: Callable[[], None]) -> None:
    def heard(frame: FrameType, event: str, _argument: object) -> None:
        for walk in walks:
            walk.heard(frame, event)

    threading.setprofile(heard)
    sys.setprofile(heard)
    try:
        run()
    finally:
        sys.setprofile(None)
        threading.setprofile(None)  # type: ignore[arg-type]


def walked(folder: Path) -> tuple[Walk, Walk]:
    """Measure a simulated coupon and write its report; the two walks."""
    frame, reading = Walk(FRAME_TO_LAMP), Walk(READING_TO_REPORT)

    def run() -> None:
        options = BenchOptions(folder=folder, scenario="racked", speed=20.0)
        with assembled(options) as bench:
            box = Box(Panel(FakeGpioPort()), Watchdog.of_service({}), options.clock_s)
            box.start()
            woken = threading.Event()
            bench.subscribe(woken.set)
            while not bench.snapshot.closed:
                woken.wait(0.02)
                woken.clear()
                box.tick(bench.pump(), Quantity.LENGTH)
            box.close()
        archive = Archive.open(folder / ARCHIVE, utc_now)
        try:
            files_of(reported_record(archive, archive.sessions()[0].id))
        finally:
            archive.close()

    _listened((frame, reading), run)
    return frame, reading


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        lamp, report = walked(Path(made))
    print("One frame to the lamp", *lamp.told(), "", sep="\n")
    print("One reading to archive and report", *report.told(), sep="\n")
