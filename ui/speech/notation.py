"""How lengths and angles are written for the person: the one place that knows inches, minutes of arc and commas.

Stage: the last edge before screen and terminal. Input: mm and degrees, or sentences written in them. Output: text.
Inside the program, in records and in every file there are only millimetres, decimal degrees and the decimal point.
Source: 1 inch is exactly 25.4 mm (ISO 31-1, annex); 1 degree is 60 minutes of 60 seconds (BIPM, SI brochure, table 8).
"""

import re
from enum import StrEnum

from msgspec import Struct

from core.geometry import Feature
from core.metrology import MM_PER_INCH, Unit


class LengthUnit(StrEnum):
    """The unit of every length the person reads or types."""

    MM = "mm"
    INCH = "inch"


class AngleStyle(StrEnum):
    """How an angle is written."""

    DECIMAL = "decimal"
    DMS = "degrees-minutes-seconds"


class DecimalMark(StrEnum):
    """What stands between whole and broken part."""

    POINT = "point"
    COMMA = "comma"


# A hundredth of a millimetre is four ten-thousandths of an inch: two more places lose nothing.
INCH_PLACES_MORE = 2
# Where a line must not end: between a number and its unit, and behind ±.
_WITHIN_VALUE = re.compile(r"(?<=\d) (?=(?:mm|in|degrees?|Grad)\b)|(?<=±) (?=\d)")


def set_in_type(text: str) -> str:
    """A finished sentence as a printer sets it: a number is held to its unit over the ends of lines."""
    return _WITHIN_VALUE.sub("\u00a0", text)


class Notation(Struct, frozen=True, kw_only=True):
    """What the person chose; the default is how the program itself keeps everything."""

    lengths: LengthUnit = LengthUnit.MM
    angles: AngleStyle = AngleStyle.DECIMAL
    mark: DecimalMark = DecimalMark.POINT

    @property
    def length_unit(self) -> Unit:
        """The unit a typed length is in."""
        return Unit.INCH if self.lengths is LengthUnit.INCH else Unit.MM

    @property
    def length_sign(self) -> str:
        """What stands behind a length: 'mm' or 'in'."""
        return "in" if self.lengths is LengthUnit.INCH else "mm"

    @property
    def angle_sign(self) -> str:
        """What stands behind the figures of an angle: '°', nothing where each part has a sign of its own."""
        return "°" if self.angles is AngleStyle.DECIMAL else ""

    def length(self, mm: float, decimals: int = 2) -> str:
        """A length with its unit, `decimals` those it would have in mm: '119.85 mm', '4.7185 in'."""
        return f"{self.length_digits(mm, decimals)} {self.length_sign}"

    def length_digits(self, mm: float, decimals: int) -> str:
        """The figures of a length, with a true minus."""
        if self.lengths is LengthUnit.INCH:
            return self._figures(mm / MM_PER_INCH, decimals + INCH_PLACES_MORE)
        return self._figures(mm, decimals)

    def length_places(self, decimals: int) -> int:
        """How many places a length of `decimals` in mm has after the mark."""
        return decimals + INCH_PLACES_MORE if self.lengths is LengthUnit.INCH else decimals

    def angle(self, deg: float, decimals: int = 2) -> str:
        """An angle with its sign: '89.60°', '89°36′'; seconds where a tenth of a degree is too coarse."""
        if self.angles is AngleStyle.DECIMAL:
            return f"{self._figures(deg, decimals)}°"
        return degrees_minutes_seconds(deg, decimals)

    def entry(self, text: str) -> str:
        """A number as it is being typed."""
        return self._marked(text)

    def typed(self, mm: float) -> str:
        """A length as it would be keyed in, with a point; four places, five where four miss its micrometre."""
        unit_mm = self.length_unit.to_internal(1.0)
        text = f"{mm / unit_mm:.4f}"
        if abs(float(text) * unit_mm - mm) >= 0.0004:
            text = f"{mm / unit_mm:.5f}"
        return text.rstrip("0").rstrip(".")

    def _figures(self, value: float, decimals: int) -> str:
        return self._marked(f"{value:.{decimals}f}".replace("-", "−"))

    def _marked(self, text: str) -> str:
        return text.replace(".", ",") if self.mark is DecimalMark.COMMA else text


AS_KEPT = Notation()


def degrees_minutes_seconds(deg: float, decimals: int | None, signed: bool = False) -> str:
    """Degrees, minutes and, beyond one decimal, seconds, each in two figures; None: as many of them as it needs."""
    seconds = round(abs(deg) * 3600)
    if decimals == 1:
        seconds = round(abs(deg) * 60) * 60
    if decimals == 0:
        seconds = round(abs(deg)) * 3600
    sign = "" if seconds == 0 else "−" if deg < 0 else "+" if signed else ""
    if decimals == 0 or (decimals is None and seconds % 3600 == 0):
        return f"{sign}{seconds // 3600}°"
    text = f"{sign}{seconds // 3600}°{seconds // 60 % 60:02d}′"
    return text if decimals == 1 or (decimals is None and seconds % 60 == 0) else f"{text}{seconds % 60:02d}″"


def value_text(feature: Feature, value: float, notation: Notation = AS_KEPT) -> str:
    """A reading with its unit: '119.85 mm', '89.60°'."""
    return notation.length(value) if feature.is_length else notation.angle(value)
