"""Instruments on record: what was used under a name, when it was last checked, and whether its zero has moved since.

Stage: beside the sessions. In: rows of the archive, or the events of one session. Out: values and sentences for
screens, text bench and report. How often to check is common practice of workshops: at the start of the day, and after a
fall. Two checks are compared by what each found alone; their difference has U = k sqrt(u1² + u2²) (GUM, 5.1.2).
"""

import math
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from msgspec import Struct

from core.metrology import EarlierHand, Estimate, InstrumentAccuracy, Quantity
from core.records.events import Event, GaugeChecked
from core.records.session import Session
from core.said import NOTHING, Angle, Length, Name, Part, Said, Time, said, said_counted

# What an instrument is called that nobody gave a name.
KIND_NAME = {Quantity.LENGTH: "caliper", Quantity.ANGLE: "angle gauge"}
# A check holds for a working day, whatever the local time is.
CHECK_HOLDS = timedelta(hours=12)
WHEN_TO_CHECK = said("at the start of the day, and after a fall")
NEVER_CHECKED = said("no check on record")


class UsedInstrument(Struct, frozen=True, kw_only=True):
    """What was used under a name: how it speaks, what it measures, and the accuracy it was trusted with."""

    name: str
    quantity: Quantity
    wire_format: str
    port_kind: str
    accuracy: InstrumentAccuracy
    simulated: bool = False


class RecordedCheck(Struct, frozen=True, kw_only=True):
    """A check, when and in which session it was made; `sessions_ago` counts from the session it is looked at from."""

    check: GaugeChecked
    time_utc: datetime | None
    session: str
    sessions_ago: int = 0

    @property
    def zero(self) -> Estimate:
        """The zero error from then on, in mm or degrees."""
        return Estimate(value=self.check.zero, u=self.check.zero_sd)


class CheckHistory(Struct, frozen=True, kw_only=True):
    """The last two checks of one instrument; both None where there is none on record."""

    instrument: str
    last: RecordedCheck | None = None
    before: RecordedCheck | None = None

    @property
    def zero_moved(self) -> Estimate | None:
        """How far the zero moved between the two checks, by what each found alone; None where that was not stored."""
        if self.last is None or self.before is None:
            return None
        new, old = self.last.check, self.before.check
        if new.quantity is not old.quantity:
            return None
        if new.found is None or new.found_sd is None or old.found is None or old.found_sd is None:
            return None
        return Estimate(value=new.found - old.found, u=math.hypot(new.found_sd, old.found_sd))

    @property
    def drifted(self) -> bool:
        """Whether the zero moved by more than its U."""
        moved = self.zero_moved
        return moved is not None and abs(moved.value) > moved.U95

    def due(self, now_utc: datetime | None) -> bool:
        """Whether it is time to check; without a clock only an instrument never checked is."""
        if self.last is None:
            return True
        if now_utc is None or self.last.time_utc is None:
            return False
        return now_utc - self.last.time_utc > CHECK_HOLDS


class InstrumentBook(Struct, frozen=True, kw_only=True):
    """Every instrument on record as it was used last, and its checks, both in the order of names.

    `hands` is what the last coupons taught of the person's hand with each of them.
    """

    hands: tuple[EarlierHand, ...] = ()
    used: tuple[UsedInstrument, ...] = ()
    checks: tuple[CheckHistory, ...] = ()
    read_utc: datetime | None = None

    def history(self, instrument: str) -> CheckHistory:
        """The checks of one instrument, empty where there is none."""
        for history in self.checks:
            if history.instrument == instrument:
                return history
        return CheckHistory(instrument=instrument)


def name_of(check: GaugeChecked) -> str:
    """The instrument a check is of; one without a name goes by its kind."""
    return check.instrument or KIND_NAME[check.quantity]


def instruments_of(session: Session) -> tuple[str, ...]:
    """Those that gave a reading that counts or were checked, in their order; before the first, those on the bench.

    A typed reading counts as one of the caliper or the angle gauge, where no other of its kind was used.
    """
    named = [reading.instrument for reading in session.active if reading.instrument]
    of_kind = {reading.unit.quantity for reading in session.active if reading.instrument}
    typed = [KIND_NAME[quantity] for quantity in Quantity if quantity in _typed(session) - of_kind]
    checked = [name_of(check) for check in session.gauge_checks]
    return tuple(dict.fromkeys((*named, *typed, *checked))) or session.opened.instruments


def _typed(session: Session) -> set[Quantity]:
    return {reading.unit.quantity for reading in session.active if not reading.instrument}


def checks_within(session_id: str, session: Session) -> tuple[CheckHistory, ...]:
    """The checks of a session's instruments as far as its own events tell."""
    made = list(_recorded(session_id, session.log))
    return tuple(history_of(name, made) for name in instruments_of(session))


def history_of(instrument: str, checks: Iterable[RecordedCheck]) -> CheckHistory:
    """The last two of these checks, oldest first, that are of this instrument."""
    own = [recorded for recorded in checks if name_of(recorded.check) == instrument]
    last, before = (own[-1] if own else None), (own[-2] if len(own) > 1 else None)
    return CheckHistory(instrument=instrument, last=last, before=before)


def _recorded(session_id: str, log: Iterable[Event]) -> Iterator[RecordedCheck]:
    for event in log:
        if isinstance(event.payload, GaugeChecked):
            yield RecordedCheck(check=event.payload, time_utc=event.time_utc, session=session_id)


def zero_text(estimate: Estimate, quantity: Quantity) -> Part:
    """A zero error, or how far it moved, with U and unit: '+0.012 ± 0.015 mm'."""
    if quantity is Quantity.LENGTH:
        return Length(estimate.value, 3, u_mm=estimate.U95, signed=True)
    return Angle(estimate.value, 2, u_deg=estimate.U95, signed=True)


def instrument_shown(name: str) -> Part:
    """An instrument's name letter for letter; one that nobody gave a name is called what it is."""
    if name == KIND_NAME[Quantity.LENGTH]:
        return said("caliper")
    return said("angle gauge") if name == KIND_NAME[Quantity.ANGLE] else Name(name)


def last_check_text(history: CheckHistory) -> Said:
    """'checked 2026-11-20, zero +0.012 ± 0.015 mm; 3 sessions ago'."""
    last = history.last
    if last is None:
        return NEVER_CHECKED
    zero = zero_text(last.zero, last.check.quantity)
    return said(
        "checked {date}, zero {zero}; {ago}",
        date=_date(last),
        zero=zero,
        ago=_ago(last.sessions_ago),
    )


def last_check_sentence(history: CheckHistory) -> Said:
    """The same as a sentence of its own."""
    last = history.last
    if last is None:
        return said("No check on record.")
    zero = zero_text(last.zero, last.check.quantity)
    return said("Checked {date}, zero {zero}; {ago}.", date=_date(last), zero=zero, ago=_ago(last.sessions_ago))


def drift_text(history: CheckHistory) -> Said:
    """A sentence where the zero moved by more than its U since the check before; else empty."""
    last, before, moved = history.last, history.before, history.zero_moved
    if last is None or before is None or moved is None or not history.drifted:
        return NOTHING
    return said(
        "Its zero moved by {moved} since the check before ({date}): unless you zeroed it "
        "in between, clean it, zero it, check again.",
        moved=zero_text(moved, last.check.quantity),
        date=_date(before),
    )


def recorded_line(history: CheckHistory, begun_utc: datetime | None) -> Said:
    """For the record of a session begun then: the last check, whether it held still, whether the zero had moved."""
    last, moved = history.last, history.zero_moved
    sentence = said(
        "{instrument}: {check}", instrument=instrument_shown(history.instrument), check=last_check_text(history)
    )
    if last is not None and history.due(begun_utc):
        sentence = said("{check} (due again when this was measured)", check=sentence)
    if last is not None and moved is not None and history.drifted:
        moved_by = zero_text(moved, last.check.quantity)
        return said("{check}; zero moved by {moved} since the check before", check=sentence, moved=moved_by)
    return sentence


def next_check_text(history: CheckHistory, now_utc: datetime | None) -> Said:
    """When to check again, in plain words."""
    if history.last is None:
        return said("Check it before measuring.")
    if history.drifted:
        return drift_text(history)
    return (
        said("Check again now: {when}.", when=WHEN_TO_CHECK)
        if history.due(now_utc)
        else said("Check again {when}.", when=WHEN_TO_CHECK)
    )


def _date(recorded: RecordedCheck) -> Time:
    return Time(recorded.time_utc, clock=False)


def _ago(sessions: int) -> Said:
    if sessions == 0:
        return said("in this session")
    return said_counted("{count} session ago", "{count} sessions ago", count=sessions)
