"""One world a row of the tables: which machine, which coupon, what is burnt, which hand, which slip; drawn by a seed.

Output: displays of m coupons and what is true of them.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.seats import equal_seats, keyed_seats
from tests.endurance.world import slips
from tests.endurance.world.cutting import Array, Machine, cut
from tests.endurance.world.hands import Hand, shown
from tests.endurance.world.jaws import flawless_readings

WIDTH_MM, HEIGHT_MM, LIMIT_MM, SPAN_MM = 120.0, 80.0, 0.4, 640.0
BARE = Coupon(width_mm=WIDTH_MM, height_mm=HEIGHT_MM)
KEYED = replace(BARE, seats=keyed_seats(WIDTH_MM, HEIGHT_MM))
EQUAL = replace(BARE, seats=equal_seats(WIDTH_MM, HEIGHT_MM))
Seed = int | tuple[int, int]  # of a whole row, or of a row and one of its pieces
REPEATS = 12  # as many as anybody reads of one coupon


class World(Struct, frozen=True):
    """What coupons are like here; the default is what the measuring model assumes.

    `skew_sd_deg` of the machines, or exactly `at_limit` times the limit, either way; `seat_form` of a diagonal from
    seat to seat, `corner_form` from corner to corner; `burnt_mm` both corners of one diagonal, more than the others;
    `kerf_mm` (least, most); `kerf_growth` and `yaw_change_deg` standard deviations; `quarter_turns` of the design.
    """

    coupon: Coupon = KEYED
    skew_sd_deg: float = 0.3
    at_limit: float | None = None
    edge_form: float = 0.02
    seat_form: float = 0.02
    corner_form: float = 0.05
    burnt_mm: float = 0.0
    kerf_mm: tuple[float, float] = (0.1, 0.3)
    kerf_growth: float = 0.0
    yaw_change_deg: float = 0.02
    hand: Hand = field(default_factory=Hand)
    slip: slips.Slip = slips.none
    quarter_turns: int = 0
    depth_sd_mm: float = 1.0


class Truth(Struct, frozen=True):
    """What is true of m coupons: `squareness` shorter side times the tangent of the skew (mm), `move` of the right end
    that makes the machine square (mm, away positive), `angles` (m, 4) in degrees, `edges` (m, 4) in mm."""

    squareness: Array
    move: Array
    angles: Array
    edges: Array

    @property
    def good(self) -> Array:
        """Whether squareness is within its limit."""
        return np.abs(self.squareness) <= LIMIT_MM

    def of(self, name: str) -> Array | None:
        """The true value of a characteristic by its name, None for one that this world does not know."""
        skew_mm = self.squareness
        if name in ("skew", "squareness"):
            return skew_mm
        kind, _, which = name.rpartition("-")
        if kind == "corner":
            return self.angles[:, ("nl", "nr", "fr", "fl").index(which)]
        if kind == "edge":
            return self.edges[:, ("near", "right", "far", "left").index(which)]
        if name == "taper-x":
            return self.edges[:, 2] - self.edges[:, 0]
        if name == "taper-y":
            return self.edges[:, 1] - self.edges[:, 3]
        return None


def drawn(world: World, coupons: int, seed: Seed) -> tuple[Array, Truth]:
    """Displays (m, 10, repeats) of so many coupons, and the truth."""
    rng = np.random.default_rng(seed)
    machine = _machines(rng, world, coupons)
    pieces = cut(
        rng,
        world.coupon,
        machine,
        edge_form=world.edge_form,
        seat_form=world.seat_form if world.coupon.seats is not None else world.corner_form,
        burnt=_burnt(rng, world, coupons),
        quarter_turns=world.quarter_turns,
    )
    flawless = flawless_readings(rng, pieces, 8.0, world.depth_sd_mm)
    displays = world.slip(rng, shown(rng, flawless, world.hand, REPEATS))
    shorter_mm = min(WIDTH_MM, HEIGHT_MM)
    truth = Truth(
        squareness=shorter_mm * np.tan(pieces.true_skew),
        move=-SPAN_MM * np.tan(machine.skew),
        angles=np.degrees(pieces.true_angles),
        edges=pieces.true_edges,
    )
    return displays, truth


def _machines(rng: np.random.Generator, world: World, m: int) -> Machine:
    skew = np.radians(rng.normal(0.0, world.skew_sd_deg, m))
    yaw_change = np.radians(rng.normal(0.0, world.yaw_change_deg, m))
    if world.at_limit is not None:
        shorter_mm = min(WIDTH_MM, HEIGHT_MM)
        skew = np.arctan(world.at_limit * LIMIT_MM / shorter_mm) * rng.choice([-1.0, 1.0], m)
    return Machine(
        skew=skew,
        yaw_change=yaw_change,
        scale=1.0 + rng.normal(0.0, 0.001, (m, 2)),
        kerf=rng.uniform(*world.kerf_mm, m),
        kerf_growth=rng.normal(0.0, world.kerf_growth, m) if world.kerf_growth else np.zeros(m),
    )


def _burnt(rng: np.random.Generator, world: World, m: int) -> Array:
    """Depth (m, 4) that corners are burnt or crushed by: alike at all four, and more at the ends of one diagonal."""
    alike = np.abs(rng.normal(0.0, 0.15, m))[:, None] + np.zeros((m, 4))
    one = rng.integers(0, 2, m)[:, None]
    more = (np.arange(4)[None] % 2 == one) * world.burnt_mm
    return np.asarray(alike + more)
