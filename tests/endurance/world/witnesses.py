"""What people without an angle gauge find out of a coupon: light at a try square, the step of a reversal check.

Input: the truth of m coupons. Output: an `Answers` each, the mark answered truthfully. Nothing here knows the readings.
"""

from __future__ import annotations

import numpy as np

from core.machine.reversal_check import Overhang, ReversalCheck, StepGauge, reversal_check
from core.metrology.witness import Answers, Light, MarkSeen
from tests.endurance.world.worlds import HEIGHT_MM, WIDTH_MM, Seed, Truth

BLADE_MM = 75.0
SEEN_MM = 0.03  # a gap of light that anybody sees (common practice: a hundredth shows, three are sure)
SQUARE_SD_MM = 0.02  # by how much the square itself is off over its blade
CUT_SD_MM = 0.03  # of the step, from one cut to the next


def by_light(truth: Truth, seed: Seed) -> list[Answers]:
    """A try square at the two near corners, the same square at both."""
    off = np.random.default_rng(seed).normal(0.0, SQUARE_SD_MM, len(truth.angles))
    gaps = BLADE_MM * np.tan(np.radians(90.0 - truth.angles[:, :2])) + off[:, None]
    return [Answers(mark=MarkSeen.NL, light_at_nl=_light(float(nl)), light_at_nr=_light(float(nr))) for nl, nr in gaps]


def _light(gap_mm: float) -> Light:
    if abs(gap_mm) < SEEN_MM:
        return Light.CANNOT_TELL
    return Light.BLADE_END if gap_mm > 0.0 else Light.CORNER


def by_reversal(truth: Truth, seed: Seed) -> list[Answers]:
    """Two coupons of one cut file on one another, and feeler leaves of 0.05 mm: the thickest stack that goes in."""
    rng = np.random.default_rng(seed)
    steps = 2.0 * WIDTH_MM * truth.squareness / min(WIDTH_MM, HEIGHT_MM) + rng.normal(
        0.0, CUT_SD_MM, len(truth.squareness)
    )
    return [Answers(mark=MarkSeen.NL, reversal_deg=_found(float(step)).skew_deg) for step in steps]


def _found(step_mm: float) -> ReversalCheck:
    stack_mm = 0.05 * int(abs(step_mm) / 0.05)
    overhang = Overhang.NONE if stack_mm == 0.0 else Overhang.LOWER if step_mm > 0.0 else Overhang.UPPER
    return reversal_check(WIDTH_MM, stack_mm, overhang, StepGauge.FEELER)
