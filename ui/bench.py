"""The bench controller: the one place where threads meet, and the only one that keeps state.

Input: link events, commands and archive reports, from any thread, into one queue. Output: an immutable Snapshot after
each event that changed something. It has no thread of its own: whoever shows the bench (screen or text) calls `pump`.
A reading is proposed, decided on, handed to the archive, and counts once the archive reports it committed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from queue import Empty, SimpleQueue
from typing import Protocol

from core.geometry.features import Feature
from core.metrology.readings import Method, Quantity, Reading, Unit
from core.records.events import (
    MarkConfirmed,
    Opened,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
)
from core.records.session import Session
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.instrument_settings import InstrumentSettings
from ui.archive_thread import ArchiveOpened, ArchiveRefused, ArchiveReport, Begun, CommitFailed, Committed, NothingOpen
from ui.bench_steps import (
    closing,
    cursor_of,
    empty_snapshot,
    quantity_of,
    taken_features,
    with_instrument,
    with_session,
)
from ui.capture import CONVERT, DROP, TAKE_THERE, Ask, Refuse, Take, decide
from ui.commands import (
    AnswerQuestion,
    CloseSession,
    Command,
    ConfirmMark,
    HandSays,
    OpenSession,
    ResumeSession,
    SelectFeature,
    StopHand,
    TakeReading,
    TypeReading,
    VoidReading,
)
from ui.cursors import cursor
from ui.live_view import LiveView, Newest, plausible_for
from ui.snapshot import Message, Snapshot
from ui.wording import value_text

BenchEvent = LinkEvent | Command | ArchiveReport
_QUANTITIES = (Quantity.LENGTH, Quantity.ANGLE)


class ArchivePort(Protocol):
    """Where payloads go to be committed; reports come back through `Bench.post`."""

    def begin(self, opened: Opened) -> None:
        """Store a new session's first event."""
        ...

    def append(self, session: str, payload: Payload) -> None:
        """Store one event of a session."""
        ...

    def resume(self) -> None:
        """Look for a session that was not closed."""
        ...


class Bench:
    """State of the bench. `clock_s` is any monotonic clock in seconds; `simulated` stamps every snapshot; `stop_hand`
    stops the simulated hand."""

    def __init__(
        self,
        *,
        archive: ArchivePort,
        instruments: Iterable[InstrumentSettings],
        clock_s: Callable[[], float],
        simulated: bool = False,
        stop_hand: Callable[[], None] = lambda: None,
    ) -> None:
        self._archive = archive
        self._stop_hand = stop_hand
        self._clock_s = clock_s
        settings = {name: cable for cable in instruments for name in cable.instruments}
        self._live = {quantity: LiveView(quantity, settings) for quantity in _QUANTITIES}
        self._queue: SimpleQueue[BenchEvent] = SimpleQueue()
        self._wake: list[Callable[[], None]] = []
        self._session: Session | None = None
        self._chosen: dict[Quantity, Feature | None] = dict.fromkeys(_QUANTITIES)
        self._asked: Ask | None = None
        self._unanswered = 0
        self.snapshot = empty_snapshot(settings, simulated=simulated)

    def post(self, event: BenchEvent) -> None:
        """Put an event into the queue; from any thread, never blocks."""
        self._queue.put(event)
        for wake in self._wake:
            wake()

    send = post

    def subscribe(self, wake: Callable[[], None]) -> None:
        """Have `wake` called, from any thread, when there is something to pump."""
        self._wake.append(wake)

    def pump(self) -> Snapshot:
        """Handle everything that is waiting and return the newest snapshot; the same one when nothing changed."""
        draft = self.snapshot
        while True:
            try:
                event = self._queue.get_nowait()
            except Empty:
                break
            draft = self._handle(draft, event)
        draft = self._refresh_live(draft)
        if draft != self.snapshot:
            self.snapshot = replace(draft, revision=self.snapshot.revision + 1)
        return self.snapshot

    def _handle(self, draft: Snapshot, event: BenchEvent) -> Snapshot:
        match event:
            case IndicationArrived():
                return self._indication(draft, event)
            case FaultSeen():
                return with_instrument(draft, event.instrument, faults=1, last_fault=event.fault.text)
            case LinkChanged():
                return self._link_changed(draft, event)
            case ArchiveOpened(notice=notice):
                return _told(draft, notice, alarm=True) if notice else draft
            case ArchiveRefused(text=text):
                return _told(draft, text, alarm=True)
            case Begun():
                return self._begun(self._answered(draft), event)
            case Committed():
                return self._committed(self._answered(draft), event)
            case NothingOpen():
                return self._answered(draft)
            case CommitFailed(text=text):
                return _told(replace(self._answered(draft), pending=None), f"Not stored: {text}", alarm=True)
            case _:
                return self._command(draft, event)

    def _command(self, draft: Snapshot, command: Command) -> Snapshot:
        match command:
            case OpenSession(opened=opened):
                self._archive.begin(opened)
                return self._waiting(draft)
            case ResumeSession():
                self._archive.resume()
                return self._waiting(draft)
            case HandSays(text=text):
                return replace(draft, hand=text)
            case StopHand():
                self._stop_hand()
                return replace(draft, hand="")
            case _ if draft.session is None or draft.closed:
                return _told(draft, "There is no open session: start a coupon first.", alarm=True)
            case SelectFeature(feature=feature):
                self._chosen[quantity_of(feature)] = feature
                return self._with_cursors(draft)
            case TakeReading(quantity=quantity):
                return self._take_now(draft, quantity)
            case TypeReading(feature=feature, shown=shown, unit=unit):
                return self._propose(draft, feature, unit.to_internal(shown), unit, Method.TYPED, "")
            case VoidReading(number=number, reason=reason):
                return self._store(draft, ReadingVoided(number=number, reason=reason))
            case ConfirmMark():
                return draft if draft.mark_confirmed else self._store(draft, MarkConfirmed())
            case AnswerQuestion():
                return self._answer(draft, command)
            case CloseSession():
                return self._store(draft, closing(draft))

    # Indications

    def _indication(self, draft: Snapshot, event: IndicationArrived) -> Snapshot:
        draft = with_instrument(draft, event.instrument, indications=1)
        view = self._live[event.indication.quantity]
        feature = cursor_of(draft, view.quantity)
        if not view.arrived(event, plausible_for(draft, feature)):
            return draft
        newest = view.fresh(event.arrived_s)
        return draft if newest is None or feature is None else self._propose_newest(draft, feature, newest)

    def _take_now(self, draft: Snapshot, quantity: Quantity) -> Snapshot:
        """Touch or pedal: the person takes what is live, and is told when nothing is."""
        newest, feature = self._live[quantity].fresh(self._clock_s()), cursor_of(draft, quantity)
        if feature is None:
            return _told(draft, "Everything of this kind is read: choose a feature to read again.")
        if newest is None:
            what = "caliper" if quantity is Quantity.LENGTH else "angle gauge"
            return _told(draft, f"No live value from the {what}: nothing was taken.", alarm=True)
        return self._propose_newest(draft, feature, newest)

    def _propose_newest(self, draft: Snapshot, feature: Feature, newest: Newest) -> Snapshot:
        if draft.session is None or draft.closed:
            return draft
        indication = newest.indication
        self._live[indication.quantity].taken(newest)
        return self._propose(draft, feature, indication.value, indication.unit, Method.CABLE, newest.instrument)

    def _propose(
        self, draft: Snapshot, feature: Feature, value: float, unit: Unit, method: Method, instrument: str
    ) -> Snapshot:
        if draft.pending is not None or draft.question is not None:
            # One reading at a time: a double touch, or a button pressed over an open question, takes nothing.
            return draft
        assert draft.coupon is not None
        adjustment = draft.evaluation.adjustment if draft.evaluation else None
        template = Reading(feature=feature, value=value, unit=unit, method=method, instrument=instrument)
        match decide(draft.coupon, feature, value, taken_features(draft), adjustment):
            case Take():
                return self._accept(draft, template)
            case Ask() as ask:
                self._asked, self._asked_reading = ask, template
                return replace(draft, question=ask.question, message=None)
            case Refuse(text=text):
                return _told(draft, text, alarm=True)

    def _accept(self, draft: Snapshot, reading: Reading) -> Snapshot:
        return replace(self._store(draft, ReadingAccepted(reading=reading)), pending=reading.feature)

    def _answer(self, draft: Snapshot, command: AnswerQuestion) -> Snapshot:
        """Only the question that is up can be answered, and its answer is stored before what follows from it."""
        ask, question = self._asked, draft.question
        if ask is None or question is None or question.name != command.question:
            return draft
        self._asked = None
        answered = QuestionAnswered(question=question.name, answer=command.answer, feature=question.feature)
        draft = self._store(replace(draft, question=None), answered)
        if command.answer == DROP:
            return _told(draft, "Dropped: nothing was taken.")
        chosen = ask.alternative if command.answer in (TAKE_THERE, CONVERT) else ask.here
        unit = Unit.INCH if command.answer == CONVERT else self._asked_reading.unit
        return self._accept(draft, replace(self._asked_reading, feature=chosen.feature, value=chosen.value, unit=unit))

    # Archive

    def _store(self, draft: Snapshot, payload: Payload) -> Snapshot:
        assert draft.session is not None
        self._archive.append(draft.session, payload)
        return self._waiting(draft)

    def _waiting(self, draft: Snapshot) -> Snapshot:
        """The archive owes one more answer."""
        self._unanswered += 1
        return replace(draft, storing=True)

    def _answered(self, draft: Snapshot) -> Snapshot:
        self._unanswered -= 1
        return replace(draft, storing=self._unanswered > 0)

    def _begun(self, draft: Snapshot, begun: Begun) -> Snapshot:
        self._session = Session.from_events(begun.events)
        self._chosen = dict.fromkeys(_QUANTITIES)
        self._asked = None
        text = "Where you left off: this coupon is not closed yet." if begun.resumed else "New coupon."
        draft = replace(draft, session=begun.session, question=None, pending=None, message=Message(text=text))
        return self._with_cursors(with_session(draft, self._session))

    def _committed(self, draft: Snapshot, committed: Committed) -> Snapshot:
        if committed.session != draft.session or self._session is None:
            return draft
        self._session = self._session.with_event(committed.event)
        match committed.event.payload:
            case ReadingAccepted(reading=reading):
                self._chosen[quantity_of(reading.feature)] = None
                text = f"Accepted: {reading.feature.label} {value_text(reading.feature, reading.value)}"
                draft = replace(draft, pending=None, message=Message(text=text))
            case ReadingVoided(number=number, reason=reason):
                draft = _told(draft, f"Reading {number} does not count: {reason}.")
            case MarkConfirmed():
                draft = _told(draft, "Orientation mark confirmed.")
            case _:
                pass
        return self._with_cursors(with_session(draft, self._session))

    # Snapshot

    def _with_cursors(self, draft: Snapshot) -> Snapshot:
        asked = draft.evaluation.next_reading if draft.evaluation else None
        length, corner = (cursor(q, self._chosen[q], asked, taken_features(draft)) for q in _QUANTITIES)
        return replace(draft, next_length=length, next_corner=corner)

    def _link_changed(self, draft: Snapshot, event: LinkChanged) -> Snapshot:
        if event.state is LinkState.LOST:
            for view in self._live.values():
                view.lost(event.instrument)
        message = Message(text=event.text, alarm=event.state is LinkState.LOST)
        return replace(with_instrument(draft, event.instrument, state=event.state, text=event.text), message=message)

    def _refresh_live(self, draft: Snapshot) -> Snapshot:
        now_s = self._clock_s()
        length, corner = (self._live[q].view(draft, cursor_of(draft, q), now_s) for q in _QUANTITIES)
        return replace(draft, live_length=length, live_corner=corner)


def _told(draft: Snapshot, text: str, *, alarm: bool = False) -> Snapshot:
    return replace(draft, message=Message(text=text, alarm=alarm))
