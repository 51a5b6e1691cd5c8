"""A session as the fold over its events: what counts, what does not and why.

Input: the events of one session in their order. Output: an immutable Session. Derived results are recomputed from it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from enum import StrEnum
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import asdict, replace

from core.errors import BadInputError
from core.geometry import TEN_FEATURES, Coupon, Feature, Seats, equal_seats, keyed_seats
from core.machine import ReversalCheck
from core.machine.reversal_check import reversal_check
from core.metrology import (
    Answers,
    CharacteristicGroup,
    Evaluation,
    Light,
    MarkSeen,
    MeasuringSetup,
    Quantity,
    Reading,
    Scope,
    evaluate,
)
from core.records.events import (
    Closed,
    Damaged,
    Event,
    GaugeChecked,
    Labelled,
    MachineNamed,
    MarkConfirmed,
    Note,
    Opened,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
    ReversalFound,
    Undone,
    Unrecognised,
)
from core.said import said

# Names of the questions whose answers bear on a move, as they stand in the log.
QUESTION_TRY_SQUARE = "try-square"  # at feature NL or NR: a value of Light
QUESTION_TRIAL_STEP = "trial-step"
YES = "yes"
QUESTION_SEATS = "which-seats"  # a value of SeatsSeen: what the coupon has, where it is not what was chosen
# Why a reading does not count that was taken back at once.
TAKEN_BACK = "taken back"
# What happened to an instrument: a value of InstrumentChange. Its zero is then no longer known.
QUESTION_CHANGED = {Quantity.LENGTH: "caliper-changed", Quantity.ANGLE: "gauge-changed"}


class SeatsSeen(StrEnum):
    """What the corners of the coupon at hand look like."""

    KEYED = "keyed"
    EQUAL = "equal"
    NONE = "none"

    def of(self, coupon: Coupon) -> Seats | None:
        """The usual seats of this kind on a coupon of that size."""
        match self:
            case SeatsSeen.KEYED:
                return keyed_seats(coupon.width_mm, coupon.height_mm)
            case SeatsSeen.EQUAL:
                return equal_seats(coupon.width_mm, coupon.height_mm)
            case SeatsSeen.NONE:
                return None


class InstrumentChange(StrEnum):
    """After which the zero found by a gauge check holds no longer."""

    ANOTHER = "another"
    DROPPED = "dropped"
    BATTERY = "battery"


# A note, a name or an answer leaves the readings as they are: the same ones are judged once.
_judged = lru_cache(maxsize=4)(evaluate)


class NumberedReading(Struct, frozen=True, kw_only=True):
    """A reading as the log has it: its number and time (None while the clock was not set; the archive keeps it to the
    millisecond, so it is not compared); `voided` is the reason why it does not count, None while it does."""

    number: int
    reading: Reading
    time_utc: datetime | None = None
    voided: str | None = None

    def __eq__(self, other: object) -> bool:
        return isinstance(other, NumberedReading) and self._compared == other._compared

    def __hash__(self) -> int:
        return hash(self._compared)

    @property
    def _compared(self) -> tuple[object, ...]:
        return self.number, self.reading, self.voided


class Session(Struct, frozen=True, kw_only=True):
    """One coupon measured. `log` holds every event; the other fields are what it amounts to.

    `opened` is the first event, with the machine and the label it was given since: everything asks here for them.
    `setup` is the opened one with the zeros of today's gauge checks; `damaged` the numbers of events lost.
    """

    opened: Opened
    setup: MeasuringSetup
    log: tuple[Event, ...]
    readings: tuple[NumberedReading, ...] = ()
    mark: MarkSeen | None = None
    gauge_checks: tuple[GaugeChecked, ...] = ()
    answers: tuple[QuestionAnswered, ...] = ()
    reversal: ReversalCheck | None = None
    notes: tuple[str, ...] = ()
    closed: Closed | None = None
    damaged: tuple[int, ...] = ()

    @classmethod
    def from_events(cls, events: Iterable[Event]) -> Session:
        """Fold the events; raises BadInputError when the first is not `opened` or one contradicts those before."""
        first, *rest = tuple(events) or (None,)
        if first is not None and isinstance(first.payload, Damaged):
            raise BadInputError(
                said("the event that opened this session is damaged: the others mean nothing by themselves")
            )
        if first is None or not isinstance(first.payload, Opened):
            raise BadInputError(said("a session must begin with the event 'opened'"))
        session = cls(opened=first.payload, setup=_opened_setup(first.payload), log=(first,))
        for event in rest:
            session = session.with_event(event)
        return session

    def with_event(self, event: Event) -> Session:
        """The session after one more event; raises BadInputError when it cannot follow."""
        if event.sequence <= self.log[-1].sequence:
            raise BadInputError(
                said(
                    "event {sequence} after event {last}: the order is broken",
                    sequence=event.sequence,
                    last=self.log[-1].sequence,
                )
            )
        if self.closed and not may_follow_closed(event.payload):
            raise BadInputError(
                said(
                    "event {sequence}: the session is closed, only a note, its label, its machine or a witness may "
                    "follow",
                    sequence=event.sequence,
                )
            )
        return replace(self._with_payload(event), log=(*self.log, event))

    @property
    def active(self) -> tuple[Reading, ...]:
        """The readings that count, in the order they were accepted."""
        return tuple(numbered.reading for numbered in self.readings if numbered.voided is None)

    @property
    def label(self) -> Labelled:
        """What the papers call this coupon as it now stands."""
        return Labelled(**{name: getattr(self.opened, name) for name in Labelled.__struct_fields__})

    @property
    def note(self) -> str:
        """The last note that a person gave; empty before the first."""
        return next((event.payload.text for event in reversed(self.log) if isinstance(event.payload, Note)), "")

    @property
    def mark_confirmed(self) -> bool:
        """Whether the person has said where the mark was."""
        return self.mark is not None

    @property
    def move_answers(self) -> Answers:
        """What the person answered that bears on a move; the newest answer to a question counts."""
        light = {
            answer.feature: Light(answer.answer)
            for answer in self.answers
            if answer.question == QUESTION_TRY_SQUARE and answer.answer in list(Light)
        }
        newest = {answer.question: answer.answer for answer in self.answers}
        return Answers(
            mark=self.mark,
            light_at_nl=light.get(Feature.NL),
            light_at_nr=light.get(Feature.NR),
            reversal_deg=self.reversal.skew_deg if self.reversal is not None else None,
            names_confirmed=newest.get(QUESTION_TRIAL_STEP) == YES,
        )

    def zero_of(self, quantity: Quantity) -> GaugeChecked | None:
        """The check whose zero is counted with; None where there is none, or something happened since."""
        held = next((check for check in self.opened.checks if check.quantity is quantity), None)
        for event in self.log:
            match event.payload:
                case GaugeChecked(quantity=checked) as check if checked is quantity:
                    held = check
                case QuestionAnswered(question=question) if question == QUESTION_CHANGED[quantity]:
                    held = None
        return held

    def evaluation(self, among: Collection[Feature] = TEN_FEATURES) -> Evaluation | None:
        """The judgement of the readings that count, anew where what it rests on changed; None while none counts.

        `among` are the features that the instruments at hand can read: only those are asked for next.
        """
        if not self.active:
            return None
        opened = self.opened
        return _judged(
            opened.coupon,
            self.active,
            opened.limits,
            self.setup,
            groups=(CharacteristicGroup.SQUARENESS,) if opened.scope is Scope.SQUARENESS else None,
            expansion=opened.expansion,
            among=frozenset(among),
        )

    def _with_payload(self, event: Event) -> Session:
        payload, sequence = event.payload, event.sequence
        match payload:
            case Opened():
                raise BadInputError(said("event {sequence}: a session opens once", sequence=sequence))
            case MachineNamed(machine=machine, span_mm=span_mm):
                return replace(self, opened=replace(self.opened, machine=machine, span_mm=span_mm))
            case Labelled():
                return replace(self, opened=replace(self.opened, **asdict(payload)))
            case MarkConfirmed(corner=corner):
                return replace(self, mark=corner)
            case GaugeChecked():
                checks = (*self.gauge_checks, payload)
                return replace(self, gauge_checks=checks, setup=_checked_setup(self.setup, payload))
            case ReadingAccepted(reading=reading):
                accepted = NumberedReading(number=sequence, reading=reading, time_utc=event.time_utc)
                return replace(self, readings=(*self.readings, accepted))
            case ReadingVoided(number=number, reason=reason):
                if number in self.damaged:
                    return self
                return replace(self, readings=_voided(self.readings, number, reason))
            case Undone(number=number):
                return self._without_effect_of(number, sequence)
            case QuestionAnswered():
                answers = (*self.answers, payload)
                return replace(self, answers=answers, setup=self._setup_after(payload), opened=self._seen(payload))
            case ReversalFound(length_mm=length_mm, step_mm=step_mm, overhang=overhang, gauge=gauge):
                return replace(self, reversal=reversal_check(length_mm, step_mm, overhang, gauge))
            case Note(text=text):
                return replace(self, notes=(*self.notes, text))
            case Closed():
                return replace(self, closed=payload)
            case Damaged():
                return self._without(sequence)
            case Unrecognised():
                return self

    def _without_effect_of(self, number: int, sequence: int) -> Session:
        """The session as if that event had not been; a reading keeps its number."""
        if number in self.damaged:
            return self
        undone = next((event.payload for event in self.log if event.sequence == number), None)
        match undone:
            case ReadingAccepted() if not self.closed:
                return replace(self, readings=_voided(self.readings, number, TAKEN_BACK))
            case ReadingVoided(number=voided) if not self.closed:
                return replace(self, readings=_counting(self.readings, voided))
            case Closed() as closed if closed == self.closed:
                return replace(self, closed=None)
            case _:
                raise BadInputError(
                    said("event {sequence}: event {number} cannot be taken back", sequence=sequence, number=number)
                )

    def _setup_after(self, answer: QuestionAnswered) -> MeasuringSetup:
        """The setup after an answer: of an instrument that was dropped or changed no zero is known any more.

        A coupon that is finished was measured before.
        """
        if self.closed:
            return self.setup
        if answer.question == QUESTION_CHANGED[Quantity.LENGTH]:
            return replace(self.setup, caliper=self.opened.setup.caliper)
        if answer.question == QUESTION_CHANGED[Quantity.ANGLE]:
            return replace(self.setup, gauge=self.opened.setup.gauge)
        return self.setup

    def _seen(self, answer: QuestionAnswered) -> Opened:
        """What was opened, with the seats that the coupon at hand really has."""
        if answer.question != QUESTION_SEATS or answer.answer not in list(SeatsSeen):
            return self.opened  # the reading was dropped, or the coupon is as it was chosen
        coupon = self.opened.coupon
        return replace(self.opened, coupon=replace(coupon, seats=SeatsSeen(answer.answer).of(coupon)))

    def _without(self, sequence: int) -> Session:
        """An event is lost: said among the notes, so that it stands wherever the session is shown."""
        lost = said("Event {number} of this session is damaged on the card and left out.", number=sequence)
        return replace(self, damaged=(*self.damaged, sequence), notes=(*self.notes, str(lost)))


def may_follow_closed(payload: Payload) -> bool:
    """Whether an event may be added to a session that is closed: nothing that its verdict rests on.

    A note, its label, its machine, what a witness says of its move, what happened to an instrument since; and that it
    was not finished after all.
    """
    match payload:
        case QuestionAnswered(question=question):
            return question in (QUESTION_TRY_SQUARE, QUESTION_TRIAL_STEP, *QUESTION_CHANGED.values())
        case (
            Undone()
            | Note()
            | Labelled()
            | MachineNamed()
            | MarkConfirmed()
            | ReversalFound()
            | Damaged()
            | Unrecognised()
        ):
            return True
        case _:
            return False


def _voided(readings: tuple[NumberedReading, ...], number: int, reason: str) -> tuple[NumberedReading, ...]:
    if not any(item.number == number for item in readings):
        raise BadInputError(said("reading {number} cannot be voided: there is no such reading", number=number))
    # Voided twice (two touches): the first reason stands.
    return tuple(
        replace(item, voided=reason) if item.number == number and item.voided is None else item for item in readings
    )


def _counting(readings: tuple[NumberedReading, ...], number: int) -> tuple[NumberedReading, ...]:
    return tuple(replace(item, voided=None) if item.number == number else item for item in readings)


def _opened_setup(opened: Opened) -> MeasuringSetup:
    setup = opened.setup
    for check in opened.checks:
        setup = _checked_setup(setup, check)
    return setup


def _checked_setup(setup: MeasuringSetup, check: GaugeChecked) -> MeasuringSetup:
    if check.quantity is Quantity.LENGTH:
        return replace(setup, caliper=replace(setup.caliper, zero=check.zero, zero_sd=check.zero_sd))
    return replace(setup, gauge=replace(setup.gauge, zero=check.zero, zero_sd=check.zero_sd))
