"""A design corrected by two touches: the real bench and the real download thread, a folder in place of the stick."""

from __future__ import annotations

import resource
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import ezdxf
import pytest
from msgspec.structs import replace
from svgpathtools import Document

from core.errors import BadInputError, StoppedError
from core.geometry.affine import cut_by
from core.geometry.coupon import Coupon
from core.machine.design_correction import DesignCorrection
from core.metrology.readings import Unit
from hardware.stick_files import FilePlace
from hardware.usb_stick import Stick
from tests.ui.bench.test_downloads import STICK, DownloadBench, FolderAsStick
from tests.ui.bench.waits import stoppable
from tests.ui.bench_bits import COUPON, SKEWED, BenchUnderTest, quantity_name, running_bench
from ui.bench.desks.design import ChooseDesign, LookForDesigns, WriteDesign, correction_of_design
from ui.bench.desks.measuring import ConfirmMark, OpenSession, SelectFeature, TypeReading
from ui.bench.desks.work import StopWork
from ui.bench.opening import opening
from ui.bench.workers.design_process import DesignProcess
from ui.bench.workers.downloads import Downloads
from ui.pages.design import sources_of
from ui.state.snapshot import Snapshot
from ui.state.stick import DesignSource, DesignStage

DESIGN = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<path d="M 5 5 L 50 5 L 50 30"/><text x="5" y="9">A</text><circle cx="9" cy="9" r="3"/></svg>'
)
FRAME = DesignSource(path="jobs/frame.svg")
COUPON_DXF = DesignSource(path="coupon-120x80.dxf", coupon=COUPON)


class DesignBench(DownloadBench):
    """A bench with a skewed coupon, and a folder as the stick."""

    def __init__(self, under_test: BenchUnderTest, top: Path, sticks: tuple[Stick, ...] = (STICK,)) -> None:
        self.top = top
        (top / "jobs").mkdir(parents=True)
        (top / FRAME.path).write_text(DESIGN, encoding="utf-8")
        super().__init__(under_test, FolderAsStick(top), sticks)
        block_devices = top.parent / "block"
        (block_devices / STICK.partition).mkdir(parents=True)
        under_test.design_place = FilePlace(stick=STICK, access=self.access, block_devices=block_devices)

    def settled(self, command: LookForDesigns | ChooseDesign | WriteDesign) -> Snapshot:
        """The snapshot once this is done, or refused."""
        before = self.under_test.pump().message
        self.under_test.bench.send(command)
        return self.shown_when(
            lambda now: not now.design.stage.is_busy and (now.design.stage is not _IDLE or now.message != before)
        )


_IDLE = DesignStage.IDLE


def measured(under_test: BenchUnderTest, *, simulated: bool = False, mark: bool = True) -> None:
    under_test.bench.send(OpenSession(opened=replace(opening(COUPON, "mK"), simulated=simulated)))
    under_test.stored()
    for feature, value in (*SKEWED.items(), *SKEWED.items()):
        under_test.bench.send(SelectFeature(feature=feature))
        under_test.indicate(value, instrument=quantity_name(feature), pressed=True)
        under_test.stored()
    if mark:
        under_test.bench.send(ConfirmMark())
        under_test.stored()


@pytest.fixture
def under_test(tmp_path: Path) -> Iterator[BenchUnderTest]:
    with running_bench(tmp_path) as bench:
        yield bench


@pytest.fixture
def bench(under_test: BenchUnderTest, tmp_path: Path) -> Iterator[DesignBench]:
    measured(under_test)
    running = DesignBench(under_test, tmp_path / "stick")
    try:
        yield running
    finally:
        running.downloads.close()


def points(file: Path) -> list[complex]:
    """Corners of the straight paths in machine axes, by an independent parser."""
    paths = [path for path in Document(str(file)).paths() if all(type(one).__name__ == "Line" for one in path)]
    return [p.conjugate() for path in paths for p in (*(segment.start for segment in path), path[-1].end)]


def test_a_design_that_takes_long_is_stopped_by_a_touch_and_another_can_be_chosen(bench: DesignBench) -> None:
    document = ezdxf.new("R2010")
    for number in range(5_000):
        document.modelspace().add_lwpolyline([(number, 0, 0.3), (number, 1, 0), (number + 1, 1, 0.3)], format="xyb")
    document.saveas(bench.top / "large.dxf")
    bench.settled(LookForDesigns())
    bench.under_test.bench.send(ChooseDesign(source=DesignSource(path="large.dxf")))
    bench.shown_when(lambda now: now.design.stage is DesignStage.READING)
    work = stoppable(bench.under_test, bench.shown_when)
    assert str(work.words) == "correcting the design ..."
    bench.under_test.bench.send(StopWork(key=work.key))
    stopped = bench.shown_when(lambda now: now.design.stage is not DesignStage.READING)
    assert stopped.design.stage is DesignStage.FOUND
    assert stopped.design.source is None
    assert stopped.message is not None
    assert "Stopped" in str(stopped.message.text)
    assert bench.settled(ChooseDesign(source=FRAME)).design.stage is DesignStage.READY


def test_a_running_correction_is_ended_at_once() -> None:
    """The other process is there when it is stopped, and has begun or waits for its design."""
    process = DesignProcess()
    ended: list[Exception] = []

    def correct() -> None:
        try:
            process.correct("large.dxf", b"0\nSECTION\n" * 700_000, cut_by(0.3))
        except (StoppedError, BadInputError) as error:
            ended.append(error)

    thread = threading.Thread(target=correct)
    thread.start()
    while process._child is None and thread.is_alive():
        thread.join(timeout=0.01)
    process.stop()
    thread.join()
    assert isinstance(ended[0], StoppedError)


def ended_by(send: signal.Signals) -> Exception:
    """What comes of a correction whose process gets this signal from elsewhere, once it has bounded itself."""
    process = DesignProcess()
    caught: list[Exception] = []

    def correct() -> None:
        try:
            process.correct("large.dxf", b"0\nSECTION\n" * 700_000, cut_by(0.3))
        except (MemoryError, BadInputError, RuntimeError) as error:
            caught.append(error)

    thread = threading.Thread(target=correct)
    thread.start()
    while (child := process._child) is None:
        thread.join(timeout=0.01)
    while resource.prlimit(child.pid, resource.RLIMIT_CPU)[0] == resource.RLIM_INFINITY:
        thread.join(timeout=0.01)
    child.send_signal(send)
    thread.join()
    return caught[0]


def test_a_correction_that_the_kernel_ends_is_answered() -> None:
    """Where memory ends, it ends this process first; where it takes too long, the process's own bound does."""
    assert isinstance(ended_by(signal.SIGKILL), MemoryError)
    assert "takes too long" in str(ended_by(signal.SIGXCPU))


def test_a_design_is_found_prepared_and_written_beside_the_original(bench: DesignBench) -> None:
    found = bench.settled(LookForDesigns()).design
    assert found.found is not None
    assert found.found.paths == (FRAME.path,)
    ready = bench.settled(ChooseDesign(source=FRAME)).design
    assert ready.stage is DesignStage.READY
    assert ready.prepared is not None
    assert (ready.prepared.texts, ready.prepared.circles, ready.prepared.left_out) == (1, 1, 0)
    assert [file.name for file in (bench.top / "jobs").iterdir()] == ["frame.svg"], "nothing is written unasked"
    done = bench.settled(WriteDesign())
    assert (done.design.stage, str(done.design.text)) == (DesignStage.DONE, "jobs/frame-corrected.svg")
    assert done.message is not None
    assert "safe to remove" in str(done.message.text)
    assert (bench.top / FRAME.path).read_text(encoding="utf-8") == DESIGN
    assert bench.access.asked[-4:] == ["mount sdz1 rw", "unmount", "mount sdz1 ro", "unmount"]


def test_what_is_written_comes_out_as_drawn_on_the_machine_that_was_measured(bench: DesignBench) -> None:
    """Cut by a machine with the skew that the coupon shows, the right angle of the design is one again."""
    bench.settled(ChooseDesign(source=FRAME))
    bench.settled(WriteDesign())
    correction = correction_of_design(bench.under_test.pump())
    assert isinstance(correction, DesignCorrection)
    machine = cut_by(correction.skew_deg.value)
    a, b, c = (complex(*machine.apply((p.real, p.imag))) for p in points(bench.top / "jobs/frame-corrected.svg")[:3])
    assert abs(((a - b).conjugate() * (c - b)).real) < 1e-6
    assert (abs(a - b), abs(c - b)) == (pytest.approx(45.0), pytest.approx(25.0))


def test_the_coupon_that_proves_it_is_drawn_anew(bench: DesignBench) -> None:
    ready = bench.settled(ChooseDesign(source=COUPON_DXF)).design
    assert ready.stage is DesignStage.READY
    done = bench.settled(WriteDesign()).design
    assert str(done.text) == "coupon-120x80-corrected.dxf"
    assert "LWPOLYLINE" in (bench.top / str(done.text)).read_text(encoding="utf-8")


def test_twice_is_two_files_and_never_a_correction_of_a_corrected_one(bench: DesignBench) -> None:
    for expected in ("jobs/frame-corrected.svg", "jobs/frame-corrected-2.svg"):
        bench.settled(ChooseDesign(source=FRAME))
        assert str(bench.settled(WriteDesign()).design.text) == expected
    again = bench.settled(ChooseDesign(source=DesignSource(path="jobs/frame-corrected.svg")))
    assert again.design.stage is DesignStage.FAILED
    assert "never twice" in str(again.design.text)


def test_a_simulated_correction_is_stamped_on_the_file_s_name(under_test: BenchUnderTest, tmp_path: Path) -> None:
    measured(under_test, simulated=True)
    bench = DesignBench(under_test, tmp_path / "stick")
    try:
        bench.settled(ChooseDesign(source=FRAME))
        assert str(bench.settled(WriteDesign()).design.text) == "jobs/frame-corrected-SIMULATED.svg"
    finally:
        bench.downloads.close()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<svg", "not an SVG file"),
        (b"\xff\xfe\x00", "not an SVG file"),
        (b'<svg xmlns="http://www.w3.org/2000/svg">' + b"<g>" * 5000 + b"</g>" * 5000 + b"</svg>", "too deep"),
    ],
)
def test_a_design_that_cannot_be_read_is_said_and_the_next_one_works(
    bench: DesignBench, content: bytes, words: str
) -> None:
    (bench.top / "odd.svg").write_bytes(content)
    failed = bench.settled(ChooseDesign(source=DesignSource(path="odd.svg")))
    assert failed.design.stage is DesignStage.FAILED
    assert words in str(failed.design.text)
    assert failed.message is not None
    assert failed.message.alarm
    assert bench.settled(ChooseDesign(source=FRAME)).design.stage is DesignStage.READY


def test_an_original_exchanged_between_the_touches_is_not_mistaken_for_it(bench: DesignBench) -> None:
    bench.settled(ChooseDesign(source=FRAME))
    (bench.top / FRAME.path).write_text(DESIGN.replace("50", "40"), encoding="utf-8")
    failed = bench.settled(WriteDesign()).design
    assert failed.stage is DesignStage.FAILED
    assert "not the file that was looked at" in str(failed.text)
    assert [file.name for file in (bench.top / "jobs").iterdir()] == ["frame.svg"]


def test_a_reading_in_between_asks_to_choose_again(bench: DesignBench) -> None:
    bench.settled(ChooseDesign(source=FRAME))
    feature, value = next(iter(SKEWED.items()))
    bench.under_test.bench.send(TypeReading(feature=feature, shown=value + 0.02, unit=Unit.MM))
    bench.under_test.stored()
    refused = bench.settled(WriteDesign())
    assert refused.message is not None
    assert "choose the design again" in str(refused.message.text)
    assert not (bench.top / "jobs/frame-corrected.svg").exists()


def test_without_the_mark_nothing_is_even_looked_for(under_test: BenchUnderTest, tmp_path: Path) -> None:
    measured(under_test, mark=False)
    bench = DesignBench(under_test, tmp_path / "stick")
    try:
        refused = bench.settled(LookForDesigns())
    finally:
        bench.downloads.close()
    assert refused.message is not None
    assert "which corner carried the mark" in str(refused.message.text)
    assert bench.access.asked == []


def test_another_stick_forgets_what_was_found_on_the_one_before(under_test: BenchUnderTest, tmp_path: Path) -> None:
    measured(under_test)
    bench = DesignBench(under_test, tmp_path / "stick", sticks=())
    try:
        assert bench.settled(LookForDesigns()).design.found is not None
        bench.downloads.close()
        other = Downloads(find_sticks=lambda: (STICK,), access=bench.access)
        other.start(under_test.bench.post)
        assert bench.shown_when(lambda now: now.download.sticks == (STICK,)).design.found is None
        other.close()
    finally:
        bench.downloads.close()


def test_a_coupon_of_odd_sizes_has_a_name_every_stick_takes(bench: DesignBench) -> None:
    odd = replace(bench.settled(LookForDesigns()), coupon=Coupon(width_mm=120.5, height_mm=80.0))
    assert [source.path for source in sources_of(odd)] == ["coupon-120_5x80.svg", "coupon-120_5x80.dxf", FRAME.path]
