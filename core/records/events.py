"""The events of a session: append-only, nothing is ever overwritten or deleted; state is a fold over them."""

from __future__ import annotations

from datetime import datetime

from msgspec import Struct

from core.geometry import Coupon, Feature
from core.machine import Overhang, StepGauge
from core.metrology import ExpansionDifference, Limits, MarkSeen, MeasuringSetup, Quantity, Reading, Scope
from core.records.payload_kinds import EncodedPayload


class Opened(Struct, frozen=True, kw_only=True):
    """A session begins: everything the judgement depends on.

    `scope` is the quick check where squareness alone is wanted; `expansion` what the bench's temperature does to sizes,
    None where it is not known. `grid` names a set of coupons cut over the bed together, `place` this one's cell in it
    as engraved (B3: second column from the left, third row from the operator); both empty for a coupon by itself.
    `checks` are today's gauge checks, made on earlier coupons, that still hold; `setup` is without them. `order` is the
    coupon's name or the order it belongs to; with customer, shop, and number and last calibration of caliper and angle
    gauge as a person gave them, it is for the papers alone.
    """

    coupon: Coupon
    limits: Limits
    setup: MeasuringSetup
    machine: str = ""
    instruments: tuple[str, ...] = ()
    operator: str = ""
    span_mm: float | None = None
    software: str = ""
    simulated: bool = False
    scope: Scope = Scope.ALL
    expansion: ExpansionDifference | None = None
    grid: str = ""
    place: str = ""
    checks: tuple[GaugeChecked, ...] = ()
    order: str = ""
    customer: str = ""
    shop: str = ""
    caliper: str = ""
    gauge: str = ""


class MachineNamed(Struct, frozen=True, kw_only=True):
    """The machine that the coupon was cut on, said after the session was opened, with the span of its gantry."""

    machine: str
    span_mm: float | None = None


class Labelled(Struct, frozen=True, kw_only=True):
    """What the papers say of the coupon from now on: its name or order, whom it is for, who measured, whose shop, and
    number and last calibration of caliper and angle gauge. Whatever a person gave, letter for letter."""

    order: str = ""
    customer: str = ""
    operator: str = ""
    shop: str = ""
    caliper: str = ""
    gauge: str = ""


class MarkConfirmed(Struct, frozen=True, kw_only=True):
    """The person said which corner carried the orientation mark as the coupon lay on the bed.

    One of the four, `mirrored` or `unknown` (older events: NL, where it was seen readable).
    """

    corner: MarkSeen = MarkSeen.NL


class GaugeChecked(Struct, frozen=True, kw_only=True):
    """An instrument was checked before measuring: its zero error and the zero's standard deviation from now on.

    `zero` and `zero_sd` are in mm or degrees; `reference` says what it was held against, such as 'setting blocks'.
    `found` and `found_sd` are the same by this check alone, without what was known before; None where not stored.
    `identity` is what its line says of it (the serial number of its plug), empty where it says nothing.
    """

    instrument: str
    quantity: Quantity
    zero: float
    zero_sd: float
    reference: str
    found: float | None = None
    found_sd: float | None = None
    identity: str = ""


class ReadingAccepted(Struct, frozen=True, kw_only=True):
    """A reading; its number is the event's sequence number."""

    reading: Reading


class ReadingVoided(Struct, frozen=True, kw_only=True):
    """The reading accepted under `number` does not count, for a reason; it stays in the log."""

    number: int
    reason: str


class Undone(Struct, frozen=True, kw_only=True):
    """What event `number` did is taken back: a reading does not count, a voided one counts again, a finished coupon is
    open again. Both stay in the log."""

    number: int


class QuestionAnswered(Struct, frozen=True, kw_only=True):
    """The person answered a question; `question` is its stable name, `answer` the choice."""

    question: str
    answer: str
    feature: Feature | None = None


class ReversalFound(Struct, frozen=True, kw_only=True):
    """What a reversal check of this coupon found: the step or gap over the diverging edges, and what stood out."""

    length_mm: float
    step_mm: float
    overhang: Overhang
    gauge: StepGauge


class Note(Struct, frozen=True, kw_only=True):
    """Free text of the operator."""

    text: str


class Closed(Struct, frozen=True, kw_only=True):
    """The session ends; the headline and size verdicts at that moment, with the software that derived them.

    `settled` is whether another reading could not have turned the headline; None where it was not kept yet.
    `scale_x` and `scale_y` are how much too long the coupon is along X and Y, as a fraction; each with its U (95 %).
    """

    verdict: str
    size_verdict: str
    skew_deg: float | None
    skew_u95_deg: float | None
    software: str
    scale_x: float | None = None
    scale_x_u95: float | None = None
    scale_y: float | None = None
    scale_y_u95: float | None = None
    settled: bool | None = None


class Unrecognised(Struct, frozen=True, kw_only=True):
    """An event written by other software than this; `text` is its JSON payload, kept as it was and passed on."""

    kind: str
    version: int
    text: str


class Damaged(Struct, frozen=True, kw_only=True):
    """What is left of an event that was stored and is not what was written, or is gone: its number."""


Payload = (
    Opened
    | MachineNamed
    | Labelled
    | MarkConfirmed
    | GaugeChecked
    | ReadingAccepted
    | ReadingVoided
    | Undone
    | QuestionAnswered
    | ReversalFound
    | Note
    | Closed
    | Damaged
    | Unrecognised
)


class Event(Struct, frozen=True, kw_only=True):
    """One line of a session's log. `sequence` counts from 1 within the session and is the order that counts;
    `time_utc` is None while the clock is not set, `chain` its checksum (chain.py), None where it has none (yet).

    `written` is the payload as some version of the program wrote it: what the checksum covers, and what is passed on. A
    later version knows more fields and would write another. None of what this one has just made.
    """

    sequence: int
    time_utc: datetime | None
    payload: Payload
    chain: str | None = None
    written: EncodedPayload | None = None

    def __eq__(self, other: object) -> bool:
        """Neither checksum nor spelling makes another event."""
        return isinstance(other, Event) and self._compared == other._compared

    def __hash__(self) -> int:
        return hash(self._compared)

    @property
    def _compared(self) -> tuple[object, ...]:
        return self.sequence, self.time_utc, self.payload
