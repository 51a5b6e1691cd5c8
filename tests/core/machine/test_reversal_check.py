"""The reversal check against two coupons laid on one another with shapely: the step is measured, not calculated."""

from __future__ import annotations

import math

import pytest
from shapely import affinity
from shapely.geometry import Polygon

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.machine.reversal_check import Overhang, ReversalCheck, StepGauge, fence_steps, reversal_check, reversal_steps


def parallelogram(width_mm: float, height_mm: float, skew_deg: float) -> Polygon:
    lean = height_mm * math.sin(math.radians(skew_deg))
    rise = height_mm * math.cos(math.radians(skew_deg))
    return Polygon([(0, 0), (width_mm, 0), (width_mm + lean, rise), (lean, rise)])


def flush_near(lower: Polygon) -> tuple[float, Overhang]:
    """Turned over right to left, near edges flush, NR corners together: the step at the far end, to the right."""
    upper = affinity.scale(lower, xfact=-1.0, yfact=1.0)
    # NR of the lower one is its second corner; of the upper one, mirrored, it is the first.
    upper = affinity.translate(upper, *(lower.exterior.coords[1][i] - upper.exterior.coords[0][i] for i in (0, 1)))
    difference = lower.exterior.coords[2][0] - upper.exterior.coords[3][0]
    return abs(difference), Overhang.LOWER if difference > 0 else Overhang.UPPER


def flush_left(lower: Polygon) -> tuple[float, Overhang]:
    """Turned over far to near, left edges flush, FL corners together: the step at the right end, away from you."""
    upper = affinity.scale(lower, xfact=1.0, yfact=-1.0)
    # The left edge of the lower one leans; turn the upper one about FL until its left edge lies along it.
    low, high = lower.exterior.coords[0], lower.exterior.coords[3]
    upper = affinity.translate(upper, *(high[i] - upper.exterior.coords[0][i] for i in (0, 1)))
    lean = math.degrees(math.atan2(high[0] - low[0], high[1] - low[1]))
    upper = affinity.rotate(upper, -2.0 * lean, origin=high)
    assert math.isclose(upper.exterior.coords[3][0], low[0], abs_tol=1e-9)
    # Away from you is along the straight edge on the left.
    away = ((high[0] - low[0]), (high[1] - low[1]))
    size = math.hypot(*away)
    ends = [
        sum(point[i] * away[i] for i in (0, 1)) / size for point in (lower.exterior.coords[2], upper.exterior.coords[1])
    ]
    return abs(ends[0] - ends[1]), Overhang.LOWER if ends[0] > ends[1] else Overhang.UPPER


@pytest.mark.parametrize("skew_deg", [-2.0, -0.3, 0.1, 0.5, 3.0])
@pytest.mark.parametrize("size_mm", [(120.0, 80.0), (80.0, 120.0), (300.0, 300.0)])
def test_the_step_gives_the_skew_with_its_sign(skew_deg: float, size_mm: tuple[float, float]) -> None:
    coupon = Coupon(width_mm=size_mm[0], height_mm=size_mm[1])
    lower = parallelogram(*size_mm, skew_deg)
    words = " ".join(map(str, reversal_steps(coupon)))
    step_mm, overhang = flush_left(lower) if "left edges of both flush" in words else flush_near(lower)
    # The step is seen square to the straight edge, where the diverging edges have shortened by the cosine.
    length_mm = max(size_mm) * math.cos(math.radians(skew_deg))
    found = reversal_check(length_mm, step_mm, overhang, StepGauge.FEELER)
    assert found.skew_deg.value == pytest.approx(skew_deg, abs=1e-9)


def test_words_and_uncertainty() -> None:
    # 1.4 mm over 80 mm: atan(1.4 / 160) = 0.501 degrees; u = hypot(0.05 / sqrt 3, 0.03) / 160 = 0.0149 degrees
    found = reversal_check(80.0, 1.4, Overhang.UPPER, StepGauge.FEELER)
    assert found.proven
    assert found.skew_deg.u == pytest.approx(0.01491, abs=1e-4)
    assert str(found.text) == "Skew −0.50 ± 0.03°: corners NR and FL are acute."
    paper = reversal_check(80.0, 0.1, Overhang.LOWER, StepGauge.PAPER)
    assert not paper.proven
    assert str(paper.text).startswith("No skew is proven: it is less than 0.08°")
    assert isinstance(reversal_check(80.0, 0.0, Overhang.NONE, StepGauge.PAPER), ReversalCheck)


@pytest.mark.parametrize(
    ("length_mm", "step_mm", "overhang"),
    [
        (0.0, 0.1, Overhang.LOWER),
        (80.0, -0.1, Overhang.LOWER),
        (80.0, 50.0, Overhang.UPPER),
        (80.0, 0.2, Overhang.NONE),
    ],
)
def test_what_cannot_be_is_refused(length_mm: float, step_mm: float, overhang: Overhang) -> None:
    with pytest.raises(BadInputError):
        reversal_check(length_mm, step_mm, overhang, StepGauge.FEELER)


def drawn_along_a_fence(coupon: Coupon, skew_deg: float) -> tuple[float, Overhang]:
    """One coupon drawn along, turned over and drawn along again, by affine maps alone: gap, and the line outside."""
    wide = coupon.width_mm >= coupon.height_mm
    cut = parallelogram(coupon.width_mm, coupon.height_mm, skew_deg)
    over = affinity.scale(cut, xfact=1.0 if wide else -1.0, yfact=-1.0 if wide else 1.0)
    (nl, nr, fr, fl), turned = cut.exterior.coords[:4], over.exterior.coords[:4]
    if wide:  # the left edge lies along the fence both times; the far edge is drawn, then what was the near one
        first, second, fence = (fl, fr), (turned[0], turned[1]), ((nl, fl), (turned[3], turned[0]))
    else:  # the near edge along the fence; the right edge, then what was the left one
        first, second, fence = (nr, fr), (turned[0], turned[3]), ((nl, nr), (turned[1], turned[0]))
    directions = [direction(line) - direction(edge) for line, edge in zip((first, second), fence, strict=True)]
    length = max(coupon.width_mm, coupon.height_mm)
    # Angles from the fence, counted so that the line farther out (away, or to the right) is the larger.
    out = [angle if wide else -angle for angle in directions]
    gap = length * abs(math.tan((out[0] - out[1]) / 2.0)) * 2.0
    return gap, Overhang.LOWER if out[0] > out[1] else Overhang.UPPER


def direction(line: tuple[tuple[float, float], tuple[float, float]]) -> float:
    (x, y), (to_x, to_y) = line
    return math.atan2(to_y - y, to_x - x)


@pytest.mark.parametrize("skew_deg", [-2.0, -0.3, 0.1, 0.5, 3.0])
@pytest.mark.parametrize("size_mm", [(120.0, 80.0), (80.0, 120.0)])
def test_two_lines_along_a_fence_give_the_skew_with_its_sign(skew_deg: float, size_mm: tuple[float, float]) -> None:
    coupon = Coupon(width_mm=size_mm[0], height_mm=size_mm[1])
    words = " ".join(map(str, fence_steps(coupon)))
    assert ("left edge against the fence" in words) is (size_mm[0] > size_mm[1])
    gap_mm, outside = drawn_along_a_fence(coupon, skew_deg)
    found = reversal_check(max(size_mm), gap_mm, outside, StepGauge.LINES)
    assert found.skew_deg.value == pytest.approx(skew_deg, rel=1e-9)
    assert found.skew_deg.u > reversal_check(max(size_mm), gap_mm, outside, StepGauge.PAPER).skew_deg.u
