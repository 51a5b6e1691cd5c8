"""Stage: lines to indications, by one configurable grammar. Input: bytes of an ASCII line format; output: indications
and faults. Source: the line layouts printed in instruments' public manuals, named here by what they are.

A grammar row is a pattern with the named groups `number` (or `degrees`, `minutes`, `seconds`) and, where the line has
them, `sign`, `unit` and `channel`. A line that does not match the whole pattern is a Fault, never a guess.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from core.metrology.readings import Indication, Quantity, Unit
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.decoders.line_buffer import LineBuffer
from firmware_bridge.decoders.plausible import DigitsGate, gated


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


@dataclass(frozen=True, slots=True, kw_only=True)
class LineGrammar:
    """One line format. `units` gives the unit texts it may carry, `refused_units` those that are understood and not
    taken; without a unit in the line the unit is a setting of the instrument. `errors` are the instrument's own error
    lines. `anchored`: the tail of a line cut in two can never match, so the very first line may be trusted."""

    pattern: re.Pattern[bytes]
    anchored: bool
    quantity: Quantity
    units: Mapping[bytes, Unit] = field(default_factory=dict)
    refused_units: Mapping[bytes, str] = field(default_factory=dict)
    errors: tuple[tuple[re.Pattern[bytes], str], ...] = ()


class LineDecoder:
    """Decodes one grammar; `unit` serves lines that carry none, `angle_range` refuses what cannot be shown."""

    def __init__(
        self, grammar: LineGrammar, *, unit: Unit | None = None, angle_range: AngleRange = AngleRange.SIGNED_180
    ) -> None:
        self._grammar = grammar
        self._unit = unit or (Unit.DEG if grammar.quantity is Quantity.ANGLE else Unit.MM)
        if self._unit.quantity is not grammar.quantity:
            raise ValueError(f"a line that carries a {grammar.quantity} cannot be in {self._unit}")
        self._angle_range = angle_range
        self._buffer = LineBuffer()
        self._digits = DigitsGate()
        self._trusted = grammar.anchored

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take bytes; return what became complete, in order."""
        return [item if isinstance(item, Fault) else self._line(item) for item in self._buffer.feed(data)]

    def reset(self) -> None:
        """Forget a half-received line; the next one may again be the tail of one cut in two."""
        self._buffer.reset()
        self._digits.reset()
        self._trusted = self._grammar.anchored

    def _line(self, line: bytes) -> Indication | Fault:
        if not self._trusted:
            self._trusted = True
            text = "the first line after the cable came up may be cut in two and is not believed"
            return Fault(reason=FaultReason.GARBLED, text=text, raw=line)
        for pattern, text in self._grammar.errors:
            if error := pattern.fullmatch(line):
                channel = _channel(error.groupdict())
                return Fault(reason=FaultReason.INSTRUMENT_ERROR, text=text, raw=line, channel=channel)
        match = self._grammar.pattern.fullmatch(line)
        if match is None:
            return Fault(reason=FaultReason.GARBLED, text="a line that is not in this instrument's format", raw=line)
        return self._digits.check(self._indication(line, match.groupdict()), line)

    def _indication(self, line: bytes, part: dict[str, bytes | None]) -> Indication | Fault:
        channel = _channel(part)
        unit_text = (part.get("unit") or b"").upper()
        if refused := self._grammar.refused_units.get(unit_text):
            return _refused(f"the instrument shows {refused}: switch it to degrees", line, channel)
        unit = self._grammar.units.get(unit_text, self._unit) if unit_text else self._unit
        parsed = _sexagesimal(part) if part.get("degrees") else _decimal(part)
        if parsed is None:
            return Fault(reason=FaultReason.GARBLED, text="a number with gaps or stray signs", raw=line)
        shown, decimals, digits = parsed
        if unit is Unit.DEG and not self._angle_range.holds(shown):
            return _refused(f"{shown:g} degrees lies outside the range {self._angle_range}", line, channel)
        return gated(shown, unit, decimals, digits=digits, raw=line, channel=channel)


def _channel(part: dict[str, bytes | None]) -> str:
    """The channel without leading zeros, empty where the line has none."""
    text = part.get("channel")
    return str(int(text)) if text else ""


def _refused(text: str, line: bytes, channel: str) -> Fault:
    return Fault(reason=FaultReason.REFUSED, text=text, raw=line, channel=channel)


def _decimal(part: dict[str, bytes | None]) -> tuple[float, int, str] | None:
    """Value, decimals and digits of a decimal number; None when it is none."""
    text = ((part.get("sign") or b"").strip() + (part.get("number") or b"").strip()).decode("ascii", "replace")
    text = text.replace(",", ".")
    if not re.fullmatch(r"[+-]?\d{1,9}(\.\d{0,6})?", text):
        return None
    whole, _, fraction = text.lstrip("+-").partition(".")
    return float(text), len(fraction), whole + fraction


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


MM_OR_INCH = {b"MM": Unit.MM, b"IN": Unit.INCH, b"INCH": Unit.INCH}

FIXED_3_3 = LineGrammar(
    pattern=re.compile(rb"(?P<sign>[+\- ])(?P<number>\d{3}\.\d{3})"),
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=((re.compile(rb"ERR[0-3]"), "the instrument reports an error: clean the scale and set zero again"),),
)
FIXED_4_3 = LineGrammar(
    pattern=re.compile(rb"(?P<sign>[+-])(?P<number>\d{4}\.\d{3})"),
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=((re.compile(rb"OR"), "the instrument reports: out of range"),),
)
PADDED_8_UNIT = LineGrammar(
    pattern=re.compile(rb"(?P<sign>[+\- ])(?P<number>[ \d.]{8})[, ](?P<unit>MM|IN|mm|in)"),
    anchored=True,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
)
ANGLE_X = LineGrammar(
    pattern=re.compile(rb"X=(?P<sign>[+-])(?P<number>\d{2,3}\.\d{3})"),
    anchored=True,
    quantity=Quantity.ANGLE,
)
ANGLE_LETTERED = LineGrammar(
    pattern=re.compile(rb"A[PH](?P<unit>[DGM%])(?P<sign>[+\- ]?)(?P<number> *\d{1,4}(?:\.\d{1,4})?)"),
    anchored=True,
    quantity=Quantity.ANGLE,
    units={b"D": Unit.DEG},
    refused_units={b"G": "gon", b"M": "mm per metre", b"%": "percent"},
)
ANGLE_PLAIN = LineGrammar(
    pattern=re.compile(rb"(?P<sign>[+\- ]?)(?P<number>\d{1,3}[.,]\d{1,3})"),
    anchored=False,
    quantity=Quantity.ANGLE,
)
# The degree sign comes as Latin-1, as UTF-8 or, on instruments without it, as a letter.
ANGLE_SEXAGESIMAL = LineGrammar(
    pattern=re.compile(
        rb"(?P<sign>[+\- ]?)(?P<degrees>\d{1,3})(?:\xb0|\xc2\xb0|[dD])"
        rb" ?(?P<minutes>\d{1,2})'(?: ?(?P<seconds>\d{1,2})\")?"
    ),
    anchored=False,
    quantity=Quantity.ANGLE,
)
