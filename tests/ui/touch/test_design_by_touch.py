"""A machine that cannot be adjusted, from its description to the corrected design on the stick, by touch alone.

The real bench, archive, download thread and files; a folder stands for the mounted stick. House scenario, SIMULATED.
"""

from __future__ import annotations

import io
import math
from pathlib import Path

import ezdxf
import pytest
from ezdxf.math import Vec2

from core.metrology.verdict import Verdict
from hardware.stick_files import FilePlace
from tests.ui.bench.test_designs import DESIGN, points
from tests.ui.bench.test_downloads import STICK, FolderAsStick
from tests.ui.bench_bits import SKEWED, running_bench
from tests.ui.offscreen import Offscreen
from tests.ui.test_whole_job import Person, again, begin_a_coupon, say_where_the_mark_was
from tests.ui.touching import find_text, tap_text
from ui.bench.workers.downloads import Downloads
from ui.start import BenchOptions, assembled
from ui.state.stick import DesignStage
from ui.terminal.text_bench import TextBench


def describe_a_plotter_nobody_can_adjust(person: Person) -> None:
    person.touch("Machine", "Describe a new machine", "Plotter", "plotter", "Y grows away from me", "Along X")
    person.key_in("640")
    person.touch("Take this number", "Nothing to set")
    person.key_in("700")
    person.touch("Take this number", "No", "Keep this machine")
    person.until(lambda now: now.machines.current is not None)
    person.touch("< Back")


def test_from_the_verdict_to_the_corrected_design_on_the_stick(tmp_path: Path) -> None:
    top = tmp_path / "stick"
    (top / "jobs").mkdir(parents=True)
    (top / "jobs" / "frame.svg").write_text(DESIGN, encoding="utf-8")
    place = FilePlace(stick=STICK, access=FolderAsStick(top))
    with running_bench(tmp_path / "bench", design_place=place) as under_test, Offscreen(under_test.bench) as screen:
        downloads = Downloads(find_sticks=lambda: (STICK,), access=place.access)
        under_test.use_downloads(downloads)
        downloads.start(under_test.bench.post)
        try:
            person = Person(screen, under_test)
            describe_a_plotter_nobody_can_adjust(person)
            person.touch("New coupon")
            begin_a_coupon(person)
            person.measure(SKEWED)
            person.measure(again(SKEWED))
            assert screen.app.snapshot.verdict is Verdict.NO_GO
            say_where_the_mark_was(person)
            person.touch("See the move")
            assert "cannot be adjusted" in str(screen.app.root.screen.note)
            person.touch("Correct the design")
            assert "On a side of 700 mm the skew is 4.27 ± 0.69 mm." in str(screen.app.root.screen.page.leaves[0])
            person.until(lambda now: now.design.stage is DesignStage.FOUND)
            person.touch("Coupon to prove it, DXF")
            person.until(lambda now: now.design.stage is DesignStage.READY)
            person.touch("Write the corrected copy")
            person.until(lambda now: now.design.stage is DesignStage.DONE)
            person.touch("jobs/frame.svg")
            person.until(lambda now: now.design.stage is DesignStage.READY)
            person.touch("Write the corrected copy")
            person.until(lambda now: now.design.stage is DesignStage.DONE)
            assert str(screen.app.root.screen.page.word) == "SAFE TO REMOVE"
        finally:
            downloads.close()
    # Drawn off the right angle by what was measured, the other way: at FR 90.35 degrees came out, 89.65 are drawn.
    outline = max(ezdxf.readfile(top / "coupon-120x80-corrected.dxf").modelspace().query("LWPOLYLINE"), key=len)
    corners = [Vec2(point) for point in outline.get_points("xy")][1:5]
    assert corner_deg(*corners[:3]) == pytest.approx(89.65, abs=0.06)
    far_side = [Vec2(one.real, one.imag) for one in points(top / "jobs" / "frame-corrected.svg")[:3]]
    assert corner_deg(*far_side) == pytest.approx(89.65, abs=0.06)
    assert (top / "jobs" / "frame.svg").read_text(encoding="utf-8") == DESIGN


def corner_deg(before: Vec2, corner: Vec2, after: Vec2) -> float:
    """The angle between the two sides that meet in the corner."""
    return math.degrees((before - corner).angle_between(after - corner))


def test_on_the_simulated_bench_a_folder_stands_for_the_stick_and_the_file_is_stamped(tmp_path: Path) -> None:
    """The simulated hand measures in the terminal, faster than frames could follow; then the screen takes over."""
    (tmp_path / "designs").mkdir()
    (tmp_path / "designs" / "frame.svg").write_text(DESIGN, encoding="utf-8")
    with assembled(BenchOptions(folder=tmp_path, scenario="racked", speed=20.0)) as bench:
        TextBench(bench, io.StringIO(), columns=None).run((), quit_at_end=False)
        with Offscreen(bench) as screen:

            def until(stage: DesignStage) -> None:
                screen.frames_until(lambda: screen.app.snapshot.design.stage is stage)

            screen.go("design")
            until(DesignStage.FOUND)
            tap_text(screen, "frame.svg")
            until(DesignStage.READY)
            tap_text(screen, "Write the corrected copy")
            until(DesignStage.DONE)
            assert str(screen.app.root.screen.page.word) == "WRITTEN"
            assert find_text(screen, "SIMULATED")
    assert (tmp_path / "designs" / "frame-corrected-SIMULATED.svg").exists()
