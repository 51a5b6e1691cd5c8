"""Stage: lines to indications, by one tolerant grammar per family. Input: bytes of an ASCII line format; output:
indications and faults. Source: the line layouts printed in instruments' public manuals, named here by what they are.

Instruments of one family differ in the number of their digits, in padding and in separators, so a grammar counts none
of them. What it gives up by that, the style gate takes back: an instrument writes one line as it writes the next.

A grammar row is a pattern with the named groups `number` (or `degrees`, `minutes`, `seconds`) and, where the line has
them, `lead`, `sign`, `pad` (blanks before and behind the sign), `unit`, `axis` and `channel`. A line that does not
match the whole pattern is a Fault, never a guess.
"""

import re
from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct, field

from core.metrology import Indication, Quantity, Unit
from core.said import Angle, Name, Part, Said, said
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.line_buffer import LineBuffer
from firmware_bridge.decoders.plausible import LineStyle, StyleGate, gated

_SHAPE = bytes.maketrans(b"23456789", b"11111111")
KEPT_STYLES = 256  # more than an instrument writes; a stream of garbage must not grow this without end


class AngleRange(StrEnum):
    """How an angle instrument counts its turn."""

    SIGNED_180 = "signed-180"
    TO_180 = "0-180"
    TO_360 = "0-360"

    def holds(self, degrees: float) -> bool:
        """True when an instrument that counts so can show this number."""
        match self:
            case AngleRange.SIGNED_180:
                return -180.0 <= degrees <= 180.0
            case AngleRange.TO_180:
                return 0.0 <= degrees <= 180.0
            case AngleRange.TO_360:
                return 0.0 <= degrees <= 360.0


class Axis(StrEnum):
    """Which of the two angles of an inclinometer lies in the coupon's plane."""

    X = "x"
    Y = "y"


class LineGrammar(Struct, frozen=True, kw_only=True):
    """One line format; its patterns are compiled when a cable is opened. `units` gives the unit texts it may carry
    (`always_unit`: it does), `refused_units` those that are understood and not taken; without a unit in the line the
    unit is a setting of the instrument. `errors` are the instrument's own error lines. `anchored`: the tail of a line
    cut in two can never match, so the very first line may be trusted; so may a line that begins with a sign, in every
    family."""

    pattern: bytes
    anchored: bool
    quantity: Quantity
    units: Mapping[bytes, Unit] = field(default_factory=dict)
    always_unit: bool = False
    refused_units: Mapping[bytes, Part] = field(default_factory=dict)
    errors: tuple[tuple[bytes, Said], ...] = ()


class LineDecoder:
    """Decodes one grammar; `unit` serves lines that carry none, `angle_range` refuses what cannot be shown, `axis` is
    the one that is read where lines of two come, `streams` that the cable may come up in the middle of a line."""

    def __init__(
        self,
        grammar: LineGrammar,
        *,
        unit: Unit | None = None,
        angle_range: AngleRange = AngleRange.SIGNED_180,
        axis: Axis = Axis.X,
        streams: bool = True,
    ) -> None:
        self._grammar = grammar
        self._pattern = re.compile(grammar.pattern)
        self._errors = [(re.compile(pattern), text) for pattern, text in grammar.errors]
        self._unit = unit or (Unit.DEG if grammar.quantity is Quantity.ANGLE else Unit.MM)
        if self._unit.quantity is not grammar.quantity:
            raise ValueError(f"a line that carries a {grammar.quantity} cannot be in {self._unit}")
        self._angle_range = angle_range
        self._axis = axis.value.upper().encode()
        self._axis_heard = False
        self._buffer = LineBuffer()
        self._style = StyleGate()
        self._styles: dict[bytes, LineStyle] = {}  # by the shape of the line
        self._whole_from_the_first = grammar.anchored or not streams
        self._trusted = self._whole_from_the_first

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take bytes; return what became complete, in order."""
        out: list[Indication | Fault] = []
        for line in self._buffer.feed(data):
            item = line if isinstance(line, Fault) else self._line(line)
            out += [] if item is None else [item]
        return out

    def reset(self) -> None:
        """Forget a half-received line; the next one may again be the tail of one cut in two."""
        self._buffer.reset()
        self._style.reset()
        self._axis_heard = False
        self._trusted = self._whole_from_the_first

    def _line(self, line: bytes) -> Indication | Fault | None:
        """What a line says; None for the other axis of an instrument whose own axis is heard as well."""
        whole, self._trusted = self._trusted or line[:1] in (b"+", b"-"), True
        if not whole:
            text = said("the first line after the cable came up may be cut in two and is not believed")
            return Fault(reason=FaultReason.GARBLED, text=text, raw=line)
        match = self._pattern.fullmatch(line)
        if match is None:
            return self._no_number(line)
        part = match.groupdict()
        if part.get("axis", self._axis) != self._axis:
            text = said("only the other axis is heard; {axis} is set", axis=Name(self._axis.decode()))
            return None if self._axis_heard else _refused(text, line, "")
        self._axis_heard = True
        return self._style.check(self._indication(line, part), line, self._style_of(line, part))

    def _style_of(self, line: bytes, part: dict[str, bytes | None]) -> LineStyle:
        """How the line is written: the same for all that differ in figures alone, but for their noughts."""
        shape = line.translate(_SHAPE)
        style = self._styles.get(shape)
        if style is None:
            if len(self._styles) >= KEPT_STYLES:
                self._styles.clear()
            style = self._styles[shape] = _style(part)
        return style

    def _no_number(self, line: bytes) -> Fault:
        """What an instrument reports instead of a number, or what it never sends."""
        for pattern, text in self._errors:
            if error := pattern.fullmatch(line):
                channel = _channel(error.groupdict())
                return Fault(reason=FaultReason.INSTRUMENT_ERROR, text=text, raw=line, channel=channel)
        return Fault(reason=FaultReason.GARBLED, text=said("a line that is not in this instrument's format"), raw=line)

    def _indication(self, line: bytes, part: dict[str, bytes | None]) -> Indication | Fault:
        channel, unit = _channel(part), self._unit
        if unit_text := part.get("unit"):
            unit_text = unit_text.upper()
            if refused := self._grammar.refused_units.get(unit_text):
                text = said("the instrument shows {refused}: switch it to degrees", refused=refused)
                return _refused(text, line, channel)
            unit = self._grammar.units.get(unit_text, unit)
        parsed = _sexagesimal(part) if part.get("degrees") else _decimal(part)
        if parsed is None:
            return Fault(reason=FaultReason.GARBLED, text=said("sixty minutes or seconds, or more"), raw=line)
        shown, decimals, digits = parsed
        if unit is Unit.DEG and not self._angle_range.holds(shown):
            return _refused(
                said(
                    "{shown} lies outside the range {range}",
                    shown=Angle(shown, None),
                    range=Name(self._angle_range),
                ),
                line,
                channel,
            )
        return gated(shown, unit, decimals, digits=digits, raw=line, channel=channel)


def _channel(part: dict[str, bytes | None]) -> str:
    """The channel without leading zeros, empty where the line has none."""
    text = part.get("channel")
    return str(int(text)) if text else ""


def _refused(text: Said, line: bytes, channel: str) -> Fault:
    return Fault(reason=FaultReason.REFUSED, text=text, raw=line, channel=channel)


def _style(part: dict[str, bytes | None]) -> LineStyle:
    """How the line is written. A blank in front of a bare number stands in the sign's place."""
    lead, sign, number = len(part.get("lead") or b""), part.get("sign") or b"", part.get("number") or b""
    whole, _, fraction = number.replace(b",", b".").partition(b".")
    padding = len(part.get("pad") or b"") + (lead if sign else max(lead - 1, 0))
    return LineStyle(
        decimals=len(fraction),
        signed=None if sign == b"-" or not number else bool(sign or lead),
        padded=padding > 0 or (len(whole) > 1 and whole.startswith(b"0")),
        width=padding + len(whole),
        unit_written=bool(part.get("unit")),
    )


def _decimal(part: dict[str, bytes | None]) -> tuple[float, int, str]:
    """Value, decimals and digits of a decimal number."""
    digits = (part.get("number") or b"").decode("ascii").replace(",", ".")
    whole, _, fraction = digits.partition(".")
    shown = -float(digits) if part.get("sign") == b"-" else float(digits)
    return shown, len(fraction), whole + fraction


def _sexagesimal(part: dict[str, bytes | None]) -> tuple[float, int, str] | None:
    """Degrees, minutes and seconds as decimal degrees; None when minutes or seconds reach 60."""
    degrees, minutes = int(part["degrees"] or b"0"), int(part.get("minutes") or b"0")
    seconds = part.get("seconds")
    if minutes >= 60 or int(seconds or b"0") >= 60:
        return None
    shown = degrees + minutes / 60.0 + int(seconds or b"0") / 3600.0
    if (part.get("sign") or b"").strip() == b"-":
        shown = -shown
    # One minute is 0.017 degrees and one second 0.0003: as many decimals as that is worth.
    return shown, 2 if seconds is None else 4, ""


MM_OR_INCH = {b"MM": Unit.MM, b"IN": Unit.INCH, b"INCH": Unit.INCH, b"INCHES": Unit.INCH, b'"': Unit.INCH}
LENGTH_UNIT = rb"(?P<unit>(?i:mm|inch(?:es)?|in)|\")"
DEGREES = {b"\xb0": Unit.DEG, b"\xc2\xb0": Unit.DEG, b"DEG": Unit.DEG}
NO_DEGREES: dict[bytes, Part] = {
    b"GON": said("gon"),
    b"RAD": said("radians"),
    b"MM/M": said("mm per metre"),
    b"%": said("percent"),
}

# Sign or none, blanks in any place that is aligned, digits in any number that an instrument of a workshop has.
NUMBER = rb"(?P<sign>[+-]?)(?P<pad> *)(?P<number>\d{1,5}[.,]\d{0,5})"
SEPARATORS = rb"[ ,;\t]*"
# In tolerance, below or above, inside warning limits; a display that is held.
FLAGS = rb"(?:" + SEPARATORS + rb"(?:[<=>]|HOLD|H)){0,3}"
ERRORS = (
    (rb"ERR ?\d{0,2}", said("the instrument reports an error: clean the scale and set zero again")),
    (rb"OR", said("the instrument reports: out of range")),
)


def decimal_line(begin: bytes, unit: bytes, end: bytes = b"") -> bytes:
    """A line of a decimal number: what stands before it, the unit behind it, and what follows that."""
    return begin + NUMBER + FLAGS + SEPARATORS + unit + FLAGS + SEPARATORS + end


LENGTH = LineGrammar(
    pattern=decimal_line(rb"(?P<lead> *)", LENGTH_UNIT + b"?"),
    anchored=False,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
    errors=ERRORS,
)
ANGLE_X = LineGrammar(
    pattern=decimal_line(rb"(?P<axis>[XY])=", rb""),
    anchored=True,
    quantity=Quantity.ANGLE,
)
ANGLE_LETTERED = LineGrammar(
    pattern=rb"A[PH](?P<unit>[DGM%])(?P<lead> *)(?P<sign>[+-]?)(?P<pad> *)(?P<number>\d{1,4}(?:\.\d{0,4})?)",
    anchored=True,
    quantity=Quantity.ANGLE,
    units={b"D": Unit.DEG},
    refused_units={b"G": said("gon"), b"M": said("mil"), b"%": said("percent")},
)
ANGLE_PLAIN = LineGrammar(
    pattern=decimal_line(rb"(?P<lead> *)", rb"(?P<unit>\xb0|\xc2\xb0|(?i:deg|gon|rad|mm/m)|%)?"),
    anchored=False,
    quantity=Quantity.ANGLE,
    units=DEGREES,
    refused_units=NO_DEGREES,
)
# The degree sign comes as Latin-1, as UTF-8 or, on instruments without it, as a letter; some write colons.
ANGLE_SEXAGESIMAL = LineGrammar(
    pattern=(
        rb" *(?P<sign>[+-]?) *(?P<degrees>\d{1,3})(?:\xb0|\xc2\xb0|[dD:]) ?(?P<minutes>\d{1,2})(?:'|:(?=\d))"
        rb"(?: ?(?P<seconds>\d{1,2})\"?)?" + FLAGS + SEPARATORS + rb"(?:dms)?" + FLAGS + SEPARATORS
    ),
    anchored=False,
    quantity=Quantity.ANGLE,
)


class KeyboardDecoder(LineDecoder):
    """The lines of an instrument that types like a keyboard: the same grammars, and Tab ends a line as Enter does.

    The keyboard link waits for a pause before it hands keys on, so that a number half typed when the cable came up
    never gets here: the first line is as good as the next.
    """

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take typed characters; return what became complete, in order."""
        return super().feed(data.replace(b"\t", b"\r"))
