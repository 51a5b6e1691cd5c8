"""A machine's skew over time as a drawing: every coupon with its U, the limits, what was done to the machine.

Input: a machine's history and the limit of its newest coupon. Output: a Chart, points in the units of its picture,
origin at the upper left.
"""

from collections.abc import Mapping
from datetime import datetime

from msgspec import Struct

from core.machine import ClosedCoupon, MachineHistory
from core.records.outline import MOST_LIMITS
from core.said import Angle, Name, Part, Time, said

WIDTH, HEIGHT = 960.0, 300.0
_LEFT, _FLOOR, _TOP = 92.0, 268.0, 10.0
_LEAST_REACH_DEG = 0.1


class Level(Struct, frozen=True, kw_only=True):
    """A limit: where it runs, and its value in words."""

    y: float
    text: Part


class Mark(Struct, frozen=True, kw_only=True):
    """Something done to the machine: `kind` is the class of its line."""

    x: float
    kind: str
    text: Part


class Point(Struct, frozen=True, kw_only=True):
    """One coupon: its value at `y`, its U from `top` to `bottom`, its verdict, the day it was measured (ISO 8601)."""

    x: float
    y: float
    top: float
    bottom: float
    kind: str
    day: str
    text: Part


class Day(Struct, frozen=True, kw_only=True):
    """A date below the chart; `anchor` says which part of it stands at `x`."""

    x: float
    anchor: str
    text: Part


class Chart(Struct, frozen=True, kw_only=True):
    """The drawing of one machine."""

    name: Part
    limits: tuple[Level, ...]
    marks: tuple[Mark, ...]
    points: tuple[Point, ...]
    days: tuple[Day, ...]
    zero: float
    width: float = WIDTH
    height: float = HEIGHT
    left: float = _LEFT
    floor: float = _FLOOR


class _Scales(Struct, frozen=True, kw_only=True):
    """From times and degrees to the picture."""

    first: datetime
    seconds: float
    reach_deg: float

    def x(self, at: datetime) -> float:
        share = (at - self.first).total_seconds() / self.seconds if self.seconds else 0.5
        return round(_LEFT + 12.0 + share * (WIDTH - _LEFT - 24.0), 1)

    def y(self, deg: float) -> float:
        held = max(-self.reach_deg, min(self.reach_deg, deg))
        return round((_TOP + _FLOOR) / 2.0 - held / self.reach_deg * (_FLOOR - _TOP) / 2.0, 1)


def skew_chart(history: MachineHistory, limit_deg: float | None, verdicts: Mapping[str, str]) -> Chart | None:
    """The chart of a machine, None before its first coupon; `verdicts` are those of its sessions by id."""
    if not history.coupons:
        return None
    scales = _scales(history, limit_deg)
    first, last = history.coupons[0].time_utc, history.coupons[-1].time_utc
    days = [Day(x=scales.x(first), anchor="start", text=Time(first, clock=False))]
    if last.date() != first.date():
        days.append(Day(x=scales.x(last), anchor="end", text=Time(last, clock=False)))
    limits = () if limit_deg is None else (limit_deg, -limit_deg)
    return Chart(
        name=said("Skew of each coupon over time"),
        limits=tuple(Level(y=scales.y(deg), text=Angle(deg, signed=True)) for deg in limits),
        marks=tuple(
            Mark(x=scales.x(mark.time_utc), kind=mark.kind.value, text=mark.text)
            for mark in history.marks
            if first <= mark.time_utc <= last
        ),
        points=tuple(_point(coupon, scales, verdicts.get(coupon.session, "none")) for coupon in history.coupons),
        days=tuple(days),
        zero=scales.y(0.0),
    )


def _scales(history: MachineHistory, limit_deg: float | None) -> _Scales:
    coupons = history.coupons
    seconds = (coupons[-1].time_utc - coupons[0].time_utc).total_seconds()
    farthest = max(abs(coupon.skew_deg.value) + coupon.skew_deg.U95 for coupon in coupons)
    # A limit is as long on every chart; what is farther out than they reach stands at the edge.
    reach = max(farthest, _LEAST_REACH_DEG) if limit_deg is None else MOST_LIMITS * limit_deg
    return _Scales(first=coupons[0].time_utc, seconds=seconds, reach_deg=reach)


def _point(coupon: ClosedCoupon, scales: _Scales, kind: str) -> Point:
    skew = coupon.skew_deg
    text = said("{time}: skew {skew}", time=Time(coupon.time_utc), skew=Angle(skew.value, u_deg=skew.U95))
    return Point(
        x=scales.x(coupon.time_utc),
        y=scales.y(skew.value),
        top=scales.y(skew.value + skew.U95),
        bottom=scales.y(skew.value - skew.U95),
        kind=kind,
        day=f"{coupon.time_utc:%Y-%m-%d}",
        text=said("{what}, at {bench}", what=text, bench=Name(coupon.bench)) if coupon.bench else text,
    )
