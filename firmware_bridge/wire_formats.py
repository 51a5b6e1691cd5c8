"""Every wire format by name: how its decoder is made, how its cable is usually set, how it is asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum

from core.errors import BadInputError
from core.metrology.readings import Quantity, Unit
from firmware_bridge.decoders import ascii_lines, bit_lines, keyboard_lines, multiplexer_lines
from firmware_bridge.decoders.ascii_lines import AngleRange, LineDecoder, LineGrammar
from firmware_bridge.decoders.binary_24bit import BinaryLayout
from firmware_bridge.decoders.bridge_lines import BridgeDecoder
from firmware_bridge.decoders.fault import Decoder
from firmware_bridge.decoders.keyboard_lines import KeyboardDecoder


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
    """What a format leaves open: the unit of lines without one, how an angle instrument counts, how a maker lays the
    binary frame out."""

    unit: Unit | None = None
    angle_range: AngleRange = AngleRange.SIGNED_180
    binary: BinaryLayout = field(default_factory=BinaryLayout)


@dataclass(frozen=True, slots=True, kw_only=True)
class WireFormat:
    """A format an instrument can speak. `request` is empty where it cannot be asked; `typed` on a keyboard cable;
    `other_bauds` are speeds the instrument may be switched to; `bare` where its lengths carry no unit, `several` where
    they carry a channel; `bits` where a layout of 24-bit frames is open."""

    name: str
    title: str
    quantity: Quantity
    framing: Framing
    request: bytes
    make_decoder: Callable[[DecoderOptions], Decoder]
    typed: bool = False
    other_bauds: tuple[int, ...] = ()
    bare: bool = False
    several: bool = False
    bits: bool = False

    @property
    def framings(self) -> tuple[Framing, ...]:
        """The usual framing and those with the format's other speeds."""
        return (self.framing, *(replace(self.framing, baud=baud) for baud in self.other_bauds))


def _lines(
    name: str,
    title: str,
    grammar: LineGrammar,
    framing: Framing,
    request: bytes = b"",
    decoder: type[LineDecoder] = LineDecoder,
    other_bauds: tuple[int, ...] = (),
) -> WireFormat:
    def make_decoder(options: DecoderOptions) -> Decoder:
        return decoder(grammar, unit=options.unit, angle_range=options.angle_range)

    return WireFormat(
        name=name,
        title=title,
        quantity=grammar.quantity,
        framing=framing,
        request=request,
        make_decoder=make_decoder,
        typed=decoder is KeyboardDecoder,
        other_bauds=other_bauds,
        bare=grammar.quantity is Quantity.LENGTH and not grammar.units,
        several="channel" in grammar.pattern.groupindex,
    )


def _frames(
    name: str,
    title: str,
    make_decoder: Callable[[DecoderOptions], Decoder],
    *,
    several: bool = False,
    bits: bool = False,
) -> WireFormat:
    return WireFormat(
        name=name,
        title=title,
        quantity=Quantity.LENGTH,
        framing=_115200_8N1,
        request=b"",
        make_decoder=make_decoder,
        several=several,
        bits=bits,
    )


_4800_7E2 = Framing(baud=4800, data_bits=7, parity=Parity.EVEN, stop_bits=2)
_9600_8N1 = Framing()
_9600_8E1 = Framing(parity=Parity.EVEN)
_115200_8N1 = Framing(baud=115_200)
_CHANNELS = "several lengths, "

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
        _lines(
            "channels-lettered",
            _CHANNELS + "channel A and 3.4 digits",
            multiplexer_lines.LETTERED,
            _9600_8N1,
            other_bauds=(4800, 2400),
        ),
        _lines("channels-worded", _CHANNELS + "channel MW, value, unit", multiplexer_lines.WORDED, _9600_8N1),
        _lines("channels-first", _CHANNELS + "channel first", multiplexer_lines.STATUS_CHANNEL_FIRST, _9600_8N1),
        _lines("channels-last", _CHANNELS + "channel last", multiplexer_lines.STATUS_CHANNEL_LAST, _9600_8N1),
        _lines("typed-length", "length typed as on a keyboard", keyboard_lines.LENGTH, _9600_8N1, b"", KeyboardDecoder),
        _lines("typed-angle", "angle typed as on a keyboard", keyboard_lines.ANGLE, _9600_8N1, b"", KeyboardDecoder),
        _frames("spc-52", "52-bit frames printed as text", lambda options: bit_lines.spc_52bit_decoder()),
        _frames(
            "binary-24",
            "24-bit binary frames printed as text",
            lambda options: bit_lines.binary_24bit_decoder(options.binary),
            bits=True,
        ),
        _frames(
            "bridge",
            "the microcontroller bridge",
            lambda options: BridgeDecoder(options.binary),
            several=True,
            bits=True,
        ),
    )
}


def wire_format(name: str) -> WireFormat:
    """Look a format up; raises BadInputError with the names there are."""
    if name not in WIRE_FORMATS:
        raise BadInputError(f"wire format {name!r}: it must be one of {', '.join(sorted(WIRE_FORMATS))}")
    return WIRE_FORMATS[name]
