"""`cornerwise instruments --prove NAME`: which layout the frames of a binary instrument have.

Input: its cable, and what its display shows with the jaws closed and open. Output: the layout remembered as proven, or
why none is. Status 69 when nothing comes down the cable.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from core.errors import BadInputError, NotAvailableError
from core.metrology.readings import Unit
from core.said import Length, Name, Number, Part, said
from firmware_bridge.decoders.binary_24bit import LAYOUTS
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.layout_proof import Frame, frames_in, proven_layouts, the_proven_one
from firmware_bridge.links import make_link
from firmware_bridge.settings_store import SettingsStore
from ui.speech.speech import Speech
from ui.terminal.exit_status import ExitStatus

LISTEN_S = 2.0


@dataclass(slots=True)
class Ear:
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
    if settings is None or not settings.format.bits:
        raise BadInputError(
            said("{name}: no instrument of that name whose frames have a layout to be proven", name=Name(name))
        )
    closed_mm = _shown(
        answer(speech.say(said("Close the jaws and set zero. What does the display show, in mm?")) + " ")
    )
    closed = _frames(settings)
    opened_mm = _shown(
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


def _shown(text: str) -> float:
    try:
        return Unit.MM.to_internal(float(text.strip().replace(",", ".")))
    except ValueError as error:
        raise BadInputError(said("'{text}': it must be the number on the display", text=Name(text))) from error


def _frames(settings: InstrumentSettings) -> tuple[Frame, ...]:
    ear = Ear()
    link = make_link(settings, ear)
    link.start(lambda event: None)
    try:
        time.sleep(LISTEN_S)
    finally:
        link.close()
    frames = frames_in(bytes(ear.heard))
    if not frames:
        raise NotAvailableError(
            said(
                "{name}: no frame came down its cable in {listen} s", name=Name(settings.name), listen=Number(LISTEN_S)
            )
        )
    return frames
