"""A CSV table as people and spreadsheets write it: encodings, delimiters, decimal commas, remarks, a header by name.

Stage: under every CSV file that comes in. In: the bytes of a file and the columns it must and may have. Out: rows with
their line numbers. Columns are parted by comma, semicolon or tab; a decimal comma needs one of the latter two. Lines
that begin with # are remarks. Every fault is one ReadingsFileError with file, line, what, and what would be right.
"""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError, ReadingsFileError
from core.regular_file import read_regular_file
from core.said import Name, Said, said

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,2})?")
# A coupon takes a few dozen readings, a gauge study a few hundred; so many are still judged in a few seconds.
_MAX_BYTES = 8 * 1024 * 1024
MAX_ROWS = 100_000
_UTF_16_MARKS = (b"\xff\xfe", b"\xfe\xff")


class Row(Struct, frozen=True, kw_only=True):
    """One line: its number, counted from 1, and its fields by column, stripped."""

    line: int
    fields: dict[str, str]


class Table(Struct, frozen=True, kw_only=True):
    """The rows of a file and its remarks; `decimal_comma` tells whether a comma may be a decimal point here."""

    rows: tuple[Row, ...]
    remarks: tuple[str, ...]
    decimal_comma: bool

    def number(self, text: str) -> float:
        """The number a field holds; raises BadInputError."""
        # Point and comma in one number cannot be told from a thousands mark, so that is refused.
        plain = text.replace(",", ".") if self.decimal_comma and text.count(",") == 1 and "." not in text else text
        if not _NUMBER.fullmatch(plain):
            no_number = said("{text} is not a number", text=Name(repr(text)))
            raise BadInputError(_for_commas(no_number) if "," in text and not self.decimal_comma else no_number)
        return float(plain)


def read_file(path: Path) -> bytes:
    """The bytes of a file; raises BadInputError when it cannot be read, is no ordinary file, or holds too much."""
    return read_regular_file(path, _MAX_BYTES)


def parse_table(data: bytes, file: str, required: Sequence[str], optional: Sequence[str] = ()) -> Table:
    """The table in the bytes of a file; `file` is its name in messages. Raises ReadingsFileError."""
    text = _text(data, file)
    delimiter = _delimiter(text)
    lines = _lines(text, delimiter, file)
    line, header = next(lines, (1, []))
    columns = _columns(header, required, optional, file, line)
    rows: list[Row] = []
    for line, fields in lines:
        if [field.lower() for field in fields] == columns:
            raise ReadingsFileError(file, line, said("the header stands here a second time; were two files joined?"))
        if len(fields) != len(columns):
            what = said("{found} columns where the header has {due}", found=len(fields), due=len(columns))
            raise ReadingsFileError(file, line, _for_commas(what) if delimiter == "," else what)
        if len(rows) == MAX_ROWS:
            raise ReadingsFileError(
                file, line, said("more than {limit} readings; is this the right file?", limit=MAX_ROWS)
            )
        rows.append(Row(line=line, fields=dict(zip(columns, fields, strict=True))))
    return Table(
        rows=tuple(rows),
        remarks=tuple(line for line in text.splitlines() if _is_remark(line)),
        decimal_comma=delimiter != ",",
    )


def _for_commas(what: Said) -> Said:
    return said("{what}; for decimal commas part the columns by semicolons", what=what)


def _text(data: bytes, file: str) -> str:
    """Text as spreadsheets write it: UTF-8 with or without a byte order mark, UTF-16, or Western Windows."""
    marked = data.startswith(_UTF_16_MARKS)
    if b"\0" in data and not marked:
        raise ReadingsFileError(file, 0, said("not a text file; save it as CSV"))
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise ReadingsFileError(file, 0, said("not a text file; save it as CSV in UTF-8"))


def _delimiter(text: str) -> str:
    """What parts the columns: decided by the header, which has neither numbers nor units in it."""
    header = next((line for line in text.splitlines() if line.strip() and not _is_remark(line)), "")
    return next((mark for mark in (";", "\t") if mark in header), ",")


def _is_remark(line: str) -> bool:
    return line.lstrip().startswith("#")


def _lines(text: str, delimiter: str, file: str) -> Iterator[tuple[int, list[str]]]:
    """Lines with something in them, each with its number, its fields stripped."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for fields in reader:
            stripped = [field.strip() for field in fields]
            if any(stripped) and not _is_remark(stripped[0]):
                yield reader.line_num, stripped
    except csv.Error as exc:
        what = said("cannot be read as CSV: {exc}", exc=Name(str(exc)))
        raise ReadingsFileError(file, reader.line_num, what) from exc


def _columns(
    header: Sequence[str], required: Sequence[str], optional: Sequence[str], file: str, line: int
) -> list[str]:
    """Names of the columns. Unknown ones are refused: a column 'voided' passed over would count what must not."""
    names = [name.lower() for name in header]
    repeated = [name for name in names if names.count(name) > 1]
    if repeated:
        what = said("column {column} stands in the header more than once", column=Name(repr(repeated[0])))
        raise ReadingsFileError(file, line, what)
    missing = [name for name in required if name not in names]
    unknown = [name for name in names if name not in (*required, *optional)]
    if missing or unknown:
        if missing:
            what = said("column {column} is missing", column=Name(repr(missing[0])))
        else:
            what = said("unknown column {column}", column=Name(repr(unknown[0])))
        must, may = Name(",".join(required)), Name(",".join(optional))
        if optional:
            what = said("{what}; the header must read {must} and may add {may}", what=what, must=must, may=may)
        else:
            what = said("{what}; the header must read {must}", what=what, must=must)
        raise ReadingsFileError(file, line, what)
    return names
