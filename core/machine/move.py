"""From a skew to a move: how far, which end, which way, and what the adjuster can make of it.

Stage: correction. Input: skew in degrees, a profile. Output: a move in mm with its uncertainty, an end and a direction
as seen from the front.

Positive skew: corners NL and FR are acute. A part along X (gantry) then has its +X end too far along +Y by
`span × tan(skew)`; a part along Y has its +Y end too far along +X by the same. U of the move is
`span × sec²(skew) × U(skew)` (law of propagation, JCGM 100:2008, 5.1.2).
"""

import math

from core.machine.directions import Direction, Side, direction_of, side_of
from core.machine.profile import MachineProfile
from core.metrology import Estimate


def move_of_skew(skew_deg: Estimate, span_mm: float) -> Estimate:
    """How far one end stands off, as a positive amount in mm, with its standard uncertainty."""
    tangent = math.tan(math.radians(skew_deg.value))
    u_mm = span_mm * (1.0 + tangent * tangent) * math.radians(skew_deg.u)
    return Estimate(value=span_mm * abs(tangent), u=u_mm, nu=skew_deg.nu)


def end_and_direction(skew_deg: float, profile: MachineProfile) -> tuple[Side, Direction]:
    """The end to move and the way to move it, in the words of the person at the front.

    Where both ends can be moved it is the right or the far one.
    """
    axis = profile.part_axis
    plus_end = profile.front.seen(axis.vector)
    # The plus end of the part stands too far along the other axis when the skew is positive: it has to come back.
    back = profile.front.seen(-axis.other.vector) * (1 if skew_deg > 0.0 else -1)
    end, direction = side_of(plus_end), direction_of(back)
    preferred = Side.RIGHT if end in (Side.LEFT, Side.RIGHT) else Side.FAR
    wanted = preferred if preferred in profile.can_move else profile.can_move[0]
    return (end, direction) if end is wanted else (end.opposite, direction.opposite)


def settable_move(move_mm: float, profile: MachineProfile) -> float:
    """The move nearest to the one wanted that the adjuster can make."""
    least_mm = profile.least_count_mm
    return move_mm if least_mm is None else least_mm * math.floor(move_mm / least_mm + 0.5)
