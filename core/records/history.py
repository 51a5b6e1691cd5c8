"""A machine's history out of the archive: its sessions, what they say of it, and when to check it next."""

from collections.abc import Mapping
from datetime import datetime

from msgspec import Struct, field

from core.geometry import Feature
from core.machine import ClosedCoupon, MachineHistory, NoGo, machine_history
from core.metrology import Estimate, Verdict, live_limit
from core.records.archive import Archive
from core.records.events import Opened
from core.records.session_tables import ALL_SESSIONS, SessionFilter, SessionSummary
from core.said import NOTHING, Part

# Years of daily coupons; what is older is in the archive, and on no chart that can be read.
SHOWN_SESSIONS = 1000
# A size less sure than this was not measured: it is known by the other readings alone.
SURE_SIZE_PERCENT = 1.0


class History(Struct, frozen=True, kw_only=True):
    """The newest sessions of one machine, newest first, as far as `only` lets them through; and what all of its newest
    coupons say of it, whatever `only` says.

    `no_go` are the limits of the newest closed coupon; `history` is None before the first coupon was closed; `orders`
    are the names or orders of the sessions that have one, `benches` who measured those that other benches measured.
    """

    machine: str
    only: SessionFilter
    sessions: tuple[SessionSummary, ...]
    history: MachineHistory | None
    no_go: NoGo
    orders: Mapping[str, str] = field(default_factory=dict)
    benches: Mapping[str, str] = field(default_factory=dict)

    @property
    def newest_utc(self) -> datetime | None:
        """When the newest coupon that the history knows was measured."""
        return self.history.coupons[-1].time_utc if self.history and self.history.coupons else None


class Due(Struct, frozen=True, kw_only=True):
    """When a machine is to be checked next, in a sentence; empty where no coupon of it is closed."""

    machine: str
    text: Part


def history_of(archive: Archive, machine: str, only: SessionFilter = ALL_SESSIONS) -> History:
    """Look a machine's history up; run in the archive's thread."""
    newest = archive.sessions(machine=machine, limit=SHOWN_SESSIONS)
    listed = newest if only == ALL_SESSIONS else archive.sessions(machine=machine, only=only, limit=SHOWN_SESSIONS)
    orders = archive.orders([one.id for one in listed])
    benches = archive.shop.measured_at([one.id for one in (*newest, *listed)])
    closed = [one for one in newest if one.closed]
    if not closed:
        return History(
            machine=machine, only=only, sessions=listed, history=None, no_go=NoGo(), orders=orders, benches=benches
        )
    openings = (archive.opened(one.id) for one in closed)
    no_go = next((_no_go(opened) for opened in openings if opened is not None), NoGo())
    coupons = [coupon for one in closed if (coupon := _coupon(one, benches.get(one.id, ""))) is not None]
    log = archive.machine_events(machine)
    history = machine_history(coupons, log, no_go, archive.shop.shared_logs(machine), archive.begun)
    return History(
        machine=machine, only=only, sessions=listed, history=history, no_go=no_go, orders=orders, benches=benches
    )


def due_of(archive: Archive, machine: str) -> Due:
    """Look up when a machine is to be checked next; run in the archive's thread."""
    history = history_of(archive, machine).history
    return Due(machine=machine, text=history.check_next if history else NOTHING)


def _no_go(opened: Opened) -> NoGo:
    """The limits of a coupon as a skew, and as a share of its sides."""
    coupon, limits = opened.coupon, opened.limits
    sides = ((limits.width_edge_mm, coupon.width_mm), (limits.height_edge_mm, coupon.height_mm))
    size_x, size_y = (None if limit_mm is None else 100.0 * limit_mm / side_mm for limit_mm, side_mm in sides)
    return NoGo(skew_deg=live_limit(coupon, limits, Feature.NL), size_x_percent=size_x, size_y_percent=size_y)


def _coupon(summary: SessionSummary, bench: str) -> ClosedCoupon | None:
    """A closed session as a point of the history; None for one whose time or skew cannot be told."""
    if summary.opened_utc is None or summary.skew_deg is None or summary.skew_u95_deg is None:
        return None
    if summary.verdict == Verdict.INCONSISTENT:
        return None
    return ClosedCoupon(
        session=summary.id,
        time_utc=summary.opened_utc,
        skew_deg=Estimate.from_expanded(summary.skew_deg, summary.skew_u95_deg),
        size_x_percent=_size(summary.scale_x, summary.scale_x_u95),
        size_y_percent=_size(summary.scale_y, summary.scale_y_u95),
        software=summary.software,
        bench=bench,
    )


def _size(scale: float | None, u95: float | None) -> Estimate | None:
    if scale is None or u95 is None or 100.0 * u95 > SURE_SIZE_PERCENT:
        return None
    return Estimate.from_expanded(100.0 * scale, 100.0 * u95)
