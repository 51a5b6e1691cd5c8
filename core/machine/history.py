"""The history of one machine: its coupons in order, what was done in between, and when to check next.

Stage: history. Input: skews and sizes of closed sessions and the machine log. Output: marks for the chart, drift since
the last upset, and when a check is due, at once or on which day. A correction, or a crash, move, belt or tool change
begins a new stretch: what the machine did before says nothing of what it does after.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Self, TypeVar

from msgspec import Struct

from core import SOFTWARE
from core.machine.drift import ChartPoint, Drift, HistoryPoint, drift_of
from core.machine.log_words import entry_words
from core.machine.machine_log import CorrectionApplied, CorrectionBegun, LogEntry, MachineEvent
from core.machine.one_history import in_one_order
from core.metrology import Estimate
from core.said import NOTHING, Name, Part, Said, Series, Time, paragraph, said

_DAY = timedelta(days=1)
_NEVER = datetime.min.replace(tzinfo=UTC)
Value = TypeVar("Value")


class Trended(StrEnum):
    """What is followed over a machine's coupons: the skew in degrees, how much too long they are in per cent."""

    SKEW = "skew"
    SIZE_X = "size-x"
    SIZE_Y = "size-y"

    def of(self, skew: Value, size_x: Value, size_y: Value) -> Value:
        """The one of three values that this stands for."""
        return {Trended.SKEW: skew, Trended.SIZE_X: size_x, Trended.SIZE_Y: size_y}[self]


class MarkKind(StrEnum):
    """What is marked on the chart."""

    CORRECTION = "correction"
    UPSET = "upset"


class ClosedCoupon(Struct, frozen=True, kw_only=True):
    """A closed session: its id, when it was measured, its skew, and how much too long it is (None: not measured).

    `software` is the version that worked them out; `bench` the other bench that measured it, empty for this one.
    """

    session: str
    time_utc: datetime
    skew_deg: Estimate
    size_x_percent: Estimate | None = None
    size_y_percent: Estimate | None = None
    software: str = ""
    bench: str = ""

    def value(self, trended: Trended) -> Estimate | None:
        """The value that is followed."""
        return trended.of(self.skew_deg, self.size_x_percent, self.size_y_percent)


class NoGo(Struct, frozen=True, kw_only=True):
    """What would be no-go of each value that is followed; None where no limit is set."""

    skew_deg: float | None = None
    size_x_percent: float | None = None
    size_y_percent: float | None = None

    def limit(self, trended: Trended) -> float | None:
        """The limit of one value, plus or minus."""
        return trended.of(self.skew_deg, self.size_x_percent, self.size_y_percent)


class ChartMark(Struct, frozen=True, kw_only=True):
    """Something done to the machine, at a time, in words; `bench` is the other bench that logged it, empty for this
    one. `after` is the session known to have been begun before it, empty where none is."""

    time_utc: datetime
    kind: MarkKind
    text: Said
    bench: str = ""
    after: str = ""


class MachineHistory(Struct, frozen=True, kw_only=True):
    """`since` are the coupons since the last mark; `drifts` what they say of each value, days counted from the first.

    `check_now` is why a check is due at once, nothing when none is; `check_next` when to check, in any case a sentence.
    """

    coupons: tuple[ClosedCoupon, ...]
    marks: tuple[ChartMark, ...]
    since: tuple[ClosedCoupon, ...]
    drifts: dict[Trended, Drift]
    check_now: Said
    check_next: Part

    def text(self, trended: Trended) -> Part:
        """Drift of one value with its significance, and when it is expected to leave its limits where that is known."""
        drift = self.drifts[trended]
        if self.since and not drift.chart:
            if not self.marks:
                return said("No size is known yet.")
            return said("No size was measured since the machine was set or upset.")
        if drift.leaves_at is None:
            return drift.text
        return paragraph(drift.text, self._leaves(drift.leaves_at))

    def in_short(self, trended: Trended) -> Part:
        """The same in few words, beside the chart."""
        drift = self.drifts[trended]
        if self.since and not drift.chart:
            return self.text(trended)
        return drift.short if drift.leaves_at is None else paragraph(drift.short, self._leaves(drift.leaves_at))

    def _leaves(self, at: float) -> Said:
        return said("Expected outside limits from {day}.", day=Time(self.day(at), clock=False))

    @property
    def other_benches(self) -> Series:
        """The other benches that measured some of the coupons, and how many; empty where all were measured here."""
        counts = Counter(coupon.bench for coupon in self.coupons if coupon.bench)
        benches = [said("{bench} ({count})", bench=Name(bench), count=count) for bench, count in sorted(counts.items())]
        return Series(tuple(benches), joint=", ")

    @property
    def worked_out_by(self) -> Said:
        """By which versions words and values were worked out, as they are stored; nothing where all are today's."""
        counts = Counter(coupon.software for coupon in self.coupons if coupon.software)
        if not set(counts) - {SOFTWARE}:
            return NOTHING
        versions = [
            said("{version} ({count})", version=Name(version), count=count) for version, count in sorted(counts.items())
        ]
        return said(
            "Words and values stand as they were said then, by {versions}.",
            versions=Series(tuple(versions), joint=", "),
        )

    def day(self, at: float) -> datetime:
        """When a point of a drift's chart was, or will be."""
        return self.since[0].time_utc + at * _DAY

    def chart(self, trended: Trended) -> tuple[tuple[datetime, ChartPoint], ...]:
        """Moving average and control limits with their times."""
        return tuple((self.day(point.at), point) for point in self.drifts[trended].chart)


def machine_history(
    coupons: Iterable[ClosedCoupon],
    entries: Iterable[LogEntry],
    no_go: NoGo,
    elsewhere: Iterable[tuple[str, Iterable[LogEntry]]] = (),
    begun: Callable[[Collection[str]], Mapping[str, int]] = lambda _sessions: {},
) -> MachineHistory:
    """Fold coupons and logs together; entries made while the clock was not set cannot be placed and are left.

    `elsewhere` are the logs that other benches kept of the same machine, each with its bench's name. `begun` numbers
    those of some sessions that are of this bench in the order they were begun: of one bench the order counts, of two
    the time.
    """
    logs = [marks_of(entries), *(marks_of(log, bench) for bench, log in elsewhere)]
    marks = tuple(mark for log in logs for mark in log)
    ordered = tuple(sorted(coupons, key=lambda coupon: coupon.time_utc))
    last_mark = next(reversed(in_one_order(lambda mark: mark.time_utc, *logs)), None)
    barrier = _Barrier.of(marks, begun({*(one.session for one in ordered), *(mark.after for mark in logs[0])}))
    since = tuple(coupon for coupon in ordered if barrier.is_passed_by(coupon))
    drifts = {
        which: drift_of(_points(since, which), no_go.limit(which), which is not Trended.SKEW) for which in Trended
    }
    check_now = _check_now(last_mark, since)
    return MachineHistory(
        coupons=ordered,
        marks=marks,
        since=since,
        drifts=drifts,
        check_now=check_now,
        check_next=check_now or _check_next(since, drifts),
    )


def marks_of(entries: Iterable[LogEntry], bench: str = "") -> tuple[ChartMark, ...]:
    """What was done to the machine and what upset it, in the order of its log."""
    marks: list[ChartMark] = []
    after = ""  # of what an entry came after, all behind it in the log came after as well
    for entry in entries:
        after = _after(entry) or after
        mark = _mark(entry, bench, after)
        if mark is not None:
            marks.append(mark)
    return tuple(marks)


def _after(entry: LogEntry) -> str:
    """The session that was begun before this; empty where the entry does not tell."""
    match entry.payload:
        case CorrectionApplied(after=after, session=session):
            return after or session
        case MachineEvent(after=session) | CorrectionBegun(session=session):
            return session
        case _:
            return ""


class _Barrier(Struct, frozen=True, kw_only=True):
    """What a coupon must have come after to tell of the machine as it is: all that was done to it.

    `place` is that of the last session of this bench before the last mark placed by one; `placed_utc` the newest time
    of such a mark, `other_utc` that of all others.
    """

    begun: Mapping[str, int]
    place: int
    placed_utc: datetime
    other_utc: datetime
    before: frozenset[str]

    @classmethod
    def of(cls, marks: Iterable[ChartMark], begun: Mapping[str, int]) -> Self:
        places, times, others, before = [0], [_NEVER], [_NEVER], set[str]()
        for mark in marks:
            before.add(mark.after)
            if not mark.bench and mark.after in begun:
                places.append(begun[mark.after])
                times.append(mark.time_utc)
            else:
                others.append(mark.time_utc)
        return cls(
            begun=begun, place=max(places), placed_utc=max(times), other_utc=max(others), before=frozenset(before)
        )

    def is_passed_by(self, coupon: ClosedCoupon) -> bool:
        if coupon.session in self.before or coupon.time_utc <= self.other_utc:
            return False
        if coupon.session in self.begun:
            return self.begun[coupon.session] > self.place
        return coupon.time_utc > self.placed_utc


def _points(coupons: Sequence[ClosedCoupon], which: Trended) -> list[HistoryPoint]:
    return [
        HistoryPoint(at=(coupon.time_utc - coupons[0].time_utc) / _DAY, value=value)
        for coupon in coupons
        if (value := coupon.value(which)) is not None
    ]


def _check_next(since: Sequence[ClosedCoupon], drifts: dict[Trended, Drift]) -> Part:
    """By the skew's evidence, and earlier where a size is proven to drift and would be out before."""
    skew = drifts[Trended.SKEW]
    if skew.check_at is None:
        return skew.text if skew.slope is None else said("Check before what matters.")
    sizes = [drift.check_at for drift in drifts.values() if drift.proven and drift.check_at is not None]
    check_at = min([skew.check_at, *sizes])
    last = since[-1].time_utc
    check = since[0].time_utc + check_at * _DAY
    if check - last < 0.5 * _DAY:
        return said("Check again now.")
    return said("Check again by {day}.", day=Time(check, clock=False))


def _mark(entry: LogEntry, bench: str, after: str) -> ChartMark | None:
    if entry.time_utc is None:
        return None
    match payload := entry.payload:
        case CorrectionApplied():
            kind = MarkKind.CORRECTION
        case MachineEvent():
            kind = MarkKind.UPSET
        case _:
            return None
    text = entry_words(payload)
    there = said("{what} (at {bench})", what=text, bench=Name(bench)) if bench else text
    return ChartMark(time_utc=entry.time_utc, kind=kind, text=there, bench=bench, after=after)


def _check_now(last_mark: ChartMark | None, since: Sequence[ClosedCoupon]) -> Said:
    if last_mark is None or since:
        return NOTHING
    if last_mark.kind is MarkKind.UPSET:
        return said(
            "Cut and measure a coupon now: the machine was upset ({mark}) and not checked since.", mark=last_mark.text
        )
    return said(
        "Cut and measure a coupon now: the machine was set ({mark}) and not checked since.", mark=last_mark.text
    )
