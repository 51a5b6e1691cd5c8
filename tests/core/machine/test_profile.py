"""Machine profiles: what is refused, and what follows from how squareness is held."""

from __future__ import annotations

from typing import Any

import pytest

from core.errors import BadInputError
from core.machine.directions import Axis, Direction, Front, Side
from core.machine.holding import HOLDINGS, HowHeld, UnitKind
from core.machine.profile import MachineProfile


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"span_mm": 10.0}, "gantry span 10 mm"),
        ({"span_mm": float("nan")}, "gantry span nan"),
        ({"screw_pitch_mm": 0.0}, "screw_pitch_mm 0"),
        ({"steps_per_mm": -80.0}, "steps_per_mm −80"),
        ({"kerf_mm": -0.1}, "kerf −0.1"),
        ({"movable": (Side.FAR,)}, "this machine's ends are left and right"),
        ({"movable": (Side.LEFT,), "gantry_axis": Axis.Y}, "this machine's ends are near and far"),
        ({"reference": Side.LEFT}, "reference on the left side"),
    ],
)
def test_what_cannot_be_is_refused(fields: dict[str, Any], said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        MachineProfile(**({"name": "m", "span_mm": 640.0} | fields))


@pytest.mark.parametrize(
    ("axis", "front", "held", "ends", "reference"),
    [
        (Axis.X, Front.Y_AWAY, HowHeld.SCREWS, (Side.LEFT, Side.RIGHT), Side.NEAR),
        (Axis.X, Front.Y_TOWARD, HowHeld.SCREWS, (Side.LEFT, Side.RIGHT), Side.NEAR),
        (Axis.X, Front.X_AWAY, HowHeld.SCREWS, (Side.NEAR, Side.FAR), Side.LEFT),
        (Axis.Y, Front.Y_AWAY, HowHeld.SCREWS, (Side.NEAR, Side.FAR), Side.LEFT),
        (Axis.Y, Front.X_TOWARD, HowHeld.SCREWS, (Side.LEFT, Side.RIGHT), Side.NEAR),
        (Axis.X, Front.Y_AWAY, HowHeld.RAILS, (Side.NEAR, Side.FAR), Side.LEFT),
        (Axis.Y, Front.Y_AWAY, HowHeld.RAILS, (Side.LEFT, Side.RIGHT), Side.NEAR),
    ],
)
def test_ends_as_seen_from_the_front(
    axis: Axis, front: Front, held: HowHeld, ends: tuple[Side, Side], reference: Side
) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, gantry_axis=axis, front=front, held=held)
    assert profile.ends == ends
    assert profile.can_move == ends
    assert profile.reference_side is reference


@pytest.mark.parametrize(
    ("held", "fields", "unit_mm", "least_mm"),
    [
        # ISO 261 coarse pitches: M6 1 mm, M8 1.25 mm; a twelfth of a turn is set by eye
        (HowHeld.SCREWS, {"screw_pitch_mm": 1.0}, 1.0, 1.0 / 12.0),
        (HowHeld.SCREWS, {"screw_pitch_mm": 1.25}, 1.25, 1.25 / 12.0),
        (HowHeld.SCREWS, {"belt_pitch_mm": 2.0}, None, None),
        (HowHeld.CROSS_SHAFT, {"belt_pitch_mm": 2.0}, None, None),
        (HowHeld.CROSS_SHAFT_TEETH, {"belt_pitch_mm": 2.0}, 2.0, 2.0),
        (HowHeld.BELT_CLAMPS, {"belt_pitch_mm": 3.0}, 3.0, 3.0),
        (HowHeld.SHIMS, {"thinnest_shim_mm": 0.05}, 0.05, 0.05),
        (HowHeld.TWO_MOTORS_TWO_SWITCHES, {"steps_per_mm": 80.0}, 0.0125, 0.0125),
        (HowHeld.TWO_MOTORS_ONE_SWITCH, {}, None, None),
        (HowHeld.RAILS, {"screw_pitch_mm": 1.0}, None, None),
    ],
)
def test_units_and_least_counts(
    held: HowHeld, fields: dict[str, Any], unit_mm: float | None, least_mm: float | None
) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, held=held, **fields)
    assert profile.unit_mm == (None if unit_mm is None else pytest.approx(unit_mm))
    assert profile.least_count_mm == (None if least_mm is None else pytest.approx(least_mm))


@pytest.mark.parametrize("held", HowHeld)
def test_every_kind_has_its_own_steps(held: HowHeld) -> None:
    holding = HOLDINGS[held]
    by_hand = held not in (HowHeld.TWO_MOTORS_TWO_SWITCHES, HowHeld.NOT_ADJUSTABLE)
    steps = [step for step in (holding.loosen, holding.set_, holding.tighten) if step]
    assert len(steps) == (3 if by_hand else 0)
    words = [str(step(Side.LEFT.word)) for step in steps]
    assert all(text.endswith(".") and "{" not in text for text in words)
    labels = [str(other.label) for other in HOLDINGS.values()]
    assert len(set(labels)) == len(labels)
    assert holding.part == ("rails" if held is HowHeld.RAILS else "gantry")


def test_motors_count_in_steps() -> None:
    motors = (HowHeld.TWO_MOTORS_ONE_SWITCH, HowHeld.TWO_MOTORS_TWO_SWITCHES)
    assert [held for held in HowHeld if HOLDINGS[held].unit is UnitKind.STEP] == sorted(motors, reverse=True)


@pytest.mark.parametrize("side", Side)
def test_sides_and_directions_have_opposites(side: Side) -> None:
    assert side.opposite.opposite is side
    assert side.opposite.vector == -side.vector


@pytest.mark.parametrize("direction", Direction)
def test_directions_lead_to_sides(direction: Direction) -> None:
    assert direction.opposite.opposite is direction
    assert direction.side.opposite is direction.opposite.side
