"""The measuring desk: the coupon on the bench, from proposals to readings that count.

Input: commands, proposed indications, archive answers. Output: the next snapshot, and tasks for the archive. A reading
is proposed, decided on, handed to the archive, and counts once the archive answers that it is committed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from core.errors import BadInputError
from core.geometry.features import Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Indication, Method, Quantity, Reading, Unit
from core.records.events import (
    Closed,
    GaugeChecked,
    MarkConfirmed,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
)
from core.records.instrument_book import UsedInstrument, drift_text, name_of
from core.records.session import Session
from firmware_bridge.instrument_settings import InstrumentSettings
from ui.bench.capture import CONVERT, DROP, TAKE_THERE, Ask, Refuse, Take, decide
from ui.bench.cursors import cursor
from ui.bench.gauge_checks import checked, named, used_instrument
from ui.bench.steps import closing, cursor_of, quantity_of, taken_features, told, with_session
from ui.bench.workers.archive_tasks import (
    Begun,
    Committed,
    NothingOpen,
    NotStored,
    append,
    append_check,
    append_used,
    begin,
    resume,
)
from ui.bench.workers.archive_thread import ArchiveReport
from ui.bench.workers.outbox import Outbox
from ui.pages.wording import value_text
from ui.state.commands import (
    AnswerQuestion,
    CheckCaliper,
    CheckGauge,
    CloseSession,
    Command,
    ConfirmMark,
    HoldReadings,
    OpenSession,
    ResumeSession,
    SelectFeature,
    TypeReading,
    VoidReading,
)
from ui.state.snapshot import Message, Snapshot

_COUPON_COMMANDS = (
    SelectFeature,
    TypeReading,
    VoidReading,
    ConfirmMark,
    CheckCaliper,
    CheckGauge,
    AnswerQuestion,
    CloseSession,
)


class MeasuringDesk:
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

    def handle(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """Take what concerns the coupon; anything else leaves the snapshot as it is."""
        match event:
            case OpenSession(opened=opened):
                # A simulated bench stamps every session, whoever opened it.
                simulated = opened.simulated or draft.simulated
                names = tuple(status.name for status in draft.instruments)
                setup = self._setup or opened.setup
                self._outbox.submit(begin(replace(opened, simulated=simulated, instruments=names, setup=setup)))
            case HoldReadings(held=held):
                return replace(draft, readings_held=held)
            case ResumeSession():
                self._outbox.submit(resume)
            case NothingOpen(book=book) if book is not None:
                return replace(draft, book=book)
            case Begun():
                return self._begun(draft, event)
            case Committed():
                return self._committed(draft, event)
            case NotStored():
                return replace(draft, pending=None)
            case _ if isinstance(event, _COUPON_COMMANDS):
                if draft.session is None or draft.closed:
                    return told(draft, "There is no open session: start a coupon first.", alarm=True)
                return self._command(draft, event)
        return draft

    def proposed(self, draft: Snapshot, indication: Indication, instrument: str) -> Snapshot:
        """An indication is meant as a reading of the feature at its cursor."""
        if draft.session is None or draft.closed or draft.readings_held:
            return draft
        feature = cursor_of(draft, indication.quantity)
        if feature is None:
            return told(draft, "Everything of this kind is read: choose a feature to read it again.")
        return self._propose(
            draft, Reading(feature=feature, value=indication.value, unit=indication.unit, instrument=instrument)
        )

    def _command(self, draft: Snapshot, command: Command) -> Snapshot:
        match command:
            case SelectFeature(feature=feature) | TypeReading(feature=feature) if not _has(draft, feature):
                return told(draft, f"This coupon has no {feature.label}.", alarm=True)
            case SelectFeature(feature=feature):
                self._chosen[quantity_of(feature)] = feature
                return self._with_cursors(draft)
            case TypeReading(feature=feature, shown=shown, unit=unit):
                value = unit.to_internal(shown)
                return self._propose(draft, Reading(feature=feature, value=value, unit=unit, method=Method.TYPED))
            case VoidReading(number=number, reason=reason):
                return self._void(draft, number, reason)
            case ConfirmMark() if not draft.mark_confirmed:
                self._store(draft, MarkConfirmed())
            case CheckCaliper() | CheckGauge():
                return self._check(draft, command)
            case AnswerQuestion():
                return self._answer(draft, command)
            case CloseSession():
                self._store(draft, closing(draft))
        return draft

    def _propose(self, draft: Snapshot, reading: Reading) -> Snapshot:
        if draft.pending is not None or draft.question is not None:
            # One reading at a time: a double touch, or a button pressed over an open question, takes nothing.
            return draft
        assert draft.coupon is not None
        notation = draft.settings.notation
        adjustment = draft.evaluation.adjustment if draft.evaluation else None
        match decide(draft.coupon, reading.feature, reading.value, taken_features(draft), adjustment, notation):
            case Take():
                return self._accept(draft, reading)
            case Ask() as ask:
                self._asked = (ask, reading)
                return replace(draft, question=ask.question, message=None)
            case Refuse(text=text):
                return told(draft, text, alarm=True)

    def _accept(self, draft: Snapshot, reading: Reading) -> Snapshot:
        assert draft.session is not None
        used = self._used(reading)
        if used is None or self._noted.get(used.name) == used:
            self._store(draft, ReadingAccepted(reading=reading))
        else:
            self._noted[used.name] = used
            self._outbox.submit(append_used(draft.session, ReadingAccepted(reading=reading), used))
        return replace(draft, pending=reading.feature)

    def _used(self, reading: Reading) -> UsedInstrument | None:
        """What the reading's instrument is; None for a typed one and one whose cable is not known."""
        settings = self._settings_of(reading.instrument) if reading.instrument else None
        if settings is None or self._session is None:
            return None
        opened = self._session.opened
        return used_instrument(reading.instrument, settings, opened.setup, simulated=opened.simulated)

    def _void(self, draft: Snapshot, number: int, reason: str) -> Snapshot:
        if not any(item.number == number and item.voided is None for item in draft.readings):
            return told(draft, f"There is no reading {number} that counts.", alarm=True)
        self._store(draft, ReadingVoided(number=number, reason=reason))
        return draft

    def _check(self, draft: Snapshot, command: CheckCaliper | CheckGauge) -> Snapshot:
        """Judged against what was known when the session was opened, so that a second check replaces the first."""
        assert self._session is not None
        try:
            event, text = checked(named(command, draft), self._session.opened.setup)
        except BadInputError as error:
            return told(draft, str(error), alarm=True)
        if event is None:
            return told(draft, text, alarm=True)
        assert draft.session is not None
        self._outbox.submit(append_check(draft.session, event, simulated=draft.simulated))
        return told(draft, text)

    def _answer(self, draft: Snapshot, command: AnswerQuestion) -> Snapshot:
        """Only the question that is up can be answered, and its answer is stored before what follows from it."""
        question = draft.question
        if self._asked is None or question is None or question.name != command.question:
            return draft
        (ask, reading), self._asked = self._asked, None
        answered = QuestionAnswered(question=question.name, answer=command.answer, feature=question.feature)
        self._store(draft, answered)
        draft = replace(draft, question=None)
        if command.answer == DROP:
            return told(draft, "Dropped: nothing was taken.")
        chosen = ask.alternative if command.answer in (TAKE_THERE, CONVERT) else ask.here
        unit = Unit.INCH if command.answer == CONVERT else reading.unit
        return self._accept(draft, replace(reading, feature=chosen.feature, value=chosen.value, unit=unit))

    def _store(self, draft: Snapshot, payload: Payload) -> None:
        assert draft.session is not None
        self._outbox.submit(append(draft.session, payload))

    def _begun(self, draft: Snapshot, begun: Begun) -> Snapshot:
        self._session = Session.from_events(begun.events)
        self._noted = {}
        self._chosen = dict.fromkeys(Quantity)
        self._asked = None
        message = Message(text="New coupon.")
        if begun.resumed:
            # What was unusual about this start stays to be read: the coupon itself shows where the person left off.
            unusual = draft.message if draft.message and draft.message.alarm else None
            message = unusual or Message(text="Where you left off: this coupon is not closed yet.")
        draft = replace(
            draft,
            book=begun.book or draft.book,
            session=begun.session,
            question=None,
            pending=None,
            message=message,
        )
        return self._with_cursors(with_session(draft, self._session))

    def _committed(self, draft: Snapshot, committed: Committed) -> Snapshot:
        if committed.session != draft.session or self._session is None:
            return draft
        self._session = self._session.with_event(committed.event)
        draft = replace(draft, book=committed.book or draft.book)
        match committed.event.payload:
            case ReadingAccepted(reading=reading):
                self._chosen[quantity_of(reading.feature)] = None
                value = value_text(reading.feature, reading.value, draft.settings.notation)
                text = f"Accepted: {reading.feature.label} {value}"
                draft = replace(draft, pending=None, message=Message(text=text))
            case ReadingVoided(number=number, reason=reason):
                draft = told(draft, f"Reading {number} does not count: {reason}.")
            case GaugeChecked() as check if drift := drift_text(draft.book.history(name_of(check))):
                draft = told(draft, drift, alarm=True)
            case MarkConfirmed():
                draft = told(draft, "Orientation mark confirmed.")
            case Closed():
                draft = told(draft, "This coupon is finished.")
        return self._with_cursors(with_session(draft, self._session))

    def _with_cursors(self, draft: Snapshot) -> Snapshot:
        asked = draft.evaluation.next_reading if draft.evaluation else None
        assert draft.coupon is not None
        length, corner = (cursor(draft.coupon, q, self._chosen[q], asked, taken_features(draft)) for q in Quantity)
        chosen = tuple(feature for feature in self._chosen.values() if feature is not None)
        return replace(draft, next_length=length, next_corner=corner, chosen=chosen)


def _has(draft: Snapshot, feature: Feature) -> bool:
    return draft.coupon is not None and draft.coupon.has(feature)
