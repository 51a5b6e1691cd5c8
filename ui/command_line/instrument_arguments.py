"""An instrument set up by hand on the command line: options to InstrumentSettings, overruling what was recognised.

Input: parsed arguments. Output: settings to remember. What contradicts itself is refused by the settings themselves.
"""

import argparse
import re

from core.errors import BadInputError
from core.metrology import Quantity, Unit
from core.said import Name, said
from firmware_bridge import (
    ANGLE_HOLD,
    LAYOUTS,
    MOST_BYTES,
    POLL_S,
    AngleRange,
    Axis,
    Capture,
    DecoderOptions,
    Framing,
    GaugeKind,
    HoldSettings,
    InstrumentSettings,
    PacketLayout,
    Parity,
    RadioPlace,
    Sends,
    WireFormat,
    wire_format,
)

_LEVELS = {"high": True, "low": False}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options that describe one instrument."""
    group = parser.add_argument_group("an instrument set up by hand (--set NAME)")
    group.add_argument("--port", metavar="PATH", help="its port, by the stable path that is listed")
    group.add_argument("--format", metavar="NAME", help="what it speaks; --formats lists them")
    group.add_argument("--line", metavar="4800-7E2", help="speed and framing, where not the format's usual ones")
    group.add_argument("--dtr", choices=_LEVELS, default="high", help="level of DTR; some cables live on it")
    group.add_argument("--rts", choices=_LEVELS, default="high", help="level of RTS; some cables live on it")
    group.add_argument("--unit", choices=[Unit.MM, Unit.INCH], help="unit of a format that carries none")
    group.add_argument("--range", choices=list(AngleRange), default=AngleRange.SIGNED_180, help="how an angle counts")
    group.add_argument(
        "--kind",
        choices=list(GaugeKind),
        default=GaugeKind.BLADE,
        help="angle gauge: blade (bevel protractor) or tilt (inclinometer)",
    )
    group.add_argument("--binary", choices=LAYOUTS, default="plain", help="layout of binary frames; --prove finds it")
    group.add_argument(
        "--place", metavar="SERVICE/CHARACTERISTIC", help="on radio: the two UUIDs where the number is said, as listed"
    )
    group.add_argument(
        "--packet",
        metavar="3,4,low,2",
        help="packets: its first byte, bytes, lowest byte first (low) or last (high), decimals; --prove finds it",
    )
    group.add_argument("--axis", choices=list(Axis), default=Axis.X, help="which axis of an inclinometer is read")
    group.add_argument("--sends", choices=list(Sends), default=Sends.STREAM, help="when it speaks")
    group.add_argument("--capture", choices=list(Capture), help="what makes a reading, beside touch and pedal")
    group.add_argument("--hold", type=float, metavar="S", help="steady hold: seconds")
    group.add_argument("--band", type=float, metavar="B", help="steady hold: spread, mm or degrees")
    group.add_argument("--channel", action="append", default=[], metavar="1=NAME", help="instrument on a channel")


def settings_from(args: argparse.Namespace) -> InstrumentSettings:
    """The settings the arguments describe; raises BadInputError with what is missing or contradicts itself."""
    if not args.port or not args.format:
        raise BadInputError(said("--set NAME needs --port PATH and --format NAME"))
    row = wire_format(args.format)
    sends = Sends.BUTTON if row.typed else Sends(args.sends)
    by_button = Capture.DATA_BUTTON if sends is Sends.BUTTON else Capture.STEADY_HOLD
    return InstrumentSettings(
        name=args.set,
        port=args.port,
        format_name=args.format,
        quantity=row.quantity,
        sends=sends,
        capture=Capture(args.capture) if args.capture else by_button,
        hold=_hold(args, row.quantity),
        gauge_kind=GaugeKind(args.kind),
        framing=_framing(args, row),
        options=DecoderOptions(
            unit=Unit(args.unit) if args.unit else None,
            angle_range=AngleRange(args.range),
            axis=Axis(args.axis),
            binary=LAYOUTS[args.binary],
            packet=_packet(args.packet),
        ),
        poll_s=POLL_S if sends is Sends.ASKED else None,
        channels=_channels(args.channel),
        radio=_place(args.place),
    )


def _hold(args: argparse.Namespace, quantity: Quantity) -> HoldSettings:
    usual = ANGLE_HOLD if quantity is Quantity.ANGLE else HoldSettings()
    return HoldSettings(
        time_s=usual.time_s if args.hold is None else args.hold,
        band=usual.band if args.band is None else args.band,
        rearm=usual.rearm,
    )


def _framing(args: argparse.Namespace, row: WireFormat) -> Framing:
    usual, dtr, rts = row.framing, _LEVELS[args.dtr], _LEVELS[args.rts]
    if args.line is None:
        baud, data_bits, parity, stop_bits = usual.baud, usual.data_bits, usual.parity, usual.stop_bits
    elif match := re.fullmatch(r"(\d{3,6})[- ]([78])([NEO])([12])", args.line):
        baud, data_bits, parity, stop_bits = int(match[1]), int(match[2]), Parity(match[3]), int(match[4])
    else:
        raise BadInputError(
            said("--line {line}: speed, data bits, parity and stop bits, such as 9600-8N1", line=Name(args.line))
        )
    return Framing(baud=baud, data_bits=data_bits, parity=parity, stop_bits=stop_bits, dtr=dtr, rts=rts)


def _packet(text: str | None) -> PacketLayout:
    if text is None:
        return PacketLayout()
    match = re.fullmatch(r"(\d{1,2}),([1-4]),(low|high),([0-5])", text)
    if match is None or not 1 <= int(match[1]) <= MOST_BYTES:
        raise BadInputError(
            said("--packet {text}: first byte, bytes, low or high, decimals, such as 3,4,low,2", text=Name(text))
        )
    first, count, order, decimals = match.groups()
    return PacketLayout(
        first_byte=int(first) - 1, byte_count=int(count), big_endian=order == "high", decimals=int(decimals)
    )


def _place(text: str | None) -> RadioPlace | None:
    if text is None:
        return None
    service, _, characteristic = text.lower().partition("/")
    return RadioPlace(service=service, characteristic=characteristic)


def _channels(given: list[str]) -> dict[str, str]:
    channels: dict[str, str] = {}
    for text in given:
        channel, _, name = text.partition("=")
        if not channel.isdigit() or not name:
            raise BadInputError(said("--channel {text}: a number and a name, such as 1=caliper", text=Name(text)))
        channels[str(int(channel))] = name
    return channels
