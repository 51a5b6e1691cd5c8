"""What the history screen says of a machine: its coupons as rows, and a chart of their skew.

Stage: screen. Input: Snapshot. Output: frozen values; chart points from 0 to 1 across and in degrees up. No widget.
"""

from datetime import datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from core.machine import MarkKind, Trended
from core.metrology import Verdict
from core.records import History, SessionFilter, SessionSummary
from core.said import NOTHING, Angle, Name, Part, Series, Time, lines, paragraph, said
from ui.pages.theme import SHAPE_OF, Shape
from ui.state import Snapshot

TRENDED_WORDS = (
    (Trended.SKEW, said("Skew")),
    (Trended.SIZE_X, said("Size X")),
    (Trended.SIZE_Y, said("Size Y")),
)
ANY = "any"
VERDICT_CHOICES = (
    (ANY, said("Any")),
    (Verdict.GO, said("Go")),
    (Verdict.NO_GO, said("No-go")),
    (Verdict.UNDECIDED, said("Undecided")),
)
ONLY_WORDS = {
    Verdict.GO: said("go only"),
    Verdict.NO_GO: said("no-go only"),
    Verdict.UNDECIDED: said("undecided only"),
    Verdict.INCONSISTENT: said("inconsistent only"),
}
CORRECTED = "corrected"
# Of a name or order in the list, on the narrowest panel.
LETTERS_IN_ROW = 18
CORRECTED_CHOICES = ((ANY, said("All coupons")), (CORRECTED, said("Corrected from")))
RECENT_DAYS = {30: said("30 days"), 365: said("1 year")}


class SessionRow(Struct, frozen=True, kw_only=True):
    """One coupon of the list; `title` is when it was measured, below its name or order where it has one, or the bench
    where another one measured it."""

    session: str
    shape: Shape
    title: Part
    skew: Part


class TrendPoint(Struct, frozen=True, kw_only=True):
    """A coupon's value with its U, at a place from 0 (oldest) to 1 (newest); `elsewhere` where another bench measured
    it."""

    place: float
    value: float
    u95: float
    elsewhere: bool = False


class ControlPoint(Struct, frozen=True, kw_only=True):
    """The moving average and its control limits, at a place."""

    place: float
    average: float
    lower: float
    upper: float


class Chart(Struct, frozen=True, kw_only=True):
    """What one value did. `marks` are (place, kind): corrections and upsets; `control` begins anew after each;
    `limit` is what is no-go, None without one; values in degrees or per cent, as `sign` says."""

    points: tuple[TrendPoint, ...] = ()
    control: tuple[ControlPoint, ...] = ()
    marks: tuple[tuple[float, MarkKind], ...] = ()
    limit: float | None = None
    sign: str = "°"


def session_rows(snapshot: Snapshot) -> tuple[SessionRow, ...]:
    """The coupons of the machine, newest first."""
    history = snapshot.records.history
    if history is None:
        return ()
    orders, benches = history.orders, history.benches
    return tuple(_row(one, orders.get(one.id, ""), benches.get(one.id, "")) for one in history.sessions)


def _row(summary: SessionSummary, order: str, bench: str) -> SessionRow:
    first: Part = Name(_shortened(order)) if order else NOTHING
    if bench:
        first = said("at {bench}", bench=Name(_shortened(bench)))
    skew: Part = said("nothing judged") if summary.closed else said("not closed")
    if summary.skew_deg is not None and summary.skew_u95_deg is not None:
        skew = Angle(summary.skew_deg, u_deg=summary.skew_u95_deg, signed=True)
    return SessionRow(
        session=summary.id,
        shape=SHAPE_OF[summary.lamp] if summary.lamp else Shape.RING,
        title=lines(first, Time(summary.opened_utc)),
        skew=skew,
    )


def _shortened(order: str) -> str:
    return order if len(order) <= LETTERS_IN_ROW else f"{order[: LETTERS_IN_ROW - 1]}…"


def history_text(snapshot: Snapshot, trended: Trended = Trended.SKEW) -> Part:
    """What it all says, in words: when to check next first."""
    found = snapshot.records.history
    if found is None:
        return said("Looking it up.")
    if found.history is None:
        return said("No coupon is closed yet: nothing can be said of drift.")
    told, check = found.history.in_short(trended), found.history.check_next
    benches = found.history.other_benches
    rings = said("Rings: from {benches}.", benches=benches) if benches else NOTHING
    by = paragraph(rings, found.history.worked_out_by)
    return paragraph(told, by) if check == told else paragraph(check, told, by)


def since_choices(found: History | None) -> tuple[tuple[str, Part], ...]:
    """Times to list from, as (name, words): names are read by `with_since`."""
    set_then = bool(found and found.history and found.history.marks)
    days = tuple((str(days), words) for days, words in RECENT_DAYS.items())
    return ((ANY, said("Ever")), *days, *((("set", said("Since set")),) if set_then else ()))


def with_since(only: SessionFilter, name: str, found: History) -> SessionFilter:
    """The filter with another time to list from, counted back from the newest coupon."""
    newest = found.newest_utc
    if name == "set" and found.history is not None and found.history.marks:
        return replace(only, since_utc=max(mark.time_utc for mark in found.history.marks))
    if name == ANY or newest is None:
        return replace(only, since_utc=None)
    return replace(only, since_utc=newest - timedelta(days=int(name)))


def filter_text(only: SessionFilter) -> Part:
    """What is listed, in words; empty for everything."""
    parts = (
        ONLY_WORDS[Verdict(only.verdict)] if only.verdict else NOTHING,
        said("corrected from") if only.corrected else NOTHING,
        said("since {time}", time=Time(only.since_utc, clock=False)) if only.since_utc else NOTHING,
    )
    return Series(tuple(part for part in parts if part), joint=", ")


def chart_of(found: History | None, trended: Trended = Trended.SKEW) -> Chart:
    """One value of every dated coupon since the time that is listed from, and what was done in between."""
    if found is None or found.history is None:
        return Chart()
    history, since = found.history, found.only.since_utc

    def shown(time: datetime) -> bool:
        return since is None or time >= since

    dated = [
        (c.time_utc, value, bool(c.bench)) for c in history.coupons if (value := c.value(trended)) and shown(c.time_utc)
    ]
    marks = [(mark.time_utc, mark.kind) for mark in history.marks if shown(mark.time_utc)]
    control = [(time, point) for time, point in history.chart(trended) if shown(time)]
    times = [*(time for time, _, _ in dated), *(time for time, _ in marks)]
    if not times:
        return Chart()
    first, span_s = min(times), (max(times) - min(times)).total_seconds()

    def place(time: datetime) -> float:
        return (time - first).total_seconds() / span_s if span_s else 0.5

    return Chart(
        points=tuple(
            TrendPoint(place=place(t), value=value.value, u95=value.U95, elsewhere=elsewhere)
            for t, value, elsewhere in dated
        ),
        control=tuple(
            ControlPoint(place=place(t), average=p.average, lower=p.lower, upper=p.upper) for t, p in control
        ),
        marks=tuple((place(time), kind) for time, kind in marks),
        limit=found.no_go.limit(trended),
        sign="°" if trended is Trended.SKEW else "%",
    )
