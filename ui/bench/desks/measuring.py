"""The measuring desk: the coupon on the bench, from proposals to readings that count.

Input: commands, proposed indications, archive answers. Output: the next snapshot, and tasks for the archive. A reading
is proposed, decided on, handed to the archive, and counts once the archive answers that it is committed.
"""

from collections.abc import Callable

from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry import CORNERS, DIAGONALS, Feature
from core.metrology import (
    Indication,
    MarkSeen,
    MeasuringSetup,
    Method,
    Quantity,
    Reading,
    Unit,
    is_inch_for_mm,
    is_plausible,
)
from core.records import (
    QUESTION_CHANGED,
    Closed,
    GaugeChecked,
    InstrumentChange,
    Labelled,
    MarkConfirmed,
    Note,
    Opened,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
    Session,
    Undone,
    UsedInstrument,
    drift_text,
    is_another,
    name_of,
)
from core.said import Name, Time, said
from firmware_bridge import InstrumentSettings
from ui.bench.capture import CONVERT, DROP, TAKE_THERE, Ask, Refuse, Take, cursor, decide
from ui.bench.gauge_checks import (
    ANOTHER_ON_LINE,
    NOTHING_HAPPENED,
    ZERO_UNKNOWN,
    AskWhatHappened,
    CheckCaliper,
    CheckGauge,
    checked,
    named,
    used_instrument,
    what_happened,
)
from ui.bench.opening import opening_again
from ui.bench.routing import Desk, Step
from ui.bench.steps import (
    NOTHING_TO_TAKE_BACK,
    TAKEN_BACK,
    closing,
    cursor_of,
    quantity_of,
    taken_features,
    told,
    with_session,
)
from ui.bench.workers.archive_tasks import (
    Begun,
    Committed,
    NothingOpen,
    NotStored,
    append,
    append_change,
    begin,
    resume,
    see,
)
from ui.bench.workers.archive_thread import LOOKING, Outbox
from ui.state import Command, Question, Snapshot, Undoable

# The reasons that are touched, as the log has them: their words on a button and in a sentence. Any other was typed by a
# person and is said letter for letter.
VOID_REASONS = {
    "slipped": (said("Slipped"), said("slipped")),
    "wrong place": (said("Wrong place"), said("wrong place")),
    "burr or dirt": (said("Burr or dirt"), said("burr or dirt")),
}
_NO_COUPON = said("There is no open session: start a coupon first.")
_FINISH_FIRST = said("A coupon is being measured: finish it first, then others can be seen.")


class OpenSession(Command, frozen=True, kw_only=True):
    """Begin a new coupon."""

    opened: Opened


class ResumeSession(Command, frozen=True, kw_only=True):
    """Go on with the coupon that was not closed, if there is one."""


class SeeCoupon(Command, frozen=True, kw_only=True):
    """See a finished coupon again, whenever it was measured: nothing of it can be changed."""

    session: str


class SelectFeature(Command, frozen=True, kw_only=True):
    """Put the cursor of the feature's kind on it."""

    feature: Feature


class TypeReading(Command, frozen=True, kw_only=True):
    """A number keyed in, in `unit`, for a feature."""

    feature: Feature
    shown: float
    unit: Unit


class VoidReading(Command, frozen=True, kw_only=True):
    """Take a reading out of the judgement; it stays in the log."""

    number: int
    reason: str


class TakeBack(Command, frozen=True, kw_only=True):
    """Take back what the event of this number did: a reading, a void, a finish; only while it is the last."""

    number: int


class AnswerQuestion(Command, frozen=True, kw_only=True):
    """Answer the question that is up; `question` is its name, so that a late touch answers nothing else."""

    question: str
    answer: str


class ConfirmMark(Command, frozen=True, kw_only=True):
    """Which corner carried the orientation mark as the coupon lay on the bed."""

    corner: MarkSeen = MarkSeen.NL


class LabelCoupon(Command, frozen=True, kw_only=True):
    """What the papers call the coupon on the bench, open or finished; a `note` is added to those before it."""

    label: Labelled
    note: str = ""


class HoldReadings(Command, frozen=True, kw_only=True):
    """While held, nothing on the cables is taken for a reading: the instruments are on something else."""

    held: bool


class CloseSession(Command, frozen=True, kw_only=True):
    """The coupon is done."""


class MeasuringDesk(Desk):
    """Keeps the session on the bench, the cursors the person set, and the question that is up.

    `setup` holds the accuracies of this bench's instruments: sessions are opened with them. `settings_of` says how an
    instrument is connected; it is noted when it is first used in a session, and when that changed.
    """

    def __init__(
        self,
        outbox: Outbox,
        setup: MeasuringSetup | None = None,
        settings_of: Callable[[str], InstrumentSettings | None] = lambda name: None,
    ) -> None:
        self._outbox = outbox
        self._settings_of = settings_of
        self._noted: dict[str, UsedInstrument] = {}
        self._setup = setup
        self._session: Session | None = None
        self._chosen: dict[Quantity, Feature | None] = dict.fromkeys(Quantity)
        self._asked: tuple[Ask, Reading] | None = None
        # The reading that a coupon was begun by, until the archive has begun it.
        self._begun_by: Reading | None = None

        self.takes = {
            OpenSession: self._open,
            ResumeSession: self._resume,
            SeeCoupon: self._see,
            LabelCoupon: self._label,
            HoldReadings: lambda draft, wish: replace(draft, readings_held=wish.held),
            SelectFeature: self._on_coupon(self._select),
            TypeReading: self._type,
            VoidReading: self._on_coupon(self._void),
            TakeBack: self._take_back,
            ConfirmMark: self._confirm,
            CheckCaliper: self._on_coupon(self._check),
            CheckGauge: self._on_coupon(self._check),
            AskWhatHappened: self._ask_what_happened,
            AnswerQuestion: self._answer,
            CloseSession: self._on_coupon(self._close),
            Begun: self._begun,
            NothingOpen: lambda draft, nothing: replace(draft, book=nothing.book or draft.book),
            Committed: self._committed,
            NotStored: self._not_stored,
        }

    def _on_coupon(self, step: Step) -> Step:
        """The step where a coupon is being measured; elsewhere it is said that there is none."""

        def taken(draft: Snapshot, event: object) -> Snapshot:
            if draft.session is None or draft.closed:
                return told(draft, _NO_COUPON, alarm=True)
            return step(draft, event)

        return taken

    def _open(self, draft: Snapshot, wish: OpenSession) -> Snapshot:
        # A simulated bench stamps every session, whoever opened it.
        simulated = wish.opened.simulated or draft.simulated
        names = tuple(status.name for status in draft.instruments)
        setup = self._setup or wish.opened.setup
        opened = replace(
            wish.opened,
            simulated=simulated,
            instruments=names,
            setup=setup,
            operator=wish.opened.operator or draft.settings.operator,
            shop=draft.settings.shop,
            caliper=draft.settings.caliper,
            gauge=draft.settings.gauge,
        )
        self._outbox.submit(begin(opened, {name: self._identity(name) for name in names}))
        return draft

    def _label(self, draft: Snapshot, wish: LabelCoupon) -> Snapshot:
        """A finished coupon may be labelled too: its papers are often wanted later."""
        if draft.session is None:
            return told(draft, said("There is no coupon on the bench to label."), alarm=True)
        if wish.label != draft.label:
            self._store(draft, wish.label)
        if wish.note and wish.note != draft.note:
            self._store(draft, Note(text=wish.note))
        return draft

    def _resume(self, draft: Snapshot, _resume: ResumeSession) -> Snapshot:
        self._outbox.submit(resume, LOOKING)
        return draft

    def _see(self, draft: Snapshot, wish: SeeCoupon) -> Snapshot:
        if _is_measuring(draft):
            return told(draft, _FINISH_FIRST, alarm=True)
        if draft.session != wish.session:
            self._outbox.submit(see(wish.session), LOOKING)
        return draft

    def _not_stored(self, draft: Snapshot, refused: NotStored) -> Snapshot:
        self._begun_by = None
        return told(replace(draft, pending=None), said("Not stored: {reason}", reason=refused.text), alarm=True)

    def proposed(self, draft: Snapshot, indication: Indication, instrument: str) -> Snapshot:
        """An indication is meant as a reading of the feature at its cursor."""
        if draft.readings_held:
            return draft
        begins = draft.session is None or draft.closed
        first = DIAGONALS[0] if indication.quantity is Quantity.LENGTH else CORNERS[0]
        feature = first if begins else cursor_of(draft, indication.quantity)
        if feature is None:
            return told(draft, said("Everything of this kind is read: choose a feature to read it again."))
        reading = Reading(feature=feature, value=indication.value, unit=indication.unit, instrument=instrument)
        return self._begin_by(draft, reading) if begins else self._propose(draft, reading)

    def _begin_by(self, draft: Snapshot, first: Reading) -> Snapshot:
        """A length that can be a diagonal of the coupon chosen last begins a coupon by itself: a quick check, as long
        as nothing but diagonals is read."""
        if draft.exercise_asks or self._begun_by is not None:
            return draft
        if self._outbox.waiting:
            # Just switched on: begun now, it would be the house's coupon on no machine.
            return told(draft, said("One moment: the last coupon is still looked up. Press again."), alarm=True)
        opened = opening_again(draft.records.last_opened, draft.machines.current)
        fits = any(is_plausible(opened.coupon, diagonal, first.value) for diagonal in DIAGONALS)
        if not first.feature.is_length or not (fits or is_inch_for_mm(opened.coupon, first.feature, first.value)):
            return told(draft, said("A coupon begins with a diagonal: this is none."), alarm=True)
        self._begun_by = first
        return replace(self._open(draft, OpenSession(opened=opened)), pending=first.feature)

    def _select(self, draft: Snapshot, wish: SelectFeature) -> Snapshot:
        if not _has(draft, wish.feature):
            return told(draft, said("This coupon has no {feature}.", feature=wish.feature.label), alarm=True)
        self._chosen[quantity_of(wish.feature)] = wish.feature
        return self._with_cursors(draft)

    def _type(self, draft: Snapshot, typed: TypeReading) -> Snapshot:
        value = typed.unit.to_internal(typed.shown)
        reading = Reading(feature=typed.feature, value=value, unit=typed.unit, method=Method.TYPED)
        if draft.session is None or draft.closed:
            return self._begin_by(draft, reading)
        if not _has(draft, typed.feature):
            return told(draft, said("This coupon has no {feature}.", feature=typed.feature.label), alarm=True)
        return self._propose(draft, reading)

    def _confirm(self, draft: Snapshot, mark: ConfirmMark) -> Snapshot:
        """Of a finished coupon, too: its verdict does not rest on the mark, its move does."""
        if draft.session is None:
            return told(draft, _NO_COUPON, alarm=True)
        if draft.answers.mark is not mark.corner:
            self._store(draft, MarkConfirmed(corner=mark.corner))
        return draft

    def _close(self, draft: Snapshot, _close: CloseSession) -> Snapshot:
        self._store(draft, closing(draft))
        return draft

    def _propose(self, draft: Snapshot, reading: Reading) -> Snapshot:
        if draft.pending is not None or draft.question is not None:
            # One reading at a time: a double touch, or a button pressed over an open question, takes nothing.
            return draft
        assert draft.coupon is not None
        adjustment = draft.evaluation.adjustment if draft.evaluation else None
        match decide(draft.coupon, reading.feature, reading.value, taken_features(draft), adjustment):
            case Take():
                return self._accept(draft, reading)
            case Ask() as ask:
                self._asked = (ask, reading)
                return replace(draft, question=ask.question, message=None)
            case Refuse(text=text):
                return told(draft, text, alarm=True)

    def _accept(self, draft: Snapshot, reading: Reading) -> Snapshot:
        assert draft.session is not None
        draft = self._end_zero_of_another(draft, reading)
        assert draft.session is not None
        used = self._used(reading)
        if used is None or self._noted.get(used.name) == used:
            self._store(draft, ReadingAccepted(reading=reading))
        else:
            self._noted[used.name] = used
            self._outbox.submit(
                append(draft.session, ReadingAccepted(reading=reading), used=used, simulated=used.simulated)
            )
        return replace(draft, pending=reading.feature)

    def _used(self, reading: Reading) -> UsedInstrument | None:
        """What the reading's instrument is; None for a typed one and one whose cable is not known."""
        settings = self._settings_of(reading.instrument) if reading.instrument else None
        if settings is None or self._session is None:
            return None
        opened = self._session.opened
        return used_instrument(reading.instrument, settings, opened.setup, simulated=opened.simulated)

    def _identity(self, instrument: str) -> str:
        """What the line of an instrument says of it."""
        settings = self._settings_of(instrument) if instrument else None
        return "" if settings is None else settings.identity

    def _end_zero_of_another(self, draft: Snapshot, reading: Reading) -> Snapshot:
        """The line carries another identity than the instrument that was checked: its zero says nothing of this one."""
        quantity = quantity_of(reading.feature)
        check = self._session.zero_of(quantity) if self._session is not None else None
        if check is None or not is_another(check, self._identity(reading.instrument)):
            return draft
        self._store(draft, QuestionAnswered(question=QUESTION_CHANGED[quantity], answer=InstrumentChange.ANOTHER))
        return told(draft, ANOTHER_ON_LINE, alarm=True)

    def _void(self, draft: Snapshot, wish: VoidReading) -> Snapshot:
        if not any(item.number == wish.number and item.voided is None for item in draft.readings):
            return told(draft, said("There is no reading {number} that counts.", number=wish.number), alarm=True)
        self._store(draft, ReadingVoided(number=wish.number, reason=wish.reason))
        return draft

    def _take_back(self, draft: Snapshot, wish: TakeBack) -> Snapshot:
        """Only what was done last: two touches take back one thing."""
        if draft.session is None or draft.undo is None or draft.undo.command != wish:
            return told(draft, NOTHING_TO_TAKE_BACK, alarm=True)
        if draft.closed and draft.machines.guided is not None:
            return told(draft, said("A correction has begun on this coupon: it stays finished."), alarm=True)
        self._store(draft, Undone(number=wish.number))
        return replace(draft, undo=None)

    def _check(self, draft: Snapshot, command: CheckCaliper | CheckGauge) -> Snapshot:
        """Judged against what was known when the session was opened, so that a second check replaces the first."""
        assert self._session is not None
        try:
            command = named(command, draft)
            event, text = checked(command, self._session.opened.setup, self._identity(command.instrument))
        except BadInputError as error:
            return told(draft, error.what, alarm=True)
        if event is None:
            return told(draft, text, alarm=True)
        assert draft.session is not None
        self._outbox.submit(append(draft.session, event, simulated=draft.simulated))
        return told(draft, text)

    def _ask_what_happened(self, draft: Snapshot, wish: AskWhatHappened) -> Snapshot:
        if draft.pending is not None or draft.question is not None:
            return draft
        return replace(draft, question=what_happened(wish.quantity), message=None)

    def _happened(self, draft: Snapshot, question: Question, answer: str) -> Snapshot:
        if answer != NOTHING_HAPPENED and answer in dict(question.choices):
            change = QuestionAnswered(question=question.name, answer=answer)
            if _is_measuring(draft):
                self._store(draft, change)
            else:
                self._outbox.submit(append_change(change, simulated=draft.simulated))
            draft = told(draft, ZERO_UNKNOWN)
        return replace(draft, question=None)

    def _answer(self, draft: Snapshot, command: AnswerQuestion) -> Snapshot:
        """Only the question that is up can be answered, and its answer is stored before what follows from it."""
        question = draft.question
        if question is not None and question.name == command.question and question.name in QUESTION_CHANGED.values():
            return self._happened(draft, question, command.answer)
        if self._asked is None or question is None or question.name != command.question:
            return draft
        (ask, reading), self._asked = self._asked, None
        answered = QuestionAnswered(question=question.name, answer=command.answer, feature=question.feature)
        self._store(draft, answered)
        draft = replace(draft, question=None)
        if command.answer == DROP:
            return told(draft, said("Dropped: nothing was taken."))
        chosen = ask.alternative if command.answer in (TAKE_THERE, CONVERT) else ask.here
        unit = Unit.INCH if command.answer == CONVERT else reading.unit
        return self._accept(draft, replace(reading, feature=chosen.feature, value=chosen.value, unit=unit))

    def _store(self, draft: Snapshot, payload: Payload) -> None:
        assert draft.session is not None
        self._outbox.submit(append(draft.session, payload))

    def _begun(self, draft: Snapshot, begun: Begun) -> Snapshot:
        if begun.seen and _is_measuring(draft):
            return told(draft, _FINISH_FIRST, alarm=True)  # it was begun while the other was looked for
        self._session = Session.from_events(begun.events)
        self._noted = {}
        self._chosen = dict.fromkeys(Quantity)
        self._asked = None
        if begun.seen:
            draft = told(draft, said("Measured {time}; finished.", time=Time(begun.events[0].time_utc)))
        elif not begun.resumed:
            draft = told(draft, said("New coupon."))
        elif draft.message is None or not draft.message.alarm:
            # Else what was unusual about this start stays to be read: the coupon shows where the person left off.
            draft = told(draft, said("Where you left off: this coupon is not closed yet."))
        draft = replace(
            draft,
            book=begun.book or draft.book,
            session=begun.session,
            question=None,
            pending=None,
            undo=None,
        )
        draft = self._with_cursors(with_session(draft, self._session))
        first, self._begun_by = self._begun_by, None
        return draft if first is None or begun.seen or begun.resumed else self._propose(draft, first)

    def _committed(self, draft: Snapshot, committed: Committed) -> Snapshot:
        draft = replace(draft, book=committed.book or draft.book)
        if committed.session != draft.session or self._session is None:
            return draft
        self._session = self._session.with_event(committed.event)
        number = committed.event.sequence
        if isinstance(committed.event.payload, ReadingAccepted | ReadingVoided | Closed):
            draft = replace(draft, undo=Undoable(command=TakeBack(number=number)))
        match committed.event.payload:
            case ReadingAccepted(reading=reading):
                self._chosen[quantity_of(reading.feature)] = None
                feature = reading.feature
                text = said("Accepted: {feature} {value}", feature=feature.label, value=feature.measured(reading.value))
                draft = told(replace(draft, pending=None), text)
            case ReadingVoided(number=voided, reason=reason):
                why = VOID_REASONS[reason][1] if reason in VOID_REASONS else Name(reason)
                draft = told(draft, said("Reading {number} does not count: {reason}.", number=voided, reason=why))
            case Undone():
                draft = told(replace(draft, undo=None), TAKEN_BACK)
            case GaugeChecked() as check if drift := drift_text(draft.book.history(name_of(check))):
                draft = told(draft, drift, alarm=True)
            case MarkConfirmed(corner=corner) if corner in (MarkSeen.MIRRORED, MarkSeen.UNKNOWN):
                draft = told(draft, said("Noted: how the coupon lay is not known."))
            case Labelled():
                draft = told(draft, said("The label is kept."))
            case Note():
                draft = told(draft, said("The note is kept."))
            case MarkConfirmed():
                draft = told(draft, said("Orientation mark confirmed."))
            case Closed():
                draft = told(draft, said("This coupon is finished."))
        return self._with_cursors(with_session(draft, self._session))

    def _with_cursors(self, draft: Snapshot) -> Snapshot:
        asked = draft.evaluation.next_reading if draft.evaluation else None
        assert draft.coupon is not None
        length, corner = (cursor(draft.coupon, q, self._chosen[q], asked, taken_features(draft)) for q in Quantity)
        chosen = tuple(feature for feature in self._chosen.values() if feature is not None)
        return replace(draft, next_length=length, next_corner=corner, chosen=chosen)


def _is_measuring(draft: Snapshot) -> bool:
    return draft.session is not None and not draft.closed


def _has(draft: Snapshot, feature: Feature) -> bool:
    return draft.coupon is not None and draft.coupon.has(feature)
