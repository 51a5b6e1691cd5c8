"""The settings of one cable as a person changes them by touch: what there is to set, what it can be, what then holds.

Stage: instruments. Input: InstrumentSettings and a choice by its stable word. Output: the settings after it. The same
settings as `cornerwise instruments --set`; whether an instrument may be asked is not among them: that sends bytes, and
is agreed to where the instrument is recognised.
"""

from collections.abc import Collection

from msgspec.structs import replace

from core.metrology import Quantity, Unit
from core.said import Name, Part, said
from firmware_bridge import (
    ANGLE_HOLD,
    LAYOUTS,
    WIRE_FORMATS,
    AngleRange,
    Axis,
    Capture,
    Framing,
    GaugeKind,
    HoldSettings,
    InstrumentSettings,
    PacketLayout,
    Parity,
    Sends,
    WireFormat,
    free_name,
    wire_format,
)

TYPED_ON = "-event-kbd"
SPEEDS = ("1200", "2400", "4800", "9600", "19200", "38400", "57600", "115200")
FRAMES = ("8N1", "8E1", "8O1", "7E2", "7E1", "7O1", "7O2", "7N2", "8N2")
LEVELS = (("high", said("high")), ("low", said("low")))
CHANNELS = ("1", "2", "3", "4")
CHANNEL_NAMES = {
    "long caliper": said("long caliper"),
    "short caliper": said("short caliper"),
    "inside caliper": said("inside caliper"),
    "depth gauge": said("depth gauge"),
}
NOTHING_ON_IT = ("", said("nothing on it"))
TITLES = {
    "format": said("It speaks"),
    "speed": said("Speed"),
    "frame": said("Bits, parity, stop"),
    "dtr": said("DTR"),
    "rts": said("RTS"),
    "unit": said("Bare numbers are"),
    "range": said("Angle counts"),
    "kind": said("Gauge shows"),
    "axis": said("Axis"),
    "bits": said("Bits of a frame"),
    "place": said("Number begins at byte"),
    "width": said("Bytes of it"),
    "order": said("Lowest byte"),
    "decimals": said("Decimals"),
    "proven": said("Compared"),
    "sends": said("It sends"),
}
_WORDS = {
    "unit": ((Unit.MM, said("millimetres")), (Unit.INCH, said("inches"))),
    "range": (
        (AngleRange.SIGNED_180, said("-180 to 180")),
        (AngleRange.TO_360, said("0 to 360")),
        (AngleRange.TO_180, said("0 to 180")),
    ),
    "kind": ((GaugeKind.BLADE, said("the corner: bevel protractor")), (GaugeKind.TILT, said("its tilt: inclinometer"))),
    "sends": ((Sends.STREAM, said("all the time")), (Sends.BUTTON, said("at its button"))),
    "bits": (
        ("plain", said("sign at bit 20")),
        ("sign-21", said("sign at bit 21")),
        ("leading-one", said("a leading 1")),
        ("leading-one-inside", said("a 1 first, 24 in all")),
        ("no-unit", said("no unit bit")),
        ("micrometres", said("0.001 mm a count")),
        ("two-groups", said("two groups")),
        ("two-groups-swapped", said("two groups, swapped")),
        ("seven-digits", said("28 bits, digits")),
        ("host-clocked", said("21 bits, our clock")),
    ),
    "order": (("low", said("comes first")), ("high", said("comes last"))),
    "proven": (("no", said("not with its display")), ("yes", said("reads as its display"))),
    "axis": ((Axis.X, said("X")), (Axis.Y, said("Y"))),
}
_PACKET_NUMBERS = {
    "place": tuple(str(place) for place in range(1, 21)),
    "width": ("1", "2", "3", "4"),
    "decimals": ("0", "1", "2", "3", "4"),
}
_ASKED = (Sends.ASKED, said("when it is asked"))


def title_of(name: str) -> Part:
    """What a setting is called."""
    return TITLES.get(name, said("On channel {channel}", channel=Name(name)))


def names_of(settings: InstrumentSettings) -> tuple[str, ...]:
    """The settings a cable of this format has; a channel of a multiplexer goes by its number."""
    row = settings.format
    names = ["format"]
    if not (row.typed or settings.on_radio or settings.on_hid):
        names += ["speed", "frame", "dtr", "rts"]
    if not row.typed:
        names.append("sends")
    if row.bare:
        names.append("unit")
    if row.quantity is Quantity.ANGLE:
        names += ["range", "kind"]
    if row.axes:
        names.append("axis")
    if row.bits:
        names += ["bits", "proven"]
    if row.packets:
        names += ["place", "width", "order", "decimals", "proven"]
    if row.several:
        names += [*CHANNELS, *(channel for channel in settings.channels if channel not in CHANNELS)]
    return tuple(names)


def value_of(settings: InstrumentSettings, name: str) -> str:
    """How a setting is, by its stable word."""
    line, options = settings.line, settings.options
    match name:
        case "format":
            return settings.format_name
        case "speed":
            return str(line.baud)
        case "frame":
            return f"{line.data_bits}{line.parity}{line.stop_bits}"
        case "dtr" | "rts":
            return "high" if (line.dtr if name == "dtr" else line.rts) else "low"
        case "unit":
            return options.unit or Unit.MM
        case "range":
            return options.angle_range
        case "kind":
            return settings.gauge_kind
        case "sends":
            return settings.sends
        case "axis":
            return options.axis
        case "place":
            return str(options.packet.first_byte + 1)
        case "width":
            return str(options.packet.byte_count)
        case "order":
            return "high" if options.packet.big_endian else "low"
        case "decimals":
            return str(options.packet.decimals)
        case "proven":
            return "yes" if options.binary_proven else "no"
        case "bits":
            return next((word for word, layout in LAYOUTS.items() if layout == options.binary), "")
        case _:
            return settings.channels.get(name, "")


def choices_of(settings: InstrumentSettings, name: str) -> tuple[tuple[str, Part], ...]:
    """What a setting can be, in words."""
    match name:
        case "format":
            return tuple((row.name, row.title) for row in WIRE_FORMATS.values() if _can_come(row, settings))
        case "speed":
            return tuple((speed, Name(speed)) for speed in _with(SPEEDS, value_of(settings, name)))
        case "frame":
            return tuple((frame, Name(frame)) for frame in _with(FRAMES, value_of(settings, "frame")))
        case "dtr" | "rts":
            return LEVELS
        case "sends":
            # Whether it may be asked was agreed to where it was recognised: nothing here begins to send.
            return (*_WORDS[name], _ASKED) if settings.sends is Sends.ASKED else _WORDS[name]
        case "unit" | "range" | "kind" | "axis" | "bits" | "proven" | "order":
            return _WORDS[name]
        case "place" | "width" | "decimals":
            return tuple((one, Name(one)) for one in _with(_PACKET_NUMBERS[name], value_of(settings, name)))
        case _:
            own = f"{settings.name} {name}"
            names = _with((own, *CHANNEL_NAMES), settings.channels.get(name, own))
            return (NOTHING_ON_IT, *((one, CHANNEL_NAMES.get(one, Name(one))) for one in names))


def _can_come(row: WireFormat, settings: InstrumentSettings) -> bool:
    """True for a format that an instrument on this port can speak."""
    return row.packets if settings.on_hid else row.typed == settings.port.endswith(TYPED_ON)


def _with(usual: tuple[str, ...], present: str) -> tuple[str, ...]:
    """The usual values, and the present one where it is none of them."""
    return usual if present in usual else (*usual, present)


def changed(settings: InstrumentSettings, name: str, value: str, taken: Collection[str]) -> InstrumentSettings:
    """The settings after one choice; raises BadInputError for what contradicts the others."""
    line, options = settings.line, settings.options
    match name:
        case "format":
            return _speaking(settings, wire_format(value), taken)
        case "speed":
            return replace(settings, framing=replace(line, baud=int(value)))
        case "frame":
            framing = replace(line, data_bits=int(value[0]), parity=Parity(value[1]), stop_bits=int(value[2]))
            return replace(settings, framing=framing)
        case "dtr":
            return replace(settings, framing=replace(line, dtr=value == "high"))
        case "rts":
            return replace(settings, framing=replace(line, rts=value == "high"))
        case "unit":
            return replace(settings, options=replace(options, unit=Unit(value)))
        case "range":
            return replace(settings, options=replace(options, angle_range=AngleRange(value)))
        case "kind":
            return replace(settings, gauge_kind=GaugeKind(value))
        case "sends":
            return _sending(settings, Sends(value))
        case "axis":
            return replace(settings, options=replace(options, axis=Axis(value)))
        case "bits":
            return replace(settings, options=replace(options, binary=LAYOUTS[value], binary_proven=False))
        case "place" | "width" | "order" | "decimals":
            packet = _described(options.packet, name, value)
            return replace(settings, options=replace(options, packet=packet, binary_proven=False))
        case "proven":
            return replace(settings, options=replace(options, binary_proven=value == "yes"))
        case _:
            others = {channel: one for channel, one in settings.channels.items() if channel != name}
            return replace(settings, channels=dict(sorted({**others, name: value}.items())) if value else others)


def _described(packet: PacketLayout, name: str, value: str) -> PacketLayout:
    """What was compared before holds for the layout before."""
    packet = replace(packet, same="")
    match name:
        case "place":
            return replace(packet, first_byte=int(value) - 1)
        case "width":
            return replace(packet, byte_count=int(value))
        case "order":
            return replace(packet, big_endian=value == "high")
        case _:
            return replace(packet, decimals=int(value))


def _sending(settings: InstrumentSettings, sends: Sends) -> InstrumentSettings:
    capture = Capture.DATA_BUTTON if sends is Sends.BUTTON else Capture.STEADY_HOLD
    return replace(settings, sends=sends, capture=capture, poll_s=settings.poll_s if sends is Sends.ASKED else None)


def _speaking(settings: InstrumentSettings, row: WireFormat, taken: Collection[str]) -> InstrumentSettings:
    """Another format: its usual line, unless that was overruled, and what the format leaves open as it was."""
    if row.name == settings.format_name:
        return settings
    usual = settings.format.framing
    kept = replace(usual, dtr=settings.line.dtr, rts=settings.line.rts) != settings.line
    framing: Framing = settings.line if kept else replace(row.framing, dtr=settings.line.dtr, rts=settings.line.rts)
    angle = row.quantity is Quantity.ANGLE
    same = row.quantity is settings.quantity
    name = settings.name if same else free_name("angle gauge" if angle else "caliper", taken)
    # Another format is asked by other bytes, and nobody agreed to those.
    sends = Sends.STREAM if settings.sends is Sends.ASKED else settings.sends
    quiet = _sending(settings, Sends.BUTTON if row.typed else sends)
    return replace(
        quiet,
        name=name,
        format_name=row.name,
        quantity=row.quantity,
        framing=framing,
        hold=settings.hold if same else ANGLE_HOLD if angle else HoldSettings(),
        gauge_kind=settings.gauge_kind if angle else GaugeKind.BLADE,
        options=replace(settings.options, unit=settings.options.unit if row.bare else None),
        channels=settings.channels if row.several else {},
    )
