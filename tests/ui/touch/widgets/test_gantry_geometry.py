"""The drawn gantry turns towards square as what is left shrinks, whichever end moves and whichever way."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from core.machine.directions import Side
from ui.touch.widgets.gantry_geometry import GantryPlace, place_gantry, place_ladder

BED = (40.0, 90.0, 330.0, 300.0)
WAYS = [(end, way) for end in Side for way in Side if not (end.vector * way.vector.conjugate()).real]


def crooked_deg(place: GantryPlace, end: Side) -> float:
    """The angle between the drawn gantry and the square one."""
    run = complex(place.moving[0] - place.still[0], place.moving[1] - place.still[1])
    turned = run * end.vector.conjugate()
    return math.degrees(math.atan2(turned.imag, turned.real))


@pytest.mark.parametrize(("end", "way"), WAYS)
def test_it_turns_towards_square_and_past_it(end: Side, way: Side) -> None:
    places = [
        place_gantry(BED, end=end, way=way, left=left / 10, inside=False, arrow_px=60.0) for left in range(10, -11, -1)
    ]
    angles = [crooked_deg(place, end) for place in places]
    assert angles[10] == pytest.approx(0.0, abs=1e-9)
    assert all(abs(a) > abs(b) for a, b in pairwise(angles[:11]))
    assert angles[0] * angles[-1] < 0, "beyond the goal it leans the other way"


@pytest.mark.parametrize(("end", "way"), WAYS)
@pytest.mark.parametrize("left", [1.0, 0.3, -0.4])
def test_the_arrow_always_points_to_the_goal(end: Side, way: Side, left: float) -> None:
    place = place_gantry(BED, end=end, way=way, left=left, inside=False, arrow_px=60.0)
    assert place.tip is not None
    push = complex(place.tip[0] - place.moving[0], place.tip[1] - place.moving[1])
    to_goal = complex(place.goal[0] - place.moving[0], place.goal[1] - place.moving[1])
    assert (push * to_goal.conjugate()).real > 0
    ladder = place_ladder(BED, way=way, left=left, zone=0.1)
    onward = complex(ladder.goal[0] - ladder.pointer[0], ladder.goal[1] - ladder.pointer[1])
    assert (push * onward.conjugate()).real > 0, "the ladder's pointer has to go the way the arrow points"
    assert abs((push * onward.conjugate()).imag) < 1e-6, "the ladder lies along the real motion"


def test_inside_there_is_nothing_to_push() -> None:
    assert place_gantry(BED, end=Side.RIGHT, way=Side.FAR, left=0.01, inside=True, arrow_px=60.0).tip is None


def test_the_scale_stays_from_start_to_goal() -> None:
    marks = {
        (place.start, place.goal, place.beyond, place.half_zone_px)
        for place in (place_ladder(BED, way=Side.FAR, left=left, zone=0.08) for left in (3.0, 1.0, 0.2, -0.5, -4.0))
    }
    assert len(marks) == 1


def test_what_ran_off_the_drawing_waits_at_its_end() -> None:
    ladder = place_ladder(BED, way=Side.FAR, left=-7.0, zone=0.1)
    assert ladder.pointer == ladder.beyond


def test_an_end_cannot_move_along_the_gantry() -> None:
    with pytest.raises(ValueError, match="along the gantry"):
        place_gantry(BED, end=Side.RIGHT, way=Side.LEFT, left=1.0, inside=False, arrow_px=60.0)
