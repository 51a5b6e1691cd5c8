"""Every wire format by name: how its decoder is made, how its cable is usually set, how it is asked."""

from collections.abc import Callable
from enum import StrEnum

from msgspec import Struct, field
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology import Quantity, Unit
from core.said import Name, Part, Said, said
from firmware_bridge.decoders import ascii_lines, bit_lines, multiplexer_lines
from firmware_bridge.decoders.ascii_lines import AngleRange, Axis, KeyboardDecoder, LineDecoder, LineGrammar
from firmware_bridge.decoders.binary_24bit import BinaryLayout
from firmware_bridge.decoders.bridge_lines import BridgeDecoder
from firmware_bridge.decoders.fault import Decoder
from firmware_bridge.decoders.packet_lines import PacketLayout, packet_decoder


class Parity(StrEnum):
    """Parity of a serial line, by the letter used everywhere."""

    NONE = "N"
    EVEN = "E"
    ODD = "O"


class Framing(Struct, frozen=True, kw_only=True):
    """Serial settings. `dtr` and `rts` are levels: some optical cables draw their power from one of them."""

    baud: int = 9600
    data_bits: int = 8
    parity: Parity = Parity.NONE
    stop_bits: int = 1
    dtr: bool = True
    rts: bool = True

    def __post_init__(self) -> None:
        if not 300 <= self.baud <= 921_600:
            raise BadInputError(said("baud rate {baud}: it must lie between 300 and 921600", baud=self.baud))
        if self.data_bits not in (7, 8) or self.stop_bits not in (1, 2):
            raise BadInputError(
                said("framing {framing}: 7 or 8 data bits and 1 or 2 stop bits", framing=Name(str(self)))
            )

    def __str__(self) -> str:
        return f"{self.baud} {self.data_bits}{self.parity}{self.stop_bits}"


_4800_7E2 = Framing(baud=4800, data_bits=7, parity=Parity.EVEN, stop_bits=2)
_9600_8N1 = Framing()
_9600_8E1 = Framing(parity=Parity.EVEN)
_115200_8N1 = Framing(baud=115_200)


class DecoderOptions(Struct, frozen=True, kw_only=True):
    """What a format leaves open: the unit of lines without one, how an angle instrument counts and which of its two
    axes is meant, how a maker lays the binary frame or packet out, and whether it was seen to read as the display does.
    `streams` while the instrument may speak at any moment: then the cable may come up in the middle of a line."""

    unit: Unit | None = None
    angle_range: AngleRange = AngleRange.SIGNED_180
    axis: Axis = Axis.X
    binary: BinaryLayout = field(default_factory=BinaryLayout)
    packet: PacketLayout = field(default_factory=PacketLayout)
    binary_proven: bool = False
    streams: bool = True


class WireFormat(Struct, frozen=True, kw_only=True):
    """A format an instrument can speak. `request` is empty where it cannot be asked; `typed` on a keyboard cable;
    `lines` are some as manuals print them, `other_framings` settings the instrument may be switched to or come with;
    `bare` where its lengths may carry no unit, `several` where they carry a channel, `axes` where an angle carries an
    axis; `bits` where a layout of 24-bit frames is open, `packets` where the layout of packets is."""

    name: str
    title: Said
    make_decoder: Callable[[DecoderOptions], Decoder]
    quantity: Quantity = Quantity.LENGTH
    framing: Framing = _115200_8N1
    request: bytes = b""
    lines: tuple[str, ...] = ()
    typed: bool = False
    other_framings: tuple[Framing, ...] = ()
    bare: bool = False
    several: bool = False
    axes: bool = False
    bits: bool = False
    packets: bool = False

    @property
    def how(self) -> Part:
        """What tells it from the others of its quantity: the end of its title."""
        return next((part for name, part in self.title.parts if name == "how"), self.title)

    @property
    def framings(self) -> tuple[Framing, ...]:
        """The usual framing and the others."""
        return (self.framing, *self.other_framings)


def _lines(
    name: str,
    title: Said,
    grammar: LineGrammar,
    framing: Framing,
    *lines: str,
    request: bytes = b"",
    decoder: type[LineDecoder] = LineDecoder,
    other_framings: tuple[Framing, ...] = (),
) -> WireFormat:
    typed = decoder is KeyboardDecoder

    def make_decoder(options: DecoderOptions) -> Decoder:
        return decoder(
            grammar,
            unit=options.unit,
            angle_range=options.angle_range,
            axis=options.axis,
            streams=options.streams and not typed,
        )

    return WireFormat(
        name=name,
        title=title,
        quantity=grammar.quantity,
        framing=framing,
        request=request,
        make_decoder=make_decoder,
        lines=lines,
        typed=typed,
        other_framings=other_framings,
        bare=grammar.quantity is Quantity.LENGTH and not grammar.always_unit,
        several=b"(?P<channel>" in grammar.pattern,
        axes=b"(?P<axis>" in grammar.pattern,
    )


def _packets(name: str, title: Said, quantity: Quantity, *lines: str) -> WireFormat:
    usual = Unit.DEG if quantity is Quantity.ANGLE else Unit.MM
    return WireFormat(
        name=name,
        title=title,
        quantity=quantity,
        make_decoder=lambda options: packet_decoder(
            options.packet, options.unit or usual, proven=options.binary_proven
        ),
        lines=lines,
        bare=quantity is Quantity.LENGTH,
        packets=True,
    )


WIRE_FORMATS: dict[str, WireFormat] = {
    row.name: row
    for row in (
        _lines(
            "length-3.3",
            said("length, {how}", how=said("cable at 4800 baud")),
            ascii_lines.LENGTH,
            _4800_7E2,
            *("+012.345", "+01.23456", " 120.34", "+0123.456", "   119.9800 mm", "+028.35 mm <"),
            request=b"?\r",
            other_framings=(replace(_4800_7E2, baud=9600),),
        ),
        _lines(
            "length-8-unit",
            said("length, {how}", how=said("cable at 9600 baud")),
            ascii_lines.LENGTH,
            _9600_8N1,
            *("+  12.345 ,MM", "+ 2.1380, MM", "120.34 mm", "4.7235 in", "28.35 MM", "5.637", "120.34 H"),
            request=b"R\r",
        ),
        _lines(
            "angle-x",
            said("angle, {how}", how=said("X= or Y=")),
            ascii_lines.ANGLE_X,
            _9600_8E1,
            *("X=+00.430", "X=-00.084", "X=+00.43", "Y=-00.08"),
            other_framings=(_9600_8N1,),
        ),
        _lines(
            "angle-lettered",
            said("angle, {how}", how=said("AP or AH and a unit letter")),
            ascii_lines.ANGLE_LETTERED,
            _9600_8N1,
            *("APD  89.95", "AHD-0.4"),
        ),
        _lines(
            "angle-plain",
            said("angle, {how}", how=said("a plain number")),
            ascii_lines.ANGLE_PLAIN,
            _9600_8N1,
            *("359,99", "089.95", "-0.43", "89.95\xb0", "89.95 deg"),
        ),
        _lines(
            "angle-dms",
            said("angle, {how}", how=said("degrees minutes seconds")),
            ascii_lines.ANGLE_SEXAGESIMAL,
            _9600_8N1,
            *("89\xb059'30\"", "-0\xb030'", "+089:59:30 dms"),
        ),
        _lines(
            "channels-lettered",
            said("several lengths, {how}", how=said("channel and a letter")),
            multiplexer_lines.LETTERED,
            _9600_8N1,
            *("01A-001.2340", "01A+00001.75", "01A+0000.123", "00NMG-09.9999"),
            other_framings=(replace(_9600_8N1, baud=4800), replace(_9600_8N1, baud=2400)),
        ),
        _lines(
            "channels-worded",
            said("several lengths, {how}", how=said("channel MW, value, unit")),
            multiplexer_lines.WORDED,
            _9600_8N1,
            *("1 MW+003.4665 inch", "2 MW-00088.29 mm"),
        ),
        _lines(
            "channels-behind",
            said("several lengths, {how}", how=said("sender's number behind")),
            multiplexer_lines.SENDER_BEHIND,
            _9600_8N1,
            *("5.637 MM 2", "5.637 IN 3 5", "28.35 2"),
        ),
        _lines(
            "channels-first",
            said("several lengths, {how}", how=said("channel first")),
            multiplexer_lines.STATUS_CHANNEL_FIRST,
            _9600_8N1,
            "001, -1.2340, NRM, 01",
        ),
        _lines(
            "channels-last",
            said("several lengths, {how}", how=said("channel last")),
            multiplexer_lines.STATUS_CHANNEL_LAST,
            _9600_8N1,
            "001, -1.2340, NRM, 01",
        ),
        _lines(
            "typed-length",
            said("length typed as on a keyboard"),
            ascii_lines.LENGTH,
            _9600_8N1,
            *("120.34", "-0,01", "12.34 mm", "4.7375in"),
            decoder=KeyboardDecoder,
        ),
        _lines(
            "typed-angle",
            said("angle typed as on a keyboard"),
            ascii_lines.ANGLE_PLAIN,
            _9600_8N1,
            "89.95",
            decoder=KeyboardDecoder,
        ),
        WireFormat(
            name="spc-52",
            title=said("52-bit frames printed as text: 13 digits, or bits"),
            make_decoder=lambda options: bit_lines.spc_52bit_decoder(),
            lines=("FFFF801234530", "FFFF021076540"),
        ),
        WireFormat(
            name="binary-24",
            title=said("24-bit binary frames printed as text"),
            make_decoder=lambda options: bit_lines.binary_24bit_decoder(options.binary, proven=options.binary_proven),
            lines=("010000001111010000000000",),
            bits=True,
        ),
        WireFormat(
            name="bridge",
            title=said("the microcontroller bridge"),
            make_decoder=lambda options: BridgeDecoder(options.binary, proven=options.binary_proven),
            lines=("CW1,1,7,002F02,B24*9D0B",),
            several=True,
            bits=True,
        ),
        _packets(
            "packets-length", said("length, {how}", how=said("packets described by hand")), Quantity.LENGTH, "D2040000"
        ),
        _packets(
            "packets-angle", said("angle, {how}", how=said("packets described by hand")), Quantity.ANGLE, "23230000"
        ),
    )
}


# Formats that became part of another one; instruments remembered under these names go on.
FORMER_NAMES = {"length-4.3": "length-3.3"}


def wire_format(name: str) -> WireFormat:
    """Look a format up, under a name it once had as well; raises BadInputError with the names there are."""
    name = FORMER_NAMES.get(name, name)
    if name not in WIRE_FORMATS:
        known = Name(", ".join(sorted(WIRE_FORMATS)))
        raise BadInputError(said("wire format '{name}': it must be one of {known}", name=Name(name), known=known))
    return WIRE_FORMATS[name]
