"""Readings from a CSV file, the same columns whoever wrote it: a person, a spreadsheet or the export.

Stage: a way in beside the cables. In: the bytes of a file. Out: readings in mm and degrees, each with its line. Header
`feature,value,unit`, optional `instrument` and `time` (ISO 8601); one reading a line, repeated lines of one feature are
repeats. Every fault is one ReadingsFileError with file, line, what, and what would be right.
"""

import difflib
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError, ReadingsFileError
from core.geometry import MAX_SIDE_MM, Feature
from core.metrology import Reading, Unit
from core.records.csv_table import Table, parse_table, read_file
from core.said import Name, said

REQUIRED_COLUMNS = ("feature", "value", "unit")
OPTIONAL_COLUMNS = ("instrument", "time")
# What a field begins with that a spreadsheet works out instead of showing it (OWASP, "CSV Injection").
FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")
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
# A coupon's diagonal is never longer than this; a longer reading is a slip of the point or the unit.
_LONGEST_MM = 2.0 * MAX_SIDE_MM


class ReadingsFile(Struct, frozen=True, kw_only=True):
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
    return parse_readings(read_file(path), str(path))


def parse_readings(data: bytes, file: str) -> ReadingsFile:
    """Readings of the bytes of a CSV file; `file` is its name in messages. Raises ReadingsFileError."""
    table = parse_table(data, file, REQUIRED_COLUMNS, OPTIONAL_COLUMNS)
    readings = []
    for row in table.rows:
        try:
            readings.append(_reading(row.fields, table))
        except BadInputError as exc:
            raise ReadingsFileError(file, row.line, exc.what) from exc
    if not readings:
        raise ReadingsFileError(file, 0, said("no readings below the header; one a line, such as near,119.95,mm"))
    return ReadingsFile(
        file=file,
        readings=tuple(readings),
        lines=tuple(row.line for row in table.rows),
        simulated=any(SIMULATED_STAMP in remark for remark in table.remarks),
    )


def inert(text: str) -> str:
    """A name that a spreadsheet takes for a name, whatever it begins with; `active` is the way back."""
    return f"'{text}" if text.lstrip("'").startswith(FORMULA_MARKS) else text


def active(text: str) -> str:
    """A name as it was, of what was written so that no spreadsheet takes it for a formula."""
    return text[1:] if text.startswith("'") and inert(text[1:]) == text else text


def unit_named(name: str) -> Unit:
    """The unit a file means; raises BadInputError."""
    try:
        return _UNITS[name.lower()]
    except KeyError:
        raise BadInputError(said("unit {name}; it must be mm, inch or deg", name=Name(repr(name)))) from None


def _reading(fields: dict[str, str], table: Table) -> Reading:
    """One reading from its fields; raises BadInputError."""
    feature = _feature(fields["feature"])
    try:
        unit = unit_named(fields["unit"])
        if feature.is_length is (unit is Unit.DEG):
            right = said("mm or inch") if feature.is_length else Name("deg")
            unit_given = Name(repr(fields["unit"]))
            raise BadInputError(said("unit {unit} does not fit; it must be {right}", unit=unit_given, right=right))
        value = unit.to_internal(table.number(fields["value"]))
        _check_range(feature, value)
    except BadInputError as exc:
        raise BadInputError(said("{feature}: {what}", feature=feature.label, what=exc.what)) from exc
    if fields.get("time"):
        try:
            datetime.fromisoformat(fields["time"])
        except ValueError as exc:
            time = Name(repr(fields["time"]))
            raise BadInputError(
                said("time {time}; it must be ISO 8601, such as 2026-03-01T09:30:00Z", time=time)
            ) from exc
    return Reading(feature=feature, value=value, unit=unit, instrument=active(fields.get("instrument", "")))


def _check_range(feature: Feature, value: float) -> None:
    if feature.is_length and not 0.0 < value <= _LONGEST_MM:
        raise BadInputError(
            said(
                "{value} mm; a length must be more than 0 and at most {most} mm",
                value=Name(f"{value:g}"),
                most=Name(f"{_LONGEST_MM:g}"),
            )
        )
    if not feature.is_length and abs(value) > 360.0:
        raise BadInputError(said("{value} deg; a corner must lie within 360 degrees", value=Name(f"{value:g}")))


def _feature(name: str) -> Feature:
    try:
        return Feature(name.lower())
    except ValueError as exc:
        near = difflib.get_close_matches(name.lower(), list(Feature), n=1)
        given = Name(repr(name))
        if near:
            what = said("unknown feature {name}; did you mean {near}?", name=given, near=Name(repr(str(near[0]))))
        else:
            what = said("unknown feature {name}; it must be one of {known}", name=given, known=Name(", ".join(Feature)))
        raise BadInputError(what) from exc
