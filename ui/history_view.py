"""What the history screen says of a machine: its coupons as rows, and a chart of their skew.

Stage: screen. Input: Snapshot. Output: frozen values; chart points from 0 to 1 across and in degrees up. No widget.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from core.machine.history import MarkKind
from core.metrology.verdict import Verdict
from core.records.session_tables import SessionSummary
from ui.measure_view import SHAPE_OF
from ui.records_view import HistoryView
from ui.snapshot import Snapshot
from ui.theme import Shape
from ui.wording import signed


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionRow:
    """One coupon of the list."""

    session: str
    shape: Shape
    time: str
    skew: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """A coupon's skew with its U, at a place from 0 (oldest) to 1 (newest)."""

    place: float
    skew_deg: float
    u95_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """`marks` are (place, kind): corrections and upsets; `limit_deg` the skew that is no-go, None without one."""

    points: tuple[ChartPoint, ...] = ()
    marks: tuple[tuple[float, MarkKind], ...] = ()
    limit_deg: float | None = None


def session_rows(snapshot: Snapshot) -> tuple[SessionRow, ...]:
    """The coupons of the machine, newest first."""
    history = snapshot.records.history
    return tuple(_row(summary) for summary in history.sessions) if history else ()


def _row(summary: SessionSummary) -> SessionRow:
    skew = "not closed" if not summary.closed else "nothing judged"
    if summary.skew_deg is not None and summary.skew_u95_deg is not None:
        skew = f"{signed(summary.skew_deg, 2)} ± {summary.skew_u95_deg:.2f}°"
    return SessionRow(
        session=summary.id,
        shape=SHAPE_OF[Verdict(summary.verdict)] if summary.verdict else Shape.RING,
        time=f"{summary.opened_utc:%Y-%m-%d %H:%M}" if summary.opened_utc else "time not set",
        skew=skew,
    )


def history_text(snapshot: Snapshot) -> str:
    """What it all says, in words."""
    view = snapshot.records.history
    if view is None:
        machine = snapshot.machines.current
        return "Looking it up." if machine else "No machine is described yet, so it has no history."
    if view.history is None:
        return "No coupon is closed yet: nothing can be said of drift."
    return " ".join(text for text in (view.history.check_now, view.history.drift.text) if text)


def chart_of(view: HistoryView | None) -> Chart:
    """The skew of every dated coupon, and what was done in between."""
    if view is None:
        return Chart()
    # Told apart by hand, so that the type is known: only dated coupons with a skew stand on the chart.
    dated = [
        (one.opened_utc, one.skew_deg, one.skew_u95_deg)
        for one in view.sessions
        if one.opened_utc is not None and one.skew_deg is not None and one.skew_u95_deg is not None
    ]
    marks = [(mark.time_utc, mark.kind) for mark in view.history.marks] if view.history else []
    times = [time for time, *_ in dated] + [time for time, _kind in marks]
    if not times:
        return Chart()
    first, span_s = min(times), (max(times) - min(times)).total_seconds()

    def place(time: datetime) -> float:
        return (time - first).total_seconds() / span_s if span_s else 0.5

    return Chart(
        points=tuple(ChartPoint(place=place(t), skew_deg=skew, u95_deg=u95) for t, skew, u95 in reversed(dated)),
        marks=tuple((place(time), kind) for time, kind in marks),
        limit_deg=view.limit_deg,
    )
