"""The one immutable picture of the bench that screens, text bench and lamps are functions of."""

from itertools import takewhile
from operator import attrgetter, is_

from msgspec import Struct, field

from core.geometry import Coupon, Feature
from core.machine import BeforeAfter, BeltNote, Correction, GuidedState, LogEntry, MachineProfile, Refusal
from core.metrology import Answers, Evaluation, Limits, LiveState, MeasuringSetup, Quantity, Unit, Verdict
from core.records import (
    Due,
    Event,
    GridState,
    History,
    InstrumentBook,
    Labelled,
    NumberedReading,
    Opened,
    SessionSummary,
    ShopState,
)
from core.said import NOTHING, Part
from firmware_bridge import InstrumentSettings, LinkState, RadioPlace
from ui.state.messages import Command
from ui.state.settings import Settings
from ui.state.stick import DesignSlice, DownloadSlice, KeepSlice, ShopSlice, UpdateSlice
from ui.state.work import WorkSlice


class Judgement(Struct, frozen=True, kw_only=True):
    """Whether the diagnosis was right, and what there is to learn."""

    right: bool
    title: Part
    sentences: tuple[Part, ...]


class PracticeSlice(Struct, frozen=True, kw_only=True):
    """How far the person has come: `number` counts from 1, 0 before the first; `solved` of those judged so far.
    `session` is the coupon's, empty until the archive has begun it."""

    total: int
    number: int = 0
    solved: int = 0
    session: str = ""
    judgement: Judgement | None = None

    @property
    def waits(self) -> bool:
        """A coupon is still to be measured or diagnosed."""
        return self.number > 0 and self.judgement is None

    @property
    def finished(self) -> bool:
        """All have been judged."""
        return self.number == self.total and self.judgement is not None


class RecordsSlice(Struct, frozen=True, kw_only=True):
    """`comparison` holds the session closed last against the one before it or before the correction; `due` follows the
    machine in use; `grid` is how far a set of coupons over the bed has come; `last_opened` is what was chosen for the
    last coupon of the machine in use; `last_closed` the coupon finished last on this bench. Each is None until it was
    looked up, `shop` how the bench stands to its shop among them."""

    history: History | None = None
    due: Due | None = None
    grid: GridState | None = None
    comparison: BeforeAfter | None = None
    last_opened: Opened | None = None
    last_closed: SessionSummary | None = None
    shop: ShopState | None = None


class MachinesSlice(Struct, frozen=True, kw_only=True):
    """`current` is the machine chosen or used last, `log` its own. `correction` is what the coupon on the bench calls
    for, None without a coupon or a span; `guided` the correction under way, None when there is none."""

    profiles: tuple[MachineProfile, ...] = ()
    current: MachineProfile | None = None
    log: tuple[LogEntry, ...] = ()
    guided: GuidedState | None = None
    correction: Correction | Refusal | None = None


class Live(Struct, frozen=True, kw_only=True):
    """The newest indication of one quantity beside the cursor it would be taken for; value in mm or degrees.

    `limit` is the plus-minus tolerance it is compared with, None where the feature has none of its own.
    `hold_fraction` runs from 0 to 1 while the value is held steady; 1 means it was taken. `age_s` is in whole seconds,
    None while the value is fresh.
    """

    quantity: Quantity
    feature: Feature | None
    value: float | None
    unit: Unit
    decimals: int
    state: LiveState
    limit: float | None
    hold_fraction: float
    age_s: int | None


class InstrumentStatus(Struct, frozen=True, kw_only=True):
    """An instrument as the bench sees it; `last` is its newest number with unit, `rate_hz` how often it speaks.

    `quantity` is what it measures, None until it has been heard.
    """

    name: str
    state: LinkState
    text: Part
    indications: int
    faults: int
    last_fault: Part
    last: Part = NOTHING
    rate_hz: float | None = None
    port: str = ""
    quantity: Quantity | None = None


class StrangePort(Struct, frozen=True, kw_only=True):
    """A port with no instrument in use on it: what was heard, and the settings offered, the likeliest first; `opened`
    False while nobody has touched it, `radio` where on it a number is said."""

    path: str
    description: str
    text: Part
    listening: bool
    offers: tuple[InstrumentSettings, ...]
    opened: bool = True
    radio: RadioPlace | None = None


class UsedCable(Struct, frozen=True, kw_only=True):
    """A cable in use: its settings, and those it was first recognised by, None where a person set it up."""

    settings: InstrumentSettings
    recognised: InstrumentSettings | None


class BeltsSlice(Struct, frozen=True, kw_only=True):
    """The belts heard so far, the left or near one first; `listening` while it records, `text` what came of it."""

    first: BeltNote | None = None
    second: BeltNote | None = None
    listening: bool = False
    text: Part = NOTHING


class Question(Struct, frozen=True, kw_only=True):
    """Something only the person can decide; each choice is (stable name, words on the button)."""

    name: str
    text: Part
    choices: tuple[tuple[str, Part], ...]
    feature: Feature | None = None
    value: float | None = None


class Undoable(Struct, frozen=True, kw_only=True):
    """What was done last and can still be taken back, by this command."""

    command: Command


class Message(Struct, frozen=True, kw_only=True):
    """What just happened, in a sentence; `alarm` when the person should look up."""

    text: Part
    alarm: bool = False


class Snapshot(Struct, frozen=True, kw_only=True):
    """Published by the bench after every event; `revision` grows by one each time, so that equal means unchanged.

    `pending` is the feature whose reading is on its way to the disk; `storing` while the archive owes an answer.
    `message` is what stands on a screen; `messages` the last that were said, oldest first, for what shows each of them.
    """

    live_length: Live
    live_corner: Live
    revision: int = 0
    session: str | None = None
    coupon: Coupon | None = None
    limits: Limits | None = None
    machine: str = ""
    span_mm: float | None = None
    simulated: bool = False
    answers: Answers = field(default_factory=Answers)
    closed: bool = False
    readings: tuple[NumberedReading, ...] = ()
    pending: Feature | None = None
    next_length: Feature | None = None
    next_corner: Feature | None = None
    evaluation: Evaluation | None = None
    instruments: tuple[InstrumentStatus, ...] = ()
    question: Question | None = None
    message: Message | None = None
    messages: tuple[Message, ...] = ()
    hand: Part = NOTHING
    storing: bool = False
    # None once it was taken back, or a few seconds later.
    undo: Undoable | None = None
    ports: tuple[StrangePort, ...] = ()
    cables: tuple[UsedCable, ...] = ()
    machines: MachinesSlice = field(default_factory=MachinesSlice)
    setup: MeasuringSetup = field(default_factory=MeasuringSetup)
    download: DownloadSlice = field(default_factory=DownloadSlice)
    keep: KeepSlice = field(default_factory=KeepSlice)
    design: DesignSlice = field(default_factory=DesignSlice)
    shop: ShopSlice = field(default_factory=ShopSlice)
    records: RecordsSlice = field(default_factory=RecordsSlice)
    belts: BeltsSlice = field(default_factory=BeltsSlice)
    # The cursors the person has set and not yet read at; the others follow what tells most.
    chosen: tuple[Feature, ...] = ()
    log: tuple[Event, ...] = ()
    # What the papers call the coupon, and the last note on it.
    label: Labelled = field(default_factory=Labelled)
    note: str = ""
    readings_held: bool = False
    book: InstrumentBook = field(default_factory=InstrumentBook)
    settings: Settings = field(default_factory=Settings)
    # None where there is no simulated bench to practise on.
    practice: PracticeSlice | None = None
    # None where no stick can bring an update: on any bench that was not installed by its package.
    update: UpdateSlice | None = None
    # What takes its time, once that is to be said.
    work: WorkSlice | None = None

    def differs_in_indications_only(self, before: "Snapshot") -> bool:
        """Whether since then nothing has changed but what the instruments say: fifty times a second while jaws move."""
        return all(map(is_, _still(self), _still(before))) and (
            self.instruments is before.instruments
            or list(map(_standing, self.instruments)) == list(map(_standing, before.instruments))
        )

    def said_since(self, before: "Snapshot | None") -> tuple[Message, ...]:
        """What was said since that snapshot, oldest first, though a cable spoke behind a refusal in the same turn; None
        is before the first. Found by identity: the same words said twice are two messages."""
        last = before.messages[-1] if before is not None and before.messages else None
        return tuple(takewhile(lambda message: message is not last, reversed(self.messages)))[::-1]

    @property
    def stick_in_use(self) -> bool:
        """Whether something is under way that needs a stick or the helper: they do one thing at a time."""
        updating = self.update is not None and self.update.state.is_busy
        writing = self.download.state.is_busy or self.keep.state.is_busy
        return updating or writing or self.design.stage.is_busy or self.shop.stage.is_busy

    @property
    def mark_confirmed(self) -> bool:
        """Whether the person has said which corner carried the mark."""
        return self.answers.mark is not None

    @property
    def verdict(self) -> Verdict | None:
        """The headline, None before the first reading."""
        return self.evaluation.verdict if self.evaluation else None

    @property
    def exercise_is_open(self) -> bool:
        """The coupon on the bench is that of an exercise, and the person has not said yet what is wrong."""
        return self.practice is not None and self.practice.waits and self.session == self.practice.session

    @property
    def exercise_is_put_aside(self) -> bool:
        """An exercise waits for its answer, but another coupon was begun since."""
        return self.practice is not None and self.practice.waits and self.practice.session not in ("", self.session)

    @property
    def exercise_asks(self) -> bool:
        """The exercise's own coupon is finished, and the person has not said yet what is wrong."""
        return self.exercise_is_open and self.closed


_standing = attrgetter("name", "state")
_still = attrgetter(*(set(Snapshot.__struct_fields__) - {"revision", "live_length", "live_corner", "instruments"}))
