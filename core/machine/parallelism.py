"""Parallelism by two gaps: from the gaps read before anything is loosened to the gaps to set, and a null meter.

Stage: correction. Input: gaps read from one fixed reference at both ends, a correction, a profile. Output: target gaps
and, live, how far there is to go and which way.

Turning the part about its other end by `move` over `span` changes the difference of the two gaps by
`move × gap_span / span`; only this difference counts, so the reference itself need not be square to anything.
Gap points are taken to lie midway between the adjusters' ends, as far in or out on the one side as on the other.
"""

import math

from msgspec import Struct

from core.machine.directions import Direction, Side
from core.machine.move import end_and_direction
from core.machine.profile import MachineProfile
from core.metrology import DEFAULT_CALIPER, Estimate
from core.said import Length, Said, said

# Standard uncertainty of one gap read by caliper: no form deviation, the jaws always seat on the same two spots.
GAP_U_MM = math.sqrt(DEFAULT_CALIPER.mean_variance(1, 0.0))
# A setting error below a third of the move's own U widens it by 5 % at most: nobody need set closer.
ENOUGH_OF_U = 1.0 / 3.0


class Gaps(Struct, frozen=True, kw_only=True):
    """The gap at both ends, in mm. The first end is the left or the near one, as seen from the front."""

    first_mm: float
    second_mm: float

    def at(self, end: Side) -> float:
        """The gap at a named end."""
        return self.first_mm if end in (Side.LEFT, Side.NEAR) else self.second_mm

    @property
    def difference_mm(self) -> float:
        """Second less first."""
        return self.second_mm - self.first_mm


class GapTarget(Struct, frozen=True, kw_only=True):
    """Where the gaps have to go. `gaps` are the target gaps; `end` and `direction` repeat the correction's.

    `inside_mm`: with no more than this left, at the adjuster, further setting gains nothing.
    """

    gaps: Gaps
    end: Side
    direction: Direction
    inside_mm: float


class NullReading(Struct, frozen=True, kw_only=True):
    """The null meter: `to_go_mm` is what the end to move has still to go at the adjuster, zero or more, `direction`
    which way. `gap_to_go_mm` is the same on the gap at this end, signed: positive means the gap has to grow.
    `stop_at_mm` is the gap at which this end has arrived, as the other end's gap now stands."""

    to_go_mm: float
    gap_to_go_mm: float
    stop_at_mm: float
    direction: Direction
    inside: bool

    @property
    def text(self) -> Said:
        """The words beside the meter."""
        to_go = Length(self.to_go_mm)
        if self.inside:
            return said("Inside: {to_go} to go.", to_go=to_go)
        return said("{to_go} {way} to go.", to_go=to_go, way=self.direction.words)


def gap_span_mm(profile: MachineProfile) -> float:
    """Distance between the two places where gaps are read."""
    return profile.gap_span_mm or profile.span_mm


def gap_sign(direction: Direction, profile: MachineProfile) -> int:
    """+1 when moving this way opens the gap to the reference, -1 when it closes it."""
    return -1 if direction.side is profile.reference_side else 1


def target_gaps(
    read: Gaps,
    *,
    move_mm: Estimate,
    end: Side,
    direction: Direction,
    profile: MachineProfile,
    gap_u_mm: float = GAP_U_MM,
) -> GapTarget:
    """The gaps to set so that a correction's move is made, from the gaps read while the gantry was untouched."""
    share = gap_span_mm(profile) / profile.span_mm
    opens_mm = gap_sign(direction, profile) * move_mm.value
    # Points inside or outside the adjusters: the end that stays keeps a part of the turning, too.
    moved_mm, stayed_mm = opens_mm * (1.0 + share) / 2.0, opens_mm * (1.0 - share) / 2.0
    first = end in (Side.LEFT, Side.NEAR)
    gaps = Gaps(
        first_mm=read.first_mm + (moved_mm if first else stayed_mm),
        second_mm=read.second_mm + (stayed_mm if first else moved_mm),
    )
    return GapTarget(
        gaps=gaps,
        end=end,
        direction=direction,
        inside_mm=inside_of(move_mm, profile, gap_u_mm),
    )


def moved_u_mm(profile: MachineProfile, gap_u_mm: float = GAP_U_MM) -> float:
    """Standard uncertainty of a move at the adjuster by four gaps, two before and two after."""
    return 2.0 * gap_u_mm * profile.span_mm / gap_span_mm(profile)


def inside_of(move_mm: Estimate, profile: MachineProfile, gap_u_mm: float = GAP_U_MM) -> float:
    """How near to its target an end has to be set, in mm at the adjuster: nearer cannot be told, made, or used."""
    gaps_U_mm = Estimate(value=0.0, u=1.0).U95 * moved_u_mm(profile, gap_u_mm)
    return max(gaps_U_mm, ENOUGH_OF_U * move_mm.U95, (profile.least_count_mm or 0.0) / 2.0)


def turned_to(before: Gaps, end: Side, gap_mm: float, profile: MachineProfile) -> Gaps:
    """Both gaps while one end is turned about the other: from a pair read before and this end's gap now.

    With gap points inside or outside the adjusters the other end's gap moves a little as well.
    """
    share = gap_span_mm(profile) / profile.span_mm
    moved_mm = gap_mm - before.at(end)
    other_mm = before.at(end.opposite) + moved_mm * (1.0 - share) / (1.0 + share)
    if end in (Side.LEFT, Side.NEAR):
        return Gaps(first_mm=gap_mm, second_mm=other_mm)
    return Gaps(first_mm=other_mm, second_mm=gap_mm)


def null_meter(now: Gaps, target: GapTarget, profile: MachineProfile) -> NullReading:
    """How far there is to go, judged on the difference of the gaps alone."""
    share = gap_span_mm(profile) / profile.span_mm
    end_sign = -1 if target.end in (Side.LEFT, Side.NEAR) else 1
    gap_to_go_mm = end_sign * (target.gaps.difference_mm - now.difference_mm)
    to_go_mm = gap_to_go_mm / share * gap_sign(target.direction, profile)  # along the correction's own direction
    return NullReading(
        to_go_mm=abs(to_go_mm),
        gap_to_go_mm=gap_to_go_mm,
        stop_at_mm=now.at(target.end) + gap_to_go_mm / share * (1.0 + share) / 2.0,
        direction=target.direction if to_go_mm >= 0.0 else target.direction.opposite,
        inside=abs(to_go_mm) <= target.inside_mm,
    )


def lean_sign(profile: MachineProfile) -> int:
    """+1 when a positive skew has the second end of the part standing farther from the reference, else -1."""
    end, direction = end_and_direction(1.0, profile)
    second_moves = direction if end in (Side.RIGHT, Side.FAR) else direction.opposite
    return -gap_sign(second_moves, profile)


def skew_change(before: Gaps, now: Gaps, profile: MachineProfile, gap_u_mm: float = GAP_U_MM) -> Estimate:
    """By how much the skew of the next coupon differs, in degrees, when the gaps went from `before` to `now`."""
    span_mm = gap_span_mm(profile)
    change_mm = now.difference_mm - before.difference_mm
    return Estimate(
        value=lean_sign(profile) * math.degrees(math.atan(change_mm / span_mm)),
        u=math.degrees(2.0 * gap_u_mm / span_mm),
    )
