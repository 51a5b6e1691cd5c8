"""Drift: what a machine's coupons show in their order, skew or size, control limits, and when to look again.

Stage: history. Input: values since the last correction or event, with their uncertainty and when they were cut.
Output: EWMA chart values, drift with its significance, and a sentence. Source: NIST/SEMATECH e-Handbook of Statistical
Methods, 6.3.2.4 (EWMA control charts); weighted straight line as in ISO/TS 28037:2010, clause 6.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

from core.metrology import Estimate
from core.numeric import FloatArray, np
from core.said import Angle, Number, Part, Said, Series, paragraph, said

EWMA_WEIGHT = 0.3
LIMIT_SDS = 3.0
BASELINE_COUPONS = 3
FEWEST_FOR_DRIFT = 4


class HistoryPoint(Struct, frozen=True, kw_only=True):
    """One coupon of a machine: `at` in days; the value in degrees or per cent."""

    at: float
    value: Estimate


class ChartPoint(Struct, frozen=True, kw_only=True):
    """One point of the chart: the moving average and its control limits at this point, in the unit of the values."""

    at: float
    average: float
    lower: float
    upper: float

    @property
    def outside(self) -> bool:
        """Whether the moving average has left the control limits."""
        return not self.lower <= self.average <= self.upper


class Drift(Struct, frozen=True, kw_only=True):
    """What the history says. `slope` is per day (None below four coupons).

    `leaves_at` is the day when the value is expected to leave the limits, only where the evidence supports one;
    `check_at` the day to look again, None where there is no evidence to set one by. `short` is `text` without what is
    read from the chart beside it.
    """

    chart: tuple[ChartPoint, ...]
    slope: Estimate | None
    proven: bool
    leaves_at: float | None
    check_at: float | None
    text: Part
    short: Part


def ewma(values: Sequence[float], start: float, weight: float = EWMA_WEIGHT) -> list[float]:
    """Exponentially weighted moving average, beginning from `start`."""
    averages = []
    average = start
    for value in values:
        average = weight * value + (1.0 - weight) * average
        averages.append(average)
    return averages


def ewma_limits(target: float, sds: Sequence[float], weight: float = EWMA_WEIGHT) -> list[tuple[float, float]]:
    """Control limits at every point for values with these standard deviations.

    With equal ones they tend to the handbook's `target ± 3 s sqrt(weight / (2 - weight))`.
    """
    limits = []
    variance = 0.0
    for sd in sds:
        variance = weight**2 * sd**2 + (1.0 - weight) ** 2 * variance
        half = LIMIT_SDS * math.sqrt(variance)
        limits.append((target - half, target + half))
    return limits


def weighted_line(at: FloatArray, values: FloatArray, sds: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Straight line through points of known sd: (intercept, slope), covariance (2, 2), chi-square."""
    J = np.column_stack([np.ones_like(at), at]) / sds[:, np.newaxis]
    C: FloatArray = np.asarray(np.linalg.inv(J.T @ J), dtype=np.float64)
    solution = C @ (J.T @ (values / sds))
    return solution, C, float(np.sum((J @ solution - values / sds) ** 2))


def drift_of(points: Sequence[HistoryPoint], limit: float | None, per_cent: bool = False) -> Drift:
    """What the points since the last correction or event say; `limit` is what would be no-go, None without one.

    The values are degrees, or `per_cent`.
    """
    if not points:
        return _untold((), said("No coupon yet: cut one."))
    chart = _chart(points)
    if len(points) < FEWEST_FOR_DRIFT:
        return _untold(
            chart,
            said(
                "{coupons} of {needed} coupons needed before drift can be told: check before what matters.",
                coupons=len(points),
                needed=FEWEST_FOR_DRIFT,
            ),
        )
    at, values, sds = (np.array(column) for column in zip(*_columns(points), strict=True))
    last = float(at[-1])
    observed = last - float(at[0])
    if observed <= 0.0:
        return _untold(chart, said("All coupons were cut at the same time: cut the next one later."))
    line, C, chi_square = weighted_line(at - last, values, sds)
    # Coupons that scatter more than they are measured: the surplus widens the slope's uncertainty (Birge ratio).
    birge = max(1.0, math.sqrt(chi_square / (len(points) - 2)))
    now = Estimate(value=float(line[0]), u=birge * math.sqrt(float(C[0, 0])))
    slope = Estimate(value=float(line[1]), u=birge * math.sqrt(float(C[1, 1])))
    proven = abs(slope.value) > slope.U95
    leaves_at = check_at = None
    if limit is not None:
        leaves_at = _leaves_at(now, slope, limit, last, observed) if proven else None
        check_at = _check_at(now, slope, limit, last, observed)
    return Drift(
        chart=chart,
        slope=slope,
        proven=proven,
        leaves_at=leaves_at,
        check_at=check_at,
        text=_text(chart, slope, proven, per_cent),
        short=_short(chart, slope, proven, per_cent),
    )


def _untold(chart: tuple[ChartPoint, ...], text: Said) -> Drift:
    return Drift(chart=chart, slope=None, proven=False, leaves_at=None, check_at=None, text=text, short=text)


def _columns(points: Sequence[HistoryPoint]) -> list[tuple[float, float, float]]:
    return [(point.at, point.value.value, point.value.u) for point in points]


def _chart(points: Sequence[HistoryPoint]) -> tuple[ChartPoint, ...]:
    """Moving averages around the mean of the first coupons, with limits that allow for that mean's own u."""
    first = points[:BASELINE_COUPONS]
    weights = [1.0 / point.value.u**2 for point in first]
    target = sum(w * point.value.value for w, point in zip(weights, first, strict=True)) / sum(weights)
    target_sd = 1.0 / math.sqrt(sum(weights))
    averages = ewma([point.value.value for point in points], target)
    limits = ewma_limits(target, [point.value.u for point in points])
    chart = []
    for point, average, (lower, upper) in zip(points, averages, limits, strict=True):
        half = math.hypot((upper - lower) / 2.0, LIMIT_SDS * target_sd)
        chart.append(ChartPoint(at=point.at, average=average, lower=target - half, upper=target + half))
    return tuple(chart)


def _leaves_at(now: Estimate, slope: Estimate, limit: float, last: float, observed: float) -> float | None:
    """When the line reaches the limit it is heading for; None when that lies farther off than was observed."""
    heading_for = math.copysign(limit, slope.value)
    wait = max(0.0, (heading_for - now.value) / slope.value)
    return last + wait if wait <= observed else None


def _check_at(now: Estimate, slope: Estimate, limit: float, last: float, observed: float) -> float:
    """Before the fastest drift the evidence allows could reach a limit, and never farther off than was observed."""
    fastest = abs(slope.value) + slope.U95
    left = limit - abs(now.value) - now.U95
    return last + min(max(0.0, left / fastest), observed)


def _text(chart: Sequence[ChartPoint], slope: Estimate, proven: bool, per_cent: bool) -> Series:
    told = []
    if chart[-1].outside:
        told.append(said("The moving average has left its control limits: the machine is no longer what it was."))
    if proven:
        told.append(
            said(
                "It drifts by {slope} per day ({sds} standard uncertainties).",
                slope=_amount(slope.value, slope.U95, per_cent),
                sds=Number(abs(slope.value) / slope.u, 1),
            )
        )
    else:
        bound = _amount(abs(slope.value) + slope.U95, None, per_cent)
        told.append(said("No drift is proven: less than {bound} per day.", bound=bound))
    return paragraph(*told)


def _short(chart: Sequence[ChartPoint], slope: Estimate, proven: bool, per_cent: bool) -> Said:
    if proven:
        return said("Drift {slope} per day.", slope=_amount(slope.value, slope.U95, per_cent))
    return said("It is no longer what it was.") if chart[-1].outside else said("No drift is proven.")


def _amount(value: float, U95: float | None, per_cent: bool) -> Part:
    """A slope that is given with its U has a sign."""
    if not per_cent:
        return Angle(value, 4, u_deg=U95, signed=U95 is not None)
    if U95 is None:
        return Number(value, 4, sign="%")
    return said("{value} ± {u}", value=Number(value, 4, signed=True), u=Number(U95, 4, sign="%"))
