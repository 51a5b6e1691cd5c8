"""An independent machine for the tests: adjusters as points on the bed, cuts by plane geometry, gauges by trigonometry.

It shares no formula with core: corners are cut as points, read as distances and angles between points.
"""

from __future__ import annotations

import cmath
import math
import re

import numpy as np
import pytest
from msgspec import Struct, field

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.machine.directions import Axis, Front, Side
from core.machine.parallelism import Gaps
from core.machine.profile import MachineProfile
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.readings import Reading, Unit

TOLD = re.compile(
    r"move the (?P<end>left|right|near|far) end of the (?P<part>gantry|rails) by (?P<mm>[\d.]+) ± [\d.]+ mm "
    r"(?P<way>nearer to you|farther from you|to the left|to the right)"
)
# What the words mean to a person at the front: the real part is to the right, the imaginary part away.
WORDS = {
    "left": -1 + 0j,
    "right": 1 + 0j,
    "near": -1j,
    "far": 1j,
    "nearer to you": -1j,
    "farther from you": 1j,
    "to the left": -1 + 0j,
    "to the right": 1 + 0j,
}
# Where the operator's right and away point on the machine's axes, written out case by case.
RIGHT_AND_AWAY = {
    Front.Y_AWAY: (1 + 0j, 1j),
    Front.Y_TOWARD: (-1 + 0j, -1j),
    Front.X_AWAY: (-1j, 1 + 0j),  # facing +X, +Y is at the left hand
    Front.X_TOWARD: (1j, -1 + 0j),  # facing -X, +Y is at the right hand
}


class SimulatedMachine(Struct):
    """The part that is turned runs along its axis; `ends` are how far its minus and plus end stand along the other."""

    profile: MachineProfile
    scale_x: float = 1.0
    scale_y: float = 1.0
    kerf_mm: float = 0.0
    taper_x: float = 0.0
    taper_y: float = 0.0
    ends: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def rack(self, skew_deg: float) -> None:
        """Stand as a machine does whose coupon leans by this much: NL and FR acute when positive."""
        # Along X the plus end stands too far along Y, along Y too far along X: either closes the angle at NL.
        self.ends[1] = self.profile.span_mm * math.tan(math.radians(skew_deg))

    @property
    def directions(self) -> tuple[complex, complex]:
        """Unit vectors of the machine's real X and Y motion on the bed."""
        lean = complex(self.profile.span_mm, self.ends[1] - self.ends[0])
        lean /= abs(lean)
        if self.profile.part_axis is Axis.X:
            return lean, 1j
        return 1 + 0j, complex(lean.imag, lean.real)

    @property
    def skew_deg(self) -> float:
        """90 degrees less the angle from the real X motion to the real Y motion."""
        x_motion, y_motion = self.directions
        return 90.0 - math.degrees(cmath.phase(y_motion / x_motion))

    def cut(self, coupon: Coupon) -> list[complex]:
        """The corners NL, NR, FR, FL of a coupon cut now."""
        x_motion, y_motion = self.directions
        half_w, half_h = coupon.width_mm / 2.0, coupon.height_mm / 2.0
        corners = []
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            along_x = sx * (half_w * self.scale_x * (1.0 + sy * self.taper_x) - self.kerf_mm / 2.0)
            along_y = sy * (half_h * self.scale_y * (1.0 + sx * self.taper_y) - self.kerf_mm / 2.0)
            corners.append(along_x * x_motion + along_y * y_motion)
        return corners

    def do_as_told(self, text: str, share: float = 1.0) -> None:
        """Move the end named, the way named, by the amount named (times `share`), as a person at the front would."""
        told = TOLD.search(text)
        assert told, text
        self.move(told["end"], told["way"], share * float(told["mm"]))

    def move(self, end: str, way: str, mm: float) -> None:
        right, away = RIGHT_AND_AWAY[self.profile.front]
        at, towards = (
            WORDS[word].real * right + WORDS[word].imag * away for word in (end, way)
        )  # on the machine's axes
        along = 1 + 0j if self.profile.part_axis is Axis.X else 1j
        across = 1j if self.profile.part_axis is Axis.X else 1 + 0j
        assert at in (along, -along), "the end named does not exist on this machine"
        assert towards in (across, -across), "an end can only be moved across the part"
        self.ends[1 if at == along else 0] += mm if towards == across else -mm

    def gap(self, side: Side, tilt: float = 0.003) -> float:
        """The gap at one end, from a reference 30 mm away that is itself not square to anything."""
        right, away = RIGHT_AND_AWAY[self.profile.front]
        points = self.profile.gap_span_mm or self.profile.span_mm
        along = 1 + 0j if self.profile.part_axis is Axis.X else 1j
        across = 1j if self.profile.part_axis is Axis.X else 1 + 0j
        at = WORDS[side.value].real * right + WORDS[side.value].imag * away
        place = points / 2.0 * (1 if at == along else -1)
        middle = (self.ends[0] + self.ends[1]) / 2.0
        stands = middle + place * (self.ends[1] - self.ends[0]) / self.profile.span_mm
        reference = self.profile.reference_side.value
        to_reference = WORDS[reference].real * right + WORDS[reference].imag * away
        return 30.0 + tilt * place + (-stands if to_reference == across else stands)

    def gaps(self) -> Gaps:
        first, second = self.profile.ends
        return Gaps(first_mm=self.gap(first), second_mm=self.gap(second))


def angle_deg(corner: complex, one: complex, other: complex) -> float:
    return abs(math.degrees(cmath.phase((one - corner) / (other - corner))))


# Its size does not matter to its form: it has no seats.
UNSEATED = Coupon(width_mm=120.0, height_mm=80.0)


def between_jaws(one: tuple[complex, complex], other: tuple[complex, complex], depth: float | None) -> float:
    """Distance of two edges, each from the corner read at to the corner beyond, half-way down the jaws."""
    if depth is None:
        return abs(other[0] - one[0])
    ways = [(beyond - at) / abs(beyond - at) for at, beyond in (one, other)]
    across = (other[0] + depth * ways[1]) - (one[0] + depth * ways[0])
    return abs((across / (ways[0] + ways[1])).imag) * abs(ways[0] + ways[1])


def read_coupon(
    corners: list[complex],
    features: tuple[Feature, ...],
    setup: MeasuringSetup,
    rng: np.random.Generator | None = None,
) -> list[Reading]:
    """Read features of four corners as a person with calipers and an angle gauge does, with noise when asked."""
    nl, nr, fr, fl = corners
    depth = setup.jaw_depth_mm / 2.0 if setup.edge_method is EdgeMethod.SEATED else None
    true = {
        Feature.NEAR: between_jaws((nl, fl), (nr, fr), depth),
        Feature.RIGHT: between_jaws((nr, nl), (fr, fl), depth),
        Feature.FAR: between_jaws((fl, nl), (fr, nr), depth),
        Feature.LEFT: between_jaws((nl, nr), (fl, fr), depth),
        Feature.NL_FR: abs(fr - nl),
        Feature.NR_FL: abs(fl - nr),
        Feature.NL: angle_deg(nl, nr, fl),
        Feature.NR: angle_deg(nr, fr, nl),
        Feature.FR: angle_deg(fr, fl, nr),
        Feature.FL: angle_deg(fl, nl, fr),
    }
    readings = []
    lasting: dict[Feature, float] = {}
    for feature in features:
        tool = setup.instrument(feature)
        value = true[feature]
        if rng:
            form = setup.form.of(feature.kind, UNSEATED)
            of_place = rng.uniform(-1.0, 1.0) * tool.linearity + rng.standard_normal() * form
            value += lasting.setdefault(feature, float(of_place)) + tool.repeatability * float(rng.standard_normal())
        readings.append(Reading(feature=feature, value=value, unit=Unit.MM if feature.is_length else Unit.DEG))
    return readings


@pytest.fixture
def machine_of() -> type[SimulatedMachine]:
    return SimulatedMachine


@pytest.fixture
def read():
    return read_coupon
