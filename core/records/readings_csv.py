"""Readings from a CSV file, the same columns whoever wrote it: a person, a spreadsheet or the export.

Stage: a way in beside the cables. In: the bytes of a file. Out: readings in mm and degrees, each with its line.
Header `feature,value,unit`, optional `instrument` and `time` (ISO 8601); one reading a line, repeated lines of one
feature are repeats. Columns are parted by comma, semicolon or tab; a decimal comma needs one of the latter two. Lines
that begin with # are remarks. Every fault is one ReadingsFileError with file, line, what, and what would be right.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from core.errors import BadInputError, ReadingsFileError
from core.geometry.coupon import MAX_SIDE_MM
from core.geometry.features import Feature
from core.metrology.readings import Reading, Unit

REQUIRED_COLUMNS = ("feature", "value", "unit")
OPTIONAL_COLUMNS = ("instrument", "time")
SIMULATED_STAMP = "SIMULATED"
_UNITS = {
    "mm": Unit.MM,
    "inch": Unit.INCH,
    "in": Unit.INCH,
    '"': Unit.INCH,
    "deg": Unit.DEG,
    "degree": Unit.DEG,
    "degrees": Unit.DEG,
    "°": Unit.DEG,
}
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,2})?")
# A coupon's diagonal is never longer than this; a longer reading is a slip of the point or the unit.
_LONGEST_MM = 2.0 * MAX_SIDE_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsFile:
    """The readings of a file, in its order; `lines[i]` is the line, counted from 1, where `readings[i]` stands.

    `simulated` is True when a remark in the file says SIMULATED: what is judged from it must say so too.
    """

    file: str
    readings: tuple[Reading, ...]
    lines: tuple[int, ...]
    simulated: bool

    def line_of(self, feature: Feature) -> int:
        """The line of the first reading of a feature; raises ValueError when there is none."""
        return self.lines[[reading.feature for reading in self.readings].index(feature)]


def read_readings(path: Path) -> ReadingsFile:
    """Read a file of readings; raises BadInputError when it cannot be opened, ReadingsFileError when it is wrong."""
    try:
        data = path.read_bytes()
    except OSError as exc:
        raise BadInputError(f"{path}: cannot be read: {exc.strerror or exc}") from exc
    return parse_readings(data, str(path))


def parse_readings(data: bytes, file: str) -> ReadingsFile:
    """Readings of the bytes of a CSV file; `file` is its name in messages. Raises ReadingsFileError."""
    text = _text(data, file)
    delimiter = _delimiter(text)
    decimal_comma = delimiter != ","
    rows = _rows(text, delimiter, file)
    line, header = next(rows, (1, []))
    columns = _columns(header, file, line)
    readings: list[Reading] = []
    lines: list[int] = []
    for line, fields in rows:
        if [field.lower() for field in fields] == [field.lower() for field in header]:
            raise ReadingsFileError(file, line, "the header stands here a second time; were two files joined?")
        if len(fields) != len(header):
            raise ReadingsFileError(
                file,
                line,
                f"{len(fields)} columns where the header has {len(header)}"
                + ("" if decimal_comma else "; for decimal commas part the columns by semicolons"),
            )
        named = {name: fields[position] for name, position in columns.items()}
        try:
            readings.append(_reading(named, decimal_comma=decimal_comma))
        except ValueError as exc:
            raise ReadingsFileError(file, line, str(exc)) from exc
        lines.append(line)
    if not readings:
        raise ReadingsFileError(file, 0, "no readings below the header; one a line, such as near,119.95,mm")
    simulated = any(line.startswith("#") and SIMULATED_STAMP in line for line in text.splitlines())
    return ReadingsFile(file=file, readings=tuple(readings), lines=tuple(lines), simulated=simulated)


def _text(data: bytes, file: str) -> str:
    """Text of a file as spreadsheets write it: UTF-8 with or without a byte order mark, UTF-16, or Western Windows."""
    if b"\0" in data and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ReadingsFileError(file, 0, "not a text file; save it as CSV")
    for encoding in ("utf-16",) if data.startswith((b"\xff\xfe", b"\xfe\xff")) else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise ReadingsFileError(file, 0, "not a text file; save it as CSV in UTF-8")


def _delimiter(text: str) -> str:
    """What parts the columns: decided by the header, which has neither numbers nor units in it."""
    header = next((line for line in text.splitlines() if line.strip() and not line.startswith("#")), "")
    return next((mark for mark in (";", "\t") if mark in header), ",")


def _rows(text: str, delimiter: str, file: str) -> Iterator[tuple[int, list[str]]]:
    """Lines with something in them, each with its number, its fields stripped."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for fields in reader:
            stripped = [field.strip() for field in fields]
            if any(stripped) and not stripped[0].startswith("#"):
                yield reader.line_num, stripped
    except csv.Error as exc:
        raise ReadingsFileError(file, reader.line_num, f"cannot be read as CSV: {exc}") from exc


def _columns(header: list[str], file: str, line: int) -> dict[str, int]:
    """Position of each column. Unknown ones are refused: a column 'voided' passed over would count what must not."""
    names = [name.lower() for name in header]
    for name in names:
        if names.count(name) > 1:
            raise ReadingsFileError(file, line, f"column {name!r} stands in the header more than once")
    missing = [name for name in REQUIRED_COLUMNS if name not in names]
    unknown = [name for name in names if name not in REQUIRED_COLUMNS + OPTIONAL_COLUMNS]
    if missing or unknown:
        what = f"column {missing[0]!r} is missing" if missing else f"unknown column {unknown[0]!r}"
        raise ReadingsFileError(
            file, line, f"{what}; the header must read feature,value,unit and may add instrument,time"
        )
    return {name: position for position, name in enumerate(names)}


def _reading(named: dict[str, str], *, decimal_comma: bool) -> Reading:
    """One reading from its fields; raises ValueError with a sentence."""
    feature = _feature(named["feature"])
    unit = _UNITS.get(named["unit"].lower())
    if unit is None:
        raise ValueError(f"{feature.label}: unit {named['unit']!r}; it must be mm, inch or deg")
    if feature.is_length is (unit is Unit.DEG):
        right = "mm or inch" if feature.is_length else "deg"
        raise ValueError(f"{feature.label}: unit {named['unit']!r} does not fit; it must be {right}")
    value = unit.to_internal(_number(named["value"], feature, decimal_comma=decimal_comma))
    if feature.is_length and not 0.0 < value <= _LONGEST_MM:
        raise ValueError(f"{feature.label}: {value:g} mm; a length must be more than 0 and at most {_LONGEST_MM:g} mm")
    if not feature.is_length and abs(value) > 360.0:
        raise ValueError(f"{feature.label}: {value:g} deg; a corner must lie within 360 degrees")
    if named.get("time"):
        try:
            datetime.fromisoformat(named["time"])
        except ValueError as exc:
            raise ValueError(f"time {named['time']!r}; it must be ISO 8601, such as 2026-03-01T09:30:00Z") from exc
    return Reading(feature=feature, value=value, unit=unit, instrument=named.get("instrument", ""))


def _feature(name: str) -> Feature:
    try:
        return Feature(name.lower())
    except ValueError as exc:
        near = difflib.get_close_matches(name.lower(), list(Feature), n=1)
        hint = f"did you mean {str(near[0])!r}?" if near else f"it must be one of {', '.join(Feature)}"
        raise ValueError(f"unknown feature {name!r}; {hint}") from exc


def _number(text: str, feature: Feature, *, decimal_comma: bool) -> float:
    # Point and comma in one number cannot be told from a thousands mark, so that is refused.
    plain = text.replace(",", ".") if decimal_comma and text.count(",") == 1 and "." not in text else text
    if not _NUMBER.fullmatch(plain):
        hint = "; for decimal commas part the columns by semicolons" if "," in text and not decimal_comma else ""
        raise ValueError(f"{feature.label}: {text!r} is not a number{hint}")
    return float(plain)
