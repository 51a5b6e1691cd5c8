"""What the snapshot says of the records: the machine's history, one session looked at, what the last one proves."""

from __future__ import annotations

from dataclasses import dataclass

from core.geometry.features import Feature
from core.machine.before_after import BeforeAfter
from core.machine.history import ClosedCoupon, MachineHistory, machine_history
from core.metrology.adjustment import EXPANSION_FACTOR, Estimate
from core.metrology.live import live_limit
from core.metrology.verdict import Verdict
from core.records.archive import Archive
from core.records.session import Session
from core.records.session_record import SessionRecord
from core.records.session_tables import SessionSummary

# Years of daily coupons; what is older is in the archive, and on no chart that can be read.
SHOWN_SESSIONS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryView:
    """The newest sessions of one machine, newest first, and what they say of it; `limit_deg` is the skew that is no-go.

    `history` is None before the first coupon was closed, or where its limits say nothing of squareness.
    """

    machine: str
    sessions: tuple[SessionSummary, ...]
    history: MachineHistory | None
    limit_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsView:
    """`comparison` holds the session closed last against the one before it or before the correction; `record` is the
    session that the person looks at. Each is None until it was asked for."""

    history: HistoryView | None = None
    record: SessionRecord | None = None
    comparison: BeforeAfter | None = None


def history_view(archive: Archive, machine: str) -> HistoryView:
    """Look a machine's history up; run in the archive's thread."""
    sessions = archive.sessions(machine=machine, limit=SHOWN_SESSIONS)
    closed = [one for one in sessions if one.closed]
    if not closed:
        return HistoryView(machine=machine, sessions=sessions, history=None, limit_deg=None)
    newest = Session.from_events(archive.events(closed[0].id)).opened
    limit_deg = live_limit(newest.coupon, newest.limits, Feature.NL)
    if limit_deg is None:
        return HistoryView(machine=machine, sessions=sessions, history=None, limit_deg=None)
    coupons = [coupon for one in closed if (coupon := _coupon(one)) is not None]
    history = machine_history(coupons, archive.machine_events(machine), limit_deg)
    return HistoryView(machine=machine, sessions=sessions, history=history, limit_deg=limit_deg)


def _coupon(summary: SessionSummary) -> ClosedCoupon | None:
    """A closed session as a point of the history; None for one whose time or skew cannot be told."""
    if summary.opened_utc is None or summary.skew_deg is None or summary.skew_u95_deg is None:
        return None
    if summary.verdict == Verdict.INCONSISTENT:
        return None
    skew_deg = Estimate(value=summary.skew_deg, u=summary.skew_u95_deg / EXPANSION_FACTOR)
    return ClosedCoupon(session=summary.id, time_utc=summary.opened_utc, skew_deg=skew_deg)
