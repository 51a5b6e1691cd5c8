"""Every wire format by name: how its decoder is made, how its cable is usually set, how it is asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from core.errors import BadInputError
from core.metrology.readings import Quantity, Unit
from firmware_bridge.decoders import ascii_lines
from firmware_bridge.decoders.ascii_lines import AngleRange, LineDecoder, LineGrammar
from firmware_bridge.decoders.fault import Decoder


class Parity(StrEnum):
    """Parity of a serial line, by the letter used everywhere."""

    NONE = "N"
    EVEN = "E"
    ODD = "O"


@dataclass(frozen=True, slots=True, kw_only=True)
class Framing:
    """Serial settings. `dtr` and `rts` are levels: some optical cables draw their power from one of them."""

    baud: int = 9600
    data_bits: int = 8
    parity: Parity = Parity.NONE
    stop_bits: int = 1
    dtr: bool = True
    rts: bool = True

    def __post_init__(self) -> None:
        if not 300 <= self.baud <= 921_600:
            raise BadInputError(f"baud rate {self.baud}: it must lie between 300 and 921600")
        if self.data_bits not in (7, 8) or self.stop_bits not in (1, 2):
            raise BadInputError(f"framing {self}: 7 or 8 data bits and 1 or 2 stop bits")

    def __str__(self) -> str:
        return f"{self.baud} {self.data_bits}{self.parity}{self.stop_bits}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DecoderOptions:
    """What a format leaves open: the unit of lines without one, and how an angle instrument counts."""

    unit: Unit | None = None
    angle_range: AngleRange = AngleRange.SIGNED_180


@dataclass(frozen=True, slots=True, kw_only=True)
class WireFormat:
    """A format an instrument can speak. `request` is empty where it cannot be asked."""

    name: str
    title: str
    quantity: Quantity
    framing: Framing
    request: bytes
    make_decoder: Callable[[DecoderOptions], Decoder]


def _lines(name: str, title: str, grammar: LineGrammar, framing: Framing, request: bytes = b"") -> WireFormat:
    def make_decoder(options: DecoderOptions) -> Decoder:
        return LineDecoder(grammar, unit=options.unit, angle_range=options.angle_range)

    return WireFormat(
        name=name,
        title=title,
        quantity=grammar.quantity,
        framing=framing,
        request=request,
        make_decoder=make_decoder,
    )


_4800_7E2 = Framing(baud=4800, data_bits=7, parity=Parity.EVEN, stop_bits=2)
_9600_8N1 = Framing()
_9600_8E1 = Framing(parity=Parity.EVEN)

WIRE_FORMATS: dict[str, WireFormat] = {
    row.name: row
    for row in (
        _lines("length-3.3", "length, sign and 3.3 digits", ascii_lines.FIXED_3_3, _4800_7E2, b"?\r"),
        _lines("length-4.3", "length, sign and 4.3 digits", ascii_lines.FIXED_4_3, _4800_7E2),
        _lines("length-8-unit", "length, 8 characters and unit", ascii_lines.PADDED_8_UNIT, _9600_8N1, b"R\r"),
        _lines("angle-x", "angle, X= and 2.3 digits", ascii_lines.ANGLE_X, _9600_8E1),
        _lines("angle-lettered", "angle, AP or AH and a unit letter", ascii_lines.ANGLE_LETTERED, _9600_8N1),
        _lines("angle-plain", "angle, a plain number", ascii_lines.ANGLE_PLAIN, _9600_8N1),
        _lines("angle-dms", "angle, degrees minutes seconds", ascii_lines.ANGLE_SEXAGESIMAL, _9600_8N1),
    )
}


def wire_format(name: str) -> WireFormat:
    """Look a format up; raises BadInputError with the names there are."""
    if name not in WIRE_FORMATS:
        raise BadInputError(f"wire format {name!r}: it must be one of {', '.join(sorted(WIRE_FORMATS))}")
    return WIRE_FORMATS[name]
