"""The history of one machine: its coupons in order, what was done in between, and when to check next.

Stage: history. Input: skews of closed sessions and the machine log. Output: marks for the chart, drift since the last
upset, and whether a check is due at once. A correction, or a crash, move, belt or tool change begins a new stretch:
what the machine did before says nothing of what it does after.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from core.machine.drift import Drift, HistoryPoint, drift_of
from core.machine.machine_log import CorrectionApplied, LogEntry, MachineEvent
from core.machine.square_reference import DROPPING_WORDS
from core.metrology.adjustment import Estimate

_SECONDS_PER_DAY = 86400.0


class MarkKind(StrEnum):
    """What is marked on the chart."""

    CORRECTION = "correction"
    UPSET = "upset"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedCoupon:
    """A closed session: its id, when it was measured, and its skew."""

    session: str
    time_utc: datetime
    skew_deg: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartMark:
    """Something done to the machine, at a time, in words."""

    time_utc: datetime
    kind: MarkKind
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineHistory:
    """`since` are the coupons since the last mark, `drift` what they say; `at` counts days from the first of them.

    `check_now` is why a check is due at once, empty when none is.
    """

    marks: tuple[ChartMark, ...]
    since: tuple[ClosedCoupon, ...]
    drift: Drift
    check_now: str


def machine_history(coupons: Iterable[ClosedCoupon], entries: Iterable[LogEntry], limit_deg: float) -> MachineHistory:
    """Fold coupons and log together by time; entries made while the clock was not set cannot be placed and are left."""
    marks = tuple(mark for entry in entries if (mark := _mark(entry)) is not None)
    ordered = sorted(coupons, key=lambda coupon: coupon.time_utc)
    last_mark = max(marks, key=lambda mark: mark.time_utc, default=None)
    since = tuple(c for c in ordered if last_mark is None or c.time_utc > last_mark.time_utc)
    return MachineHistory(
        marks=marks,
        since=since,
        drift=drift_of(_points(since), limit_deg),
        check_now=_check_now(last_mark, since),
    )


def _points(coupons: Sequence[ClosedCoupon]) -> list[HistoryPoint]:
    return [
        HistoryPoint(
            at=(coupon.time_utc - coupons[0].time_utc).total_seconds() / _SECONDS_PER_DAY, skew_deg=coupon.skew_deg
        )
        for coupon in coupons
    ]


def _mark(entry: LogEntry) -> ChartMark | None:
    if entry.time_utc is None:
        return None
    match entry.payload:
        case CorrectionApplied(made_mm=made_mm, coarse=coarse):
            text = f"coarse reset ({coarse})" if coarse else f"corrected by {made_mm or 0.0:.2f} mm"
            return ChartMark(time_utc=entry.time_utc, kind=MarkKind.CORRECTION, text=text)
        case MachineEvent(kind=kind, note=note):
            text = DROPPING_WORDS[kind] + (f": {note}" if note else "")
            return ChartMark(time_utc=entry.time_utc, kind=MarkKind.UPSET, text=text)
        case _:
            return None


def _check_now(last_mark: ChartMark | None, since: Sequence[ClosedCoupon]) -> str:
    if last_mark is None or since:
        return ""
    what = "was upset" if last_mark.kind is MarkKind.UPSET else "was set"
    return f"Cut and measure a coupon now: the machine {what} ({last_mark.text}) and not checked since."
