"""The report's two tables: characteristics with their bars, readings with their residuals.

Input: rows of report_rows. Output: lines on the page, from where it stands.
"""

from __future__ import annotations

from core.metrology.adjustment import Estimate
from core.metrology.sentences import VERDICT_WORD
from core.metrology.verdict import GUARD_FACTOR
from core.records.report_page import INK, SOFT, VERDICT_COLOUR, Colour, Element, ReportPage
from core.records.report_rows import CharacteristicRow, ReadingRow
from core.said import NOTHING, Name, said

_ZONE: Colour = (212, 221, 227)
_GUARD: Colour = (237, 241, 243)
# The bar beside a characteristic reaches to this many tolerances on either side of the nominal.
_BAR_REACH = 1.6
_CHARACTERISTIC_COLUMNS = (
    (said("characteristic"), 43.0, "L"),
    (said("nominal"), 14.0, "R"),
    (said("limits"), 16.0, "R"),
    (said("best fit"), 23.0, "R"),
    (said("U (95 %)"), 16.0, "R"),
    (NOTHING, 10.0, "L"),
    (said("within its limits"), 36.0, "C"),
    (said("verdict"), 22.0, "R"),
)


def characteristics_table(page: ReportPage, rows: tuple[CharacteristicRow, ...]) -> None:
    """Value, U, limits and verdict of every characteristic, with value and U drawn into the tolerance zone."""
    page.table_head(_CHARACTERISTIC_COLUMNS)
    for row in rows:
        with page.element(Element.PARAGRAPH):
            _characteristic(page, row)
        page.ln(page.row_mm)
    page.rule(page.get_y() + 0.3)


def _characteristic(page: ReportPage, row: CharacteristicRow) -> None:
    """One line of the table; read aloud as one."""
    soft = SOFT if row.verdict is None else INK
    cells = (row.label, row.nominal, row.limits, row.value, row.u95, Name(f"  {row.unit}"))
    for text, (_, width, align) in zip(cells, _CHARACTERISTIC_COLUMNS, strict=False):
        page.say(text, width, colour=soft, bold=text is row.value and row.verdict is not None, align=align)
    _bar(page, row, page.get_x(), page.get_y(), 36.0)
    page.set_x(page.get_x() + 36.0)
    word = VERDICT_WORD[row.verdict] if row.verdict else said("information")
    colour = VERDICT_COLOUR[row.verdict] if row.verdict else SOFT
    page.say(word, 22.0, bold=row.verdict is not None, colour=colour, align="R")


def _bar(page: ReportPage, row: CharacteristicRow, x: float, y: float, width: float) -> None:
    """The tolerance zone with its guard bands, and value with U inside it, on one scale for every row."""
    if row.share is None or row.share_u95 is None or row.verdict is None:
        return
    middle, unit, axis = x + width / 2.0, (width - 4.0) / 2.0 / _BAR_REACH, y + page.row_mm / 2.0
    guard = min(1.0, GUARD_FACTOR * Estimate.from_expanded(0.0, row.share_u95).u)
    page.set_fill_color(*_GUARD)
    page.rect(middle - unit, y + 0.5, 2.0 * unit, page.row_mm - 1.0, style="F")
    page.set_fill_color(*_ZONE)
    page.rect(middle - unit * (1.0 - guard), y + 0.5, 2.0 * unit * (1.0 - guard), page.row_mm - 1.0, style="F")
    page.set_draw_color(*SOFT)
    page.set_line_width(0.2)
    for side in (-1.0, 1.0):
        page.line(middle + side * unit, y + 0.2, middle + side * unit, y + page.row_mm - 0.2)
    page.set_draw_color(*VERDICT_COLOUR[row.verdict])
    page.set_line_width(0.35)

    def at(share: float) -> float:
        return middle + unit * max(-_BAR_REACH, min(_BAR_REACH, share))

    page.line(at(row.share - row.share_u95), axis, at(row.share + row.share_u95), axis)
    page.set_fill_color(*VERDICT_COLOUR[row.verdict])
    page.circle(at(row.share), axis, 0.8, style="F")


_READING_COLUMNS = (
    (said("reading"), 40.0, "L"),
    (Name("n"), 8.0, "R"),
    (said("mean"), 23.0, "R"),
    (said("best fit"), 23.0, "R"),
    (NOTHING, 10.0, "L"),
    (said("residual"), 20.0, "R"),
    (said("standardised"), 20.0, "R"),
    (said("smallest error that would show"), 36.0, "R"),
)


def readings_table(page: ReportPage, rows: tuple[ReadingRow, ...]) -> None:
    """What was read, what the best fit makes of it, and what misreading would have shown."""
    page.table_head(_READING_COLUMNS)
    for row in rows:
        unit = Name(f"  {row.unit}")
        cells = (row.label, row.count, row.mean, row.best_fit, unit, row.residual, row.standardised, row.detectable)
        with page.element(Element.PARAGRAPH):
            for text, (_, width, align) in zip(cells, _READING_COLUMNS, strict=True):
                page.say(text, width, align=align)
        page.ln(page.row_mm)
    page.rule(page.get_y() + 0.3)
