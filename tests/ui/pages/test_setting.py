"""Setting the gantry, from calipers to drawing: both signs of the skew, both ends, along X and along Y, any front."""

from __future__ import annotations

import math
from itertools import pairwise, product

import pytest

from core.machine.directions import Axis, Front, Side
from core.machine.guided_correction import GuidedState, answer, guided_state
from core.machine.holding import HowHeld
from core.machine.machine_log import CorrectionBegun, LogEntry, LogPayload
from core.machine.move import end_and_direction
from core.machine.parallelism import gap_sign
from core.machine.procedure import Stage
from core.machine.profile import MachineProfile, Process
from core.said import NOTHING
from tests.ui.touch.widgets.test_gantry_geometry import BED, crooked_deg
from ui.pages.setting import WAY_WORD, setting_now, to_go_now
from ui.speech.notation import AS_KEPT, LengthUnit, Notation
from ui.touch.widgets.gantry_geometry import place_gantry

UNTOUCHED_MM, MOVE_MM = 32.0, 4.0
MACHINES = [*product((1.0, -1.0), Axis, Front, (0, 1))]


def being_set(skew_deg: float, axis: Axis, front: Front, end: int) -> GuidedState:
    """A machine whose one end can be moved, gantry untouched read, loosened: now it is set."""
    ends = MachineProfile(name="plotter", span_mm=640.0, gantry_axis=axis, front=front, held=HowHeld.SCREWS).ends
    profile = MachineProfile(
        name="plotter", span_mm=640.0, gantry_axis=axis, front=front, held=HowHeld.SCREWS, movable=(ends[end],),
        process=Process.PLOTTER,
    )  # fmt: skip
    moving, way = end_and_direction(skew_deg, profile)
    assert moving is ends[end]
    begun = CorrectionBegun(
        session="", skew_deg=skew_deg, skew_u_deg=0.01, span_mm=640.0, move_mm=MOVE_MM, move_u_mm=0.05, end=moving,
        direction=way,
    )  # fmt: skip
    payloads: list[LogPayload] = [begun]
    while True:
        state = guided_state(
            [LogEntry(sequence=n, time_utc=None, payload=p) for n, p in enumerate(payloads, 1)], profile
        )
        assert state is not None
        if state.stage is Stage.SET:
            return state
        payloads += answer(state, UNTOUCHED_MM if state.gap_end else None)


def gap_mm(state: GuidedState, made_mm: float) -> float:
    """The gap at the end that moves, once it was moved so far along the way asked for."""
    return UNTOUCHED_MM + gap_sign(state.begun.direction, state.profile) * made_mm


@pytest.mark.parametrize("machine", MACHINES, ids=str)
def test_the_drawn_gantry_turns_towards_square_as_to_go_shrinks(machine: tuple[float, Axis, Front, int]) -> None:
    state = being_set(*machine)
    steps = []
    for made_mm in (0.0, 1.0, 2.0, 3.0, 3.6, MOVE_MM):
        setting = setting_now(state, gap_mm(state, made_mm))
        figures = to_go_now(state, gap_mm(state, made_mm), AS_KEPT)
        assert setting is not None
        assert figures is not None
        place = place_gantry(BED, end=setting.end, way=setting.way, left=setting.left, inside=False, arrow_px=60.0)
        steps.append((float(figures.figure), abs(crooked_deg(place, setting.end))))
        if not setting.inside:
            assert figures.way == WAY_WORD[state.begun.direction]
    assert [to_go_mm for to_go_mm, _ in steps] == pytest.approx([4.0, 3.0, 2.0, 1.0, 0.4, 0.0], abs=0.006)
    assert all(before > after for (_, before), (_, after) in pairwise(steps))
    assert steps[-1][1] == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("machine", MACHINES, ids=str)
def test_what_the_skew_says_is_what_is_drawn(machine: tuple[float, Axis, Front, int]) -> None:
    """Independent of the gaps: the glossary's skew turns Y; a gantry drawn crooked must be turned the other way by the
    arrow than the coupon's axes were by the skew."""
    skew_deg, axis, front, _ = machine
    state = being_set(*machine)
    setting = setting_now(state, gap_mm(state, 0.0))
    assert setting is not None
    place = place_gantry(BED, end=setting.end, way=setting.way, left=1.0, inside=False, arrow_px=60.0)
    # Positive skew: the angle from X to Y is below 90 degrees. Along X the gantry stands turned towards Y, along Y
    # towards X; seen from any front the turn keeps its sense, for a front only turns the view.
    turned = math.copysign(1.0, skew_deg) * (1.0 if axis is Axis.X else -1.0)
    ends = state.profile.ends
    first_to_second = setting.end is ends[1]
    angle = crooked_deg(place, setting.end)
    assert math.copysign(1.0, angle) == turned, (front, first_to_second)


@pytest.mark.parametrize("machine", MACHINES[:4], ids=str)
def test_beyond_the_goal_the_one_order_is_back(machine: tuple[float, Axis, Front, int]) -> None:
    state = being_set(*machine)
    setting, figures = (
        setting_now(state, gap_mm(state, 5.5)),
        to_go_now(state, gap_mm(state, 5.5), AS_KEPT),
    )
    assert setting is not None
    assert figures is not None
    assert setting.left == pytest.approx(-1.5 / MOVE_MM, abs=1e-6)
    assert figures.way == WAY_WORD[state.begun.direction.opposite]


def test_inside_there_is_no_way_any_more() -> None:
    state = being_set(*MACHINES[0])
    setting, figures = setting_now(state, gap_mm(state, 3.99)), to_go_now(state, gap_mm(state, 3.99), AS_KEPT)
    assert setting is not None
    assert setting.inside
    assert figures is not None
    assert figures.way == NOTHING


def test_jaws_that_are_elsewhere_move_no_drawing() -> None:
    state = being_set(*MACHINES[0])
    setting = setting_now(state, 139.65)
    assert setting is not None
    assert (setting.left, setting.live) == (1.0, False)


def test_figures_are_in_the_persons_unit() -> None:
    figures = to_go_now(being_set(*MACHINES[0]), None, Notation(lengths=LengthUnit.INCH))
    assert figures is not None
    assert figures.figure == "0.1575"  # 4 mm of 25.4 mm (exact)


@pytest.mark.parametrize("side", list(Side))
def test_every_way_has_its_word(side: Side) -> None:
    assert any(way.side is side for way in WAY_WORD)
