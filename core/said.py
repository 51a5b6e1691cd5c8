"""What is said to a person, before it is worded: a message and its parts.

Stage: everywhere a sentence is decided. Input: an English message with named slots, and what stands in them. Output: a
frozen value that travels unworded to the label, terminal or page that shows it; only there a `Voice` words it, in the
person's language, units, decimal mark and time zone. Nothing reads a worded sentence again.

    said("Move the {end} end by {move}.", end=side_word, move=Length(3.9, u_mm=0.71))
    said_counted("{count} coupon", "{count} coupons", count=3)
    said_in("side", "left")                    a word that other languages tell apart (gettext's msgctxt)
    paragraph(first, second), lines(...)       sentences one after the other, or one below the other

Messages are literals, so that Babel finds them (keywords said:1, said_counted:1,2, said_in:1c,2), and whole sentences:
never a word to be glued to another. A part is a quantity (Length, Angle, Number, Size, Time), a Name (what a person or
a file gave: shown letter for letter), or another sentence. In a translation `{end:dat}` looks the sentence in that slot
up under the msgctxt `dat` first (a case, a gender); `{feature:capital}` begins a sentence with it. Source: GNU gettext
message catalogues; PEP 3101 slots.
"""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime, tzinfo
from typing import TypeAlias

from msgspec import Struct

MINUS = "−"
CAPITAL = "capital"
# Control and format characters, lone surrogates, and the two that end a line unasked (Unicode's general categories).
_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}


class Length(Struct, frozen=True):
    """A length; `decimals` are those it has in mm, None: as many as it needs (a nominal size). `u_mm` stands behind ±.

    `unit` False leaves the unit to the head of a column.
    """

    mm: float
    decimals: int | None = 2
    u_mm: float | None = None
    signed: bool = False
    unit: bool = True


class Angle(Struct, frozen=True):
    """An angle in decimal degrees; `u_deg` stands behind ±, `unit` False leaves the sign to the head of a column."""

    deg: float
    decimals: int | None = 2
    u_deg: float | None = None
    signed: bool = False
    unit: bool = True


class Number(Struct, frozen=True):
    """A number that is neither; `sign` is a unit's symbol that every language writes alike, such as '%' or 'Hz'.

    `u` stands behind ±.
    """

    value: float
    decimals: int | None = None
    sign: str = ""
    signed: bool = False
    u: float | None = None


class Size(Struct, frozen=True):
    """Width and height of a thing as chosen: '120 x 80 mm'."""

    width_mm: float
    height_mm: float


class Time(Struct, frozen=True):
    """A moment, aware of its zone; None while the clock was not set. `clock` False shows the day alone; the day is left
    out where it is that of `after`, which was said just before."""

    at: datetime | None
    clock: bool = True
    after: datetime | None = None


class Name(Struct, frozen=True):
    """What a person, a file or a port is called: the same letters in every language and unit.

    Control characters are shown as escapes, for a name from elsewhere must not steer a terminal.
    """

    text: str

    def __str__(self) -> str:
        return self.shown

    @property
    def shown(self) -> str:
        """The letters, whatever steers a terminal or turns the line written out."""
        if self.text.isprintable():
            return self.text
        return "".join(
            ascii(letter)[1:-1] if unicodedata.category(letter) in _STEERING else letter for letter in self.text
        )


class Column(Struct, frozen=True):
    """A part in a column of a terminal, so many letters wide, at its left or `right` end; what is wider than its left
    one stands in a line of its own, and what follows goes on below it."""

    what: Part
    letters: int
    right: bool = False


class Said(Struct, frozen=True):
    """One message and what stands in its slots; `plural` is chosen by `count`, `context` is gettext's msgctxt.

    The empty message says nothing and is false.
    """

    message: str
    parts: tuple[tuple[str, Part], ...] = ()
    plural: str = ""
    count: int = 1
    context: str = ""

    def __bool__(self) -> bool:
        return bool(self.message)

    def __str__(self) -> str:
        return worded(self)


class Series(Struct, frozen=True):
    """Several things said one after the other; `joint` is no word: ' ', ', ', a new line."""

    items: tuple[Part, ...]
    joint: str = " "

    def __bool__(self) -> bool:
        return any(map(bool, self.items))

    def __str__(self) -> str:
        return worded(self)


Part: TypeAlias = Said | Series | Column | Name | Length | Angle | Number | Size | Time
NOTHING = Said("")


def said(message: str, /, **parts: Part | int) -> Said:
    """A message with its parts; a bare integer stands for itself. Raises TypeError for a bare text or float."""
    return Said(message, _checked(parts))


def said_counted(one: str, many: str, /, *, count: int, **parts: Part | int) -> Said:
    """A message that depends on a count, which stands in the slot `count`."""
    return Said(one, _checked({"count": count, **parts}), plural=many, count=count)


def said_in(context: str, message: str, /, **parts: Part | int) -> Said:
    """A message whose translation depends on the context."""
    return Said(message, _checked(parts), context=context)


def paragraph(*parts: Part) -> Series:
    """Sentences one after the other; what says nothing is left out."""
    return Series(tuple(part for part in parts if part))


def lines(*parts: Part) -> Series:
    """One below the other; what says nothing is left out."""
    return Series(tuple(part for part in parts if part), joint="\n")


def _checked(parts: dict[str, Part | int]) -> tuple[tuple[str, Part], ...]:
    for name, part in parts.items():
        if not isinstance(part, int | Said | Series | Column | Name | Length | Angle | Number | Size | Time):
            raise TypeError(f"{name}={part!r}: say what it is: a Name, a quantity or another sentence")
    return tuple((name, Number(part, 0) if isinstance(part, int) else part) for name, part in parts.items())


CLOCK_NOT_SET = said("(clock not set)")


class Voice(Struct, frozen=True, kw_only=True):
    """How things are worded; this one as they stand in the source: English, mm, decimal degrees, point, UTC.

    Others override what their person chose. `language` is its code (BCP 47). `within_value` keeps a number at its unit:
    a no-break space where lines are broken.
    """

    language: str = "en"
    within_value: str = " "

    def template(self, sentence: Said, context: str = "") -> str | None:
        """The message in this voice's language, None where its catalogue lacks it; `context` goes before its own."""
        return sentence.message if sentence.count == 1 or not sentence.plural else sentence.plural

    def in_english(self) -> Voice:
        """The same without a catalogue, for a message that has none: it is English as a whole."""
        return self

    def figures(self, value: float, decimals: int | None, signed: bool = False) -> str:
        """A number with a true minus; a rounded zero has no sign; without decimals as many places as it needs."""
        text = f"{abs(value):.10g}" if decimals is None else f"{abs(value):.{decimals}f}"
        if float(text) == 0.0:
            return text
        return (MINUS if value < 0 else "+" if signed else "") + text

    def length(self, part: Length) -> str:
        """'−0.35 ± 0.06 mm'."""
        return self._quantity(part.mm, part.decimals, part.u_mm, part.signed) + self._unit("mm", part.unit)

    def angle(self, part: Angle) -> str:
        """'−0.35 ± 0.06°'."""
        return self._quantity(part.deg, part.decimals, part.u_deg, part.signed) + ("°" if part.unit else "")

    def number(self, part: Number) -> str:
        """'12.5 %'."""
        return self._quantity(part.value, part.decimals, part.u, part.signed) + self._unit(part.sign, bool(part.sign))

    def size(self, part: Size) -> str:
        """'120 x 80 mm'."""
        width, height = (self.figures(mm, None) for mm in (part.width_mm, part.height_mm))
        return f"{width}{self.within_value}x{self.within_value}{height}{self._unit('mm', True)}"

    def time(self, part: Time) -> str:
        """'2026-11-28 09:30 UTC'; a clock that was not set says so."""
        if part.at is None:
            return worded(CLOCK_NOT_SET, self)
        return time_on_the_wall(part, UTC, " UTC" if part.clock else "")

    def _quantity(self, value: float, decimals: int | None, u: float | None, signed: bool) -> str:
        text = self.figures(value, decimals, signed)
        return text if u is None else f"{text} ±{self.within_value}{self.figures(u, decimals)}"

    def _unit(self, unit: str, shown: bool) -> str:
        return f"{self.within_value}{unit}" if shown else ""


def time_on_the_wall(part: Time, zone: tzinfo | None, zone_sign: str) -> str:
    """'2026-11-28 09:30' by the clock of a zone (None: this machine's), with what names that zone behind it."""
    assert part.at is not None
    local = by_the_clock(part.at, zone)
    same_day = part.after is not None and by_the_clock(part.after, zone).date() == local.date()
    day = "" if same_day and part.clock else "%Y-%m-%d"
    return local.strftime(f"{day} %H:%M".strip() if part.clock else day) + zone_sign


def by_the_clock(at: datetime, zone: tzinfo | None) -> datetime:
    """The same moment by the clock of a zone (None: this machine's); the calendar's first and last hours, which a clock
    that is wrong by millennia says, stay as they are."""
    try:
        return at.astimezone(zone)
    except OverflowError:
        return at


PLAIN = Voice()


def worded(part: Part, voice: Voice = PLAIN) -> str:
    """The part as this voice says it: the last edge, never called before it.

    A sentence of which the catalogue lacks anything is English as a whole; quantities stay as the person chose. Raises
    KeyError where a translation names a slot that the message has not.
    """
    match part:
        case Said():
            try:
                return _in_one_language(part, voice, "")
            except _NotInCatalogueError:
                return _in_one_language(part, voice.in_english(), "")
        case Series():
            return part.joint.join(worded(item, voice) for item in part.items)
        case Column():
            return _set(part, worded(part.what, voice))
        case _:
            return _in_one_language(part, voice, "")


class _NotInCatalogueError(Exception):
    """A message has no translation."""


def _in_one_language(part: Part, voice: Voice, context: str) -> str:
    """`context` is what a translation asks for in the slot where the part stands."""
    match part:
        case Said(message=""):
            return ""
        case Said():
            template = voice.template(part, context)
            if template is None:
                raise _NotInCatalogueError(part.message)
            # A sign that belongs to the number behind it stays at it, as its unit does.
            template = template.replace("± ", f"±{voice.within_value}")
            return template.format_map({name: _Slot(item, voice) for name, item in part.parts})
        case Series():
            return part.joint.join(_in_one_language(item, voice, context) for item in part.items)
        case Column():
            return _set(part, _in_one_language(part.what, voice, context))
        case Name():
            return part.shown
        case Length():
            return voice.length(part)
        case Angle():
            return voice.angle(part)
        case Number():
            return voice.number(part)
        case Size():
            return voice.size(part)
        case Time():
            return voice.time(part)


def _set(column: Column, text: str) -> str:
    if column.right:
        return text.rjust(column.letters)
    return text.ljust(column.letters) if len(text) <= column.letters else f"{text}\n{' ' * column.letters}"


class _Slot(Struct, frozen=True):
    """What stands in a slot; its format is the context it is looked up under, or asks for a large first letter."""

    part: Part
    voice: Voice

    def __format__(self, context: str) -> str:
        if context == CAPITAL:
            text = _in_one_language(self.part, self.voice, "")
            return text[:1].upper() + text[1:]
        return _in_one_language(self.part, self.voice, context)
