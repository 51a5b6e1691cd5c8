"""A grid of coupons over the bed by touch: begun, gone on with, and mapped; the bench behind it is the real one."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from core.machine.profile import MachineProfile
from core.records.archive import Archive
from core.records.grid import fresh_name, grid_state
from core.said import Name
from tests.ui.command_line.test_bed_map_command import cut_grid
from tests.ui.layout_checks import faults_of_place
from tests.ui.scenes import SCENES
from tests.ui.touching import find_text, tap_text
from ui.bench.desks.measuring import OpenSession
from ui.bench.desks.records import look_up_grid

BOWED = {"A1": -0.2, "B1": 0.0, "C1": 0.2, "A2": -0.2, "B2": 0.0, "C2": 0.2}


def test_a_grid_is_begun_from_the_coupon_screen(screen) -> None:
    screen.show(SCENES["grid-begun"]())
    screen.go("coupon")
    assert screen.bench.sent == [look_up_grid(machine="router")]
    tap_text(screen, "New grid G2")
    assert find_text(screen, "Start this coupon").disabled
    assert find_text(screen, "Touch the place that is engraved on the coupon.")
    tap_text(screen, "B3")
    tap_text(screen, "Start this coupon")
    command = screen.bench.sent[-1]
    assert isinstance(command, OpenSession)
    assert (command.opened.grid, command.opened.place) == ("G2", "B3")
    assert command.opened.coupon.width_mm == 120.0


def test_the_next_coupon_of_a_grid_sees_what_was_measured(screen) -> None:
    screen.show(SCENES["grid-begun"]())
    screen.go("coupon")
    tap_text(screen, "Of grid G1")
    assert find_text(screen, "B1\n+0.02°")
    tap_text(screen, "C1")
    tap_text(screen, "Start this coupon")
    opened = screen.bench.sent[-1].opened
    assert (opened.grid, opened.place) == ("G1", "C1")


def test_a_side_can_be_keyed_in_after_the_grid_was_chosen(screen) -> None:
    screen.show(SCENES["grid-begun"]())
    screen.go("coupon")
    tap_text(screen, "New grid G2")
    tap_text(screen, "A1")
    tap_text(screen, "width, X")
    for key in "150":
        tap_text(screen, key)
    tap_text(screen, "Start this coupon")
    opened = screen.bench.sent[-1].opened
    assert (opened.coupon.width_mm, opened.grid, opened.place) == (150.0, "G2", "A1")


@pytest.mark.parametrize("size", [(480, 320), (800, 480), (720, 1280)], ids=str)
@pytest.mark.parametrize(
    ("scene", "name", "opened"), [("grid", "coupon", "Of grid G1"), ("drifting", "history", "Filter")]
)
def test_places_and_the_filter_can_be_hit_and_read(
    looked_at, scene: str, name: str, opened: str, size: tuple[int, int]
) -> None:
    """Laid out for another panel before: places kept the space between them, and were too narrow for a finger."""
    for panel in ((800, 480), size):
        with looked_at.resized(panel):
            looked_at.show(SCENES[scene]())
            looked_at.go("bench")  # what was opened is closed
            looked_at.go(name)
            tap_text(looked_at, opened)
            assert faults_of_place(looked_at) == []


def test_by_itself_is_in_no_grid(screen) -> None:
    screen.show(SCENES["grid-begun"]())
    screen.go("coupon")
    tap_text(screen, "New grid G2")
    tap_text(screen, "A1")
    tap_text(screen, "By itself")
    tap_text(screen, "Start this coupon")
    assert (screen.bench.sent[-1].opened.grid, screen.bench.sent[-1].opened.place) == ("", "")


def test_the_top_line_names_the_place_while_it_is_measured(looked_at) -> None:
    looked_at.show(SCENES["at-place"]())
    looked_at.go("bench")
    assert find_text(looked_at, "router · 120 x 80 mm · B2, coupon 3 of grid G1")
    looked_at.show(SCENES["first"]())
    assert find_text(looked_at, "template router · 120 x 80 mm")


def test_the_bed_map_says_what_is_common_and_what_is_local(looked_at) -> None:
    looked_at.show(SCENES["grid"]())
    looked_at.go("history")
    tap_text(looked_at, "Over the bed")
    assert looked_at.bench.sent[-1] == look_up_grid(machine="router")
    shown = looked_at.app.root.screen
    assert "Common skew +0.007 ±" in str(shown.text)
    assert "the gantry is bowed" in str(shown.text)
    assert "No change: " not in str(shown.text)  # the command says what is not proven
    assert [label.text for label in shown.picture.labels if label.strong] == [
        Name(place) for place in ("A1", "B1", "C1", "A2", "B2", "C2")
    ]


def test_a_grid_with_too_few_coupons_says_how_far_it_has_come(looked_at) -> None:
    looked_at.show(SCENES["grid-begun"]())
    looked_at.go("bed")
    assert looked_at.app.root.screen.picture is None
    assert "Measured: A1, B1." in str(looked_at.app.root.screen.text)
    tap_text(looked_at, "Measure one more")
    assert looked_at.app.root.screen.name == "coupon"


def test_sessions_of_one_grid_belong_together_in_the_archive(tmp_path: Path) -> None:
    cut_grid(tmp_path, BOWED)
    (path,) = tmp_path.rglob("*.sqlite")
    archive = Archive.open(path, lambda: datetime(2026, 11, 25, tzinfo=UTC))
    archive.save_machine(MachineProfile(name="knife", span_mm=500.0))
    state = grid_state(archive, "template-router")
    assert (state.grid, state.known, state.fresh) == ("spring", ("spring",), "G1")
    assert [*state.measured] == sorted(BOWED)
    assert state.map is not None
    assert "the gantry is bowed" in str(state.text)
    other = grid_state(archive, "knife")
    assert (other.grid, other.map, other.measured) == ("", None, {})
    archive.close()
    assert fresh_name(["spring", "G2", "G10", "Gx"]) == "G11"
