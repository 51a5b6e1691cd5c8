"""A gauge study from a CSV file: who read which part how often.

Stage: a way in for core.metrology.gauge_study. In: the bytes of a file with the header `operator,part,value,unit`, one
reading a line, repeated lines of one operator and part are trials. Out: readings as operators x parts x trials, in mm
or degrees. Every fault is one ReadingsFileError.
"""

from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError, ReadingsFileError
from core.metrology import Quantity
from core.records.csv_table import parse_table, read_file
from core.records.readings_csv import unit_named
from core.said import Name, said

COLUMNS = ("operator", "part", "value", "unit")


class StudyFile(Struct, frozen=True, kw_only=True):
    """Readings of operators x parts x trials in mm or degrees, operators and parts in the file's order."""

    quantity: Quantity
    operators: tuple[str, ...]
    parts: tuple[str, ...]
    readings: tuple[tuple[tuple[float, ...], ...], ...]


def read_study(path: Path) -> StudyFile:
    """Read a study; raises BadInputError when it cannot be opened, ReadingsFileError when it is wrong."""
    return parse_study(read_file(path), str(path))


def parse_study(data: bytes, file: str) -> StudyFile:
    """The study in the bytes of a CSV file; `file` is its name in messages. Raises ReadingsFileError."""
    table = parse_table(data, file, COLUMNS)
    cells: dict[tuple[str, str], list[float]] = {}
    quantities: list[Quantity] = []
    for row in table.rows:
        try:
            unit = unit_named(row.fields["unit"])
            value = unit.to_internal(table.number(row.fields["value"]))
        except BadInputError as exc:
            raise ReadingsFileError(file, row.line, exc.what) from exc
        quantities.append(unit.quantity)
        if unit.quantity is not quantities[0]:
            raise ReadingsFileError(
                file, row.line, said("lengths and angles in one study; make it one instrument a file")
            )
        cells.setdefault((row.fields["operator"], row.fields["part"]), []).append(value)
    if not cells:
        raise ReadingsFileError(
            file, 0, said("no readings below the header; one a line, such as Ana,coupon 1,119.95,mm")
        )
    operators, parts = (tuple(dict.fromkeys(cell[place] for cell in cells)) for place in (0, 1))
    trials = max(len(values) for values in cells.values())
    for operator in operators:
        for part in parts:
            count = len(cells.get((operator, part), ()))
            if count != trials:
                what = said(
                    "{operator} read {part} {count} times, others {trials} times; all must be read equally often",
                    operator=Name(operator),
                    part=Name(part),
                    count=count,
                    trials=trials,
                )
                raise ReadingsFileError(file, 0, what)
    return StudyFile(
        quantity=quantities[0],
        operators=operators,
        parts=parts,
        readings=tuple(tuple(tuple(cells[operator, part]) for part in parts) for operator in operators),
    )
