"""What the instruments screen says: a card for each instrument in use and for each port with a stranger on it. Pure.

Input: a snapshot. Output: cards with sentences and the commands behind their buttons.
"""

import math
from collections.abc import Iterator

from msgspec import Struct

from core.metrology import MeasuringSetup, Quantity
from core.records import CheckHistory, InstrumentBook, instrument_shown, last_check_sentence, next_check_text
from core.said import NOTHING, Angle, Length, Name, Number, Part, Series, paragraph, said, said_counted
from firmware_bridge import HID, RADIO, InstrumentSettings, LinkState
from ui.bench import AskPort, AskWhatHappened, ForgetInstrument, ListenPort, TryInstrument, UseInstrument
from ui.state import Command, InstrumentStatus, Snapshot, StrangePort

NONE_FOUND = said("None connected: plug its cable in, or type the readings.")
SOME_FOUND = said("A cable that is pulled comes back by itself. Bytes that are no reading are counted and never used.")
STRANGER = said("Something is plugged in that speaks like an instrument and is not in use yet.")
OPENING = said("Opening may reset it: never what may be a machine's controller.")
NEW_PORT = said("Something new is plugged in. It is left alone until you touch Listen.")
ASKING = said("Asking sends bytes to it. Never ask what may be the machine's controller.")
ONLY_LISTENED = said("Numbers count once they were compared with its display.")
# As many offers as fit beside each other on a button row.
MOST_OFFERS = 2


class CardButton(Struct, frozen=True, kw_only=True):
    """Words, and the command they send, or the port whose settings they open."""

    words: Part
    command: Command | None = None
    opens: str = ""


class InstrumentCard(Struct, frozen=True, kw_only=True):
    """One instrument or port; `key` is stable as long as it is the same one."""

    key: str
    title: Part
    state: Part
    alarm: bool
    lines: tuple[Part, ...]
    buttons: tuple[CardButton, ...]
    check: Part = NOTHING
    hand: Part = NOTHING


def summary(snapshot: Snapshot) -> Part:
    """The sentence above the cards."""
    if any(port.offers for port in snapshot.ports):
        return STRANGER
    if any(not port.opened for port in snapshot.ports):
        return NEW_PORT
    return SOME_FOUND if snapshot.instruments else NONE_FOUND


def instrument_cards(snapshot: Snapshot) -> tuple[InstrumentCard, ...]:
    """First one that is listened to, for its button is to be pressed; then strangers that were recognised, and those
    nobody has touched, for they wait for an answer; silent ones last."""
    listening = tuple(_stranger(port) for port in snapshot.ports if port.listening)
    offered = tuple(_stranger(port) for port in snapshot.ports if port.offers)
    unopened = tuple(_stranger(port) for port in snapshot.ports if not port.opened)
    silent = tuple(_stranger(port) for port in snapshot.ports if port.opened and not (port.offers or port.listening))
    return listening + offered + unopened + tuple(_known(status, snapshot) for status in snapshot.instruments) + silent


def _known(status: InstrumentStatus, snapshot: Snapshot) -> InstrumentCard:
    book = snapshot.book
    lost = status.state is LinkState.LOST
    buttons = [CardButton(words=said("Test"), command=TryInstrument(instrument=status.name))]
    if status.port:
        buttons.append(CardButton(words=said("Settings"), opens=status.port))
        buttons.append(CardButton(words=said("Forget"), command=ForgetInstrument(port=status.port)))
    measuring = snapshot.session is not None and not snapshot.closed
    if measuring and status.quantity is not None and book.history(status.name).last is not None:
        happened = AskWhatHappened(quantity=status.quantity)
        buttons.append(CardButton(words=said("Zero lost"), command=happened))
    return InstrumentCard(
        key=f"instrument {status.name}",
        title=instrument_shown(status.name),
        state=said("LOST") if lost else said("connected"),
        alarm=lost,
        lines=(status.text, says(status), counts_line(status)),
        buttons=tuple(buttons),
        check=check_line(book.history(status.name), book),
        hand=hand_line(status.name, snapshot),
    )


def hand_line(instrument: str, snapshot: Snapshot) -> Part:
    """How far apart the person's repeats with it lie, beside what it is set to; nothing before any was repeated."""
    learned = snapshot.evaluation.adjustment.learned.hands if snapshot.evaluation else ()
    now = {hand.key.instrument: (hand.key.quantity, hand.variance) for hand in learned if hand.repeats or hand.earlier}
    before = {hand.instrument: (hand.quantity, hand.variance) for hand in snapshot.setup.hands or snapshot.book.hands}
    known = (before | now).get(instrument)
    if known is None:
        return NOTHING
    quantity, variance = known
    return said(
        "your hand {learned}, set {set}",
        learned=_scatter(quantity, math.sqrt(variance)),
        set=_scatter(quantity, _set(quantity, snapshot.setup)),
    )


def _set(quantity: Quantity, setup: MeasuringSetup) -> float:
    return setup.caliper.repeatability if quantity is Quantity.LENGTH else setup.gauge.repeatability


def _scatter(quantity: Quantity, sd: float) -> Part:
    return Length(sd, decimals=2) if quantity is Quantity.LENGTH else Angle(sd, decimals=2)


def check_line(history: CheckHistory, book: InstrumentBook) -> Series:
    """The last check of an instrument and when to make the next."""
    return paragraph(last_check_sentence(history), next_check_text(history, book.read_utc))


def counts_line(status: InstrumentStatus) -> Part:
    """How much came in, and what of it was no reading."""
    came = said_counted("{count} indication", "{count} indications", count=status.indications)
    if not status.last_fault:
        return said("{indications}, {faults} not understood", indications=came, faults=status.faults)
    return said(
        "{indications}, {faults} not understood, the last: {fault}",
        indications=came,
        faults=status.faults,
        fault=status.last_fault,
    )


def says(status: InstrumentStatus) -> Part:
    """What an instrument said last, and how often it speaks."""
    if not status.last:
        return said("has said nothing yet")
    if status.rate_hz is None:
        return said("last: {value}", value=status.last)
    return said("last: {value}, {rate} a second", value=status.last, rate=Number(status.rate_hz, 1))


def _stranger(port: StrangePort) -> InstrumentCard:
    return InstrumentCard(
        key=f"port {port.path}",
        title=Name(port.description),
        state=said("listening") if port.listening else said("not in use"),
        alarm=False,
        lines=(port.text, Name(port.path), _warning(port)),
        buttons=() if port.listening else tuple(_answers(port)),
    )


def _warning(port: StrangePort) -> Part:
    if port.path.startswith((RADIO, HID)):
        return ONLY_LISTENED if not port.offers else NOTHING
    if not port.opened:
        return OPENING
    return NOTHING if port.offers or port.listening else ASKING


def _answers(port: StrangePort) -> Iterator[CardButton]:
    for settings in port.offers[:MOST_OFFERS]:
        yield CardButton(words=_offer(settings, port), command=UseInstrument(settings=settings))
    only_listened = port.path.startswith((RADIO, HID))
    if not port.opened or (only_listened and not port.offers):
        yield CardButton(words=said("Listen"), command=ListenPort(path=port.path))
    elif not port.offers:
        yield CardButton(words=said("Ask it"), command=AskPort(path=port.path))
    # What on radio says the number is known once it was listened to.
    if port.radio is not None or not port.path.startswith(RADIO):
        yield CardButton(words=said("Set up by hand"), opens=port.path)


def _offer(settings: InstrumentSettings, port: StrangePort) -> Part:
    """Formats that look alike are told apart by the end of their titles, which fits on a button."""
    if len(port.offers) == 1:
        return said("Use as {instrument}", instrument=instrument_shown(settings.name))
    return said("Use: {format}", format=settings.format.how)
