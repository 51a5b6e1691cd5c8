"""`cornerwise instruments --prove NAME`: which layout the frames of a binary instrument have, or where in its packets
the number of one on radio or with USB reports stands.

Input: its cable, and what its display shows with the jaws closed and open; of packets also below zero. Output: the
layout remembered as proven, or why none is. Status 69 when nothing comes down the cable.
"""

import time
from collections.abc import Callable

from msgspec import Struct, field
from msgspec.structs import replace

from core.errors import BadInputError, NotAvailableError
from core.metrology import Quantity, Unit
from core.said import Length, Name, Number, Part, said
from firmware_bridge import (
    LAYOUTS,
    Frame,
    InstrumentSettings,
    Opening,
    SettingsStore,
    frames_in,
    make_link,
    packets_in,
    proven_layouts,
    proven_packet_layout,
    the_proven_one,
)
from ui.speech import Speech
from ui.terminal import ExitStatus, typed_number

LISTEN_S = 2.0
# On radio it is connected to first, and may wait for its button.
PACKETS_S = 20.0
ENOUGH = 3
LOOK_S = 0.1


class Ear(Struct):
    """A tap that keeps what came down the cable."""

    heard: bytearray = field(default_factory=bytearray)

    def received(self, data: bytes, at_s: float) -> None:
        """Bytes that came."""
        self.heard += data

    def sent(self, data: bytes, at_s: float, *, meant: bool) -> None:
        """Nothing: a binary instrument is not asked."""


def prove(store: SettingsStore, name: str, speech: Speech, answer: Callable[[str], str] = input) -> int:
    """Ask for two openings, listen at each, remember what is proven."""
    settings = next((one for one in store.load() if one.name == name), None)
    if settings is not None and settings.format.packets:
        return _prove_packets(store, settings, speech, answer)
    if settings is None or not settings.format.bits:
        raise BadInputError(
            said("{name}: no instrument of that name whose frames have a layout to be proven", name=Name(name))
        )
    closed_mm = typed_number(
        answer(speech.say(said("Close the jaws and set zero. What does the display show, in mm?")) + " ")
    )
    closed = _frames(settings)
    opened_mm = typed_number(
        answer(
            speech.say(
                said("Open the jaws to about {width}. What does the display show, in mm?", width=Length(10.0, None))
            )
            + " "
        )
    )
    opened = _frames(settings)
    remaining = proven_layouts(closed, opened, closed_mm, opened_mm)
    proven = the_proven_one(remaining)
    if proven is None:
        if remaining:
            why = said("{name}: nothing is proven: set zero somewhere else and try again", name=Name(name))
        else:
            why = said("{name}: nothing is proven: no layout reads as the display does", name=Name(name))
        print(speech.say(why))
        return ExitStatus.NOT_AVAILABLE
    options = replace(settings.options, binary=LAYOUTS[proven], binary_proven=True)
    store.remember(replace(settings, options=options))
    found: dict[str, Part] = {"name": Name(name), "layout": Name(proven), "at": Length(opened_mm)}
    print(speech.say(said("{name}: its frames are laid out as {layout}, proven at {at}", **found)))
    return ExitStatus.OK


_OPENINGS = (
    said("Close the jaws and set zero. What does the display show? "),
    said("Open the jaws to about 10 mm. What does the display show? "),
    said("Set zero there, and close the jaws. What does the display show? "),
)


def _prove_packets(
    store: SettingsStore, settings: InstrumentSettings, speech: Speech, answer: Callable[[str], str]
) -> int:
    """Above and below zero, for only so is it seen how wide the number is."""
    openings = []
    for question in _OPENINGS:
        display = typed_number(answer(speech.say(question)))
        openings.append(Opening(packets=_packets(settings), display=display))
    unit = settings.options.unit or (Unit.DEG if settings.quantity is Quantity.ANGLE else Unit.MM)
    packet = proven_packet_layout(openings, unit)
    instrument = Name(settings.name)
    if packet is None:
        text = said(
            "{instrument}: nothing is proven: no one place in its packets reads as the display does",
            instrument=instrument,
        )
        print(speech.say(text))
        return ExitStatus.NOT_AVAILABLE
    options = replace(settings.options, packet=packet, binary_proven=True)
    store.remember(replace(settings, options=options))
    text = said(
        "{instrument}: its number is {count} bytes from byte {first} on, proven at three openings",
        instrument=instrument,
        count=packet.byte_count,
        first=packet.first_byte + 1,
    )
    print(speech.say(text))
    return ExitStatus.OK


def _frames(settings: InstrumentSettings) -> tuple[Frame, ...]:
    frames = frames_in(_heard(settings, LISTEN_S, lambda heard: False))
    if not frames:
        raise NotAvailableError(
            said(
                "{name}: no frame came down its cable in {listen} s", name=Name(settings.name), listen=Number(LISTEN_S)
            )
        )
    return frames


def _packets(settings: InstrumentSettings) -> tuple[bytes, ...]:
    packets = packets_in(_heard(settings, PACKETS_S, lambda heard: len(packets_in(heard)) >= ENOUGH))
    if not packets:
        raise NotAvailableError(
            said("{name}: no packet came in {listen} s", name=Name(settings.name), listen=Number(PACKETS_S))
        )
    return packets


def _heard(settings: InstrumentSettings, listen_s: float, enough: Callable[[bytes], bool]) -> bytes:
    ear = Ear()
    link = make_link(settings, ear)
    link.start(lambda event: None)
    try:
        until_s = time.monotonic() + listen_s
        while time.monotonic() < until_s and not enough(bytes(ear.heard)):
            time.sleep(LOOK_S)
    finally:
        link.close()
    return bytes(ear.heard)
