"""The table of wire formats: a row for each line as manuals print it, so that a person finds their manual's own.

Input: the formats. Output: lines for the terminal, 80 columns: the line between bars, for blanks count, then the name
for --format and how the cable is usually set. Frames of bits have a row for each layout, with the name for --binary.
"""

from collections.abc import Iterator
from itertools import zip_longest

from core.said import NOTHING, Column, Name, Part, Series, said
from firmware_bridge import LAYOUT_IN_WORDS, WIRE_FORMATS, WireFormat

_LINE_LETTERS, _NAME_LETTERS = 29, 19
_RADIO = said(
    "Packets come by radio or as USB reports. No standard lays them out, so each is described by hand. The radio was "
    "proven on a stand-in behind its real library, USB reports on the kernel's own stand-in; neither on an instrument."
)


def format_table() -> Iterator[Part]:
    """The head, each format's rows below its title, and what holds for packets."""
    yield _row(said("a line as manuals print it"), said("--format"), said("usual settings"))
    for row in WIRE_FORMATS.values():
        yield row.title
        yield from _rows(row)
    yield said("layouts of bits")
    for name, words in LAYOUT_IN_WORDS.items():
        yield Series((Column(Name(f"  --binary {name}"), _LINE_LETTERS + 1), words), joint="")
    yield _RADIO


def _rows(row: WireFormat) -> Iterator[Part]:
    for line, settings in zip_longest(row.lines, _settings(row), fillvalue=NOTHING):
        yield _row(Name(f"  |{line}|"), Name(row.name), settings)


def _settings(row: WireFormat) -> Iterator[Part]:
    """Said once, beside a format's first lines."""
    yield said("like a keyboard") if row.typed else Name(", ".join(map(str, row.framings)))
    if row.request:
        yield said("asked by {request}", request=Name(row.request.decode().replace("\r", " CR")))


def _row(line: Part, name: Part, settings: Part) -> Series:
    return Series((Column(line, _LINE_LETTERS), Name(" "), Column(name, _NAME_LETTERS), settings), joint="")
