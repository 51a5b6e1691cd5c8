"""What the page of one cable says: each setting as recognised or set by hand, and what is heard under them. Pure.

Stage: screen. Input: a snapshot and the path of a port. Output: CablePage, and the command behind an action.
"""

from collections.abc import Iterator

from msgspec import Struct

from core.metrology import Quantity
from core.records import instrument_shown
from core.said import Name, Part, Series, said
from firmware_bridge import HID, RADIO, Capture, InstrumentSettings, LinkState, Sends, free_name
from ui.bench import ForgetInstrument, UseInstrument
from ui.pages.cable_settings import TYPED_ON, choices_of, names_of, title_of, value_of
from ui.pages.instruments import counts_line, says
from ui.state import Command, Snapshot, UsedCable

NO_CABLE = said("No cable")
CAUTION = said(
    "Nothing is sent to it. Opening a port may still restart a machine's controller: set up instruments only."
)


class SettingRow(Struct, frozen=True, kw_only=True):
    """One setting as it is; `origin` says where it comes from, in words."""

    name: str
    title: Part
    value: Part
    origin: Part


class CablePage(Struct, frozen=True, kw_only=True):
    """Everything the page of one cable shows; `in_use` while what is heard is heard under these settings: then it can
    be forgotten too, in a place of its own, for what is touched here makes the other actions come and go."""

    title: Part
    heard: tuple[Part, ...]
    rows: tuple[SettingRow, ...]
    in_use: bool
    actions: tuple[tuple[str, Part], ...]


def cable_on(snapshot: Snapshot, path: str) -> UsedCable | None:
    """The cable in use on a port, None where there is none."""
    return next((cable for cable in snapshot.cables if cable.settings.port == path), None)


def first_path(snapshot: Snapshot) -> str:
    """The first cable in use, else the first port; empty where there is neither."""
    paths = [cable.settings.port for cable in snapshot.cables] + [port.path for port in snapshot.ports]
    return paths[0] if paths else ""


def first_settings(snapshot: Snapshot, path: str) -> InstrumentSettings:
    """What to begin with on a port that is not in use: what is offered there, else the commonest format."""
    offered = next((port.offers[0] for port in snapshot.ports if port.path == path and port.offers), None)
    if offered is not None:
        return offered
    typed = path.endswith(TYPED_ON)
    in_packets = path.startswith((RADIO, HID))
    return InstrumentSettings(
        name=free_name("caliper", taken_names(snapshot)),
        port=path,
        format_name="typed-length" if typed else "packets-length" if in_packets else "length-3.3",
        quantity=Quantity.LENGTH,
        sends=Sends.BUTTON if typed else Sends.STREAM,
        capture=Capture.DATA_BUTTON if typed else Capture.STEADY_HOLD,
        radio=next((port.radio for port in snapshot.ports if port.path == path), None),
    )


def taken_names(snapshot: Snapshot) -> tuple[str, ...]:
    """The names of all instruments on cables."""
    return tuple(name for cable in snapshot.cables for name in (cable.settings.name, *cable.settings.instruments))


def cable_page(snapshot: Snapshot, path: str, draft: InstrumentSettings | None) -> CablePage:
    """The page of the cable on this port; `draft` are settings chosen for a port that is not in use yet."""
    cable = cable_on(snapshot, path)
    settings = cable.settings if cable else draft or first_settings(snapshot, path)
    recognised = cable.recognised if cable else None
    return CablePage(
        title=Series(tuple(map(instrument_shown, settings.instruments)), joint=", "),
        heard=tuple(_heard(snapshot, settings, in_use=cable is not None)),
        rows=tuple(_rows(settings, recognised, known=cable is not None)),
        in_use=cable is not None,
        actions=tuple(_actions(cable)),
    )


def _heard(snapshot: Snapshot, settings: InstrumentSettings, *, in_use: bool) -> Iterator[Part]:
    if not in_use:
        yield from (port.text for port in snapshot.ports if port.path == settings.port)
        yield CAUTION
        return
    for status in snapshot.instruments:
        if status.name in settings.instruments:
            if status.state is LinkState.LOST:
                yield said("LOST: {reason}", reason=status.text)
            name = instrument_shown(status.name)
            yield (
                said("{instrument}: {words}", instrument=name, words=says(status))
                if settings.channels
                else says(status)
            )
            yield counts_line(status)


def _rows(settings: InstrumentSettings, recognised: InstrumentSettings | None, *, known: bool) -> Iterator[SettingRow]:
    for name in names_of(settings):
        value = value_of(settings, name)
        if not known:
            origin = said("not in use yet")
        elif recognised is None:
            origin = said("as remembered")
        else:
            origin = said("as recognised") if value == value_of(recognised, name) else said("by hand")
        words = dict(choices_of(settings, name)).get(value, Name(value))
        yield SettingRow(name=name, title=title_of(name), value=words, origin=origin)


def _actions(cable: UsedCable | None) -> Iterator[tuple[str, Part]]:
    if cable is None:
        yield "use", said("Use it so")
    elif cable.recognised is not None and cable.recognised != cable.settings:
        yield "recognised", said("As recognised")


def command_of(snapshot: Snapshot, path: str, draft: InstrumentSettings | None, action: str) -> Command | None:
    """The command behind an action of the page; None where there is nothing to tell the bench."""
    cable = cable_on(snapshot, path)
    match action:
        case "use":
            return UseInstrument(settings=draft or first_settings(snapshot, path), by_hand=True)
        case "recognised" if cable is not None and cable.recognised is not None:
            return UseInstrument(settings=cable.recognised)
        case "forget":
            return ForgetInstrument(port=path)
        case _:
            return None
