"""The report's tables: what is judged with its bars, all characteristics, readings with their residuals.

Input: rows of report_rows. Output: lines on the page, from where it stands.
"""

from core.metrology import GUARD_FACTOR, VERDICT_WORD, Estimate
from core.records.report_page import INK, SOFT, VERDICT_COLOUR, Colour, ReportPage
from core.records.report_rows import CharacteristicRow, ReadingRow
from core.records.tagged_tree import Element
from core.said import NOTHING, Name, Number, Part, said

_ZONE: Colour = (212, 221, 227)
_GUARD: Colour = (237, 241, 243)
# The bar beside a characteristic reaches to this many tolerances on either side of the nominal.
_BAR_REACH = 1.6
_BAR_MM = 40.0
_JUDGED_COLUMNS = (
    (said("characteristic"), 52.0, "L"),
    (said("limits"), 30.0, "R"),
    (said("measured"), 34.0, "R"),
    (said("within its limits"), _BAR_MM, "C"),
    (said("verdict"), 24.0, "R"),
)
_CHARACTERISTIC_COLUMNS = (
    (said("characteristic"), 52.0, "L"),
    (said("nominal"), 20.0, "R"),
    (said("limits"), 24.0, "R"),
    (said("best fit"), 28.0, "R"),
    (said("U (95 %)"), 22.0, "R"),
    (NOTHING, 12.0, "L"),
    (said("verdict"), 22.0, "R"),
)


def judged_table(page: ReportPage, rows: tuple[CharacteristicRow, ...]) -> None:
    """What has a limit: the limit, what was measured, and where in the tolerance zone it lies."""
    with page.group(Element.TABLE):
        page.table_head(_JUDGED_COLUMNS)
        for row in rows:
            if row.verdict is None:
                continue
            with page.group(Element.ROW):
                _say_cells(page, (row.label, row.zone, row.measured), _JUDGED_COLUMNS, bold=row.measured)
                with page.element(Element.CELL, instead=_of_the_limit(row)):
                    _bar(page, row, page.get_x(), page.get_y(), _BAR_MM)
                page.set_x(page.get_x() + _BAR_MM)
                _say_verdict(page, row, _JUDGED_COLUMNS[-1][1])
            page.ln(page.row_mm)
    page.rule(page.get_y() + 0.3)


def characteristics_table(page: ReportPage, rows: tuple[CharacteristicRow, ...]) -> None:
    """Best fit, U, limits and verdict of every characteristic, those for information as well."""
    with page.group(Element.TABLE):
        page.table_head(_CHARACTERISTIC_COLUMNS)
        for row in rows:
            soft = SOFT if row.verdict is None else INK
            cells = (row.label, row.nominal, row.limits, row.value, row.u95, Name(f"  {row.unit}"))
            with page.group(Element.ROW):
                _say_cells(page, cells, _CHARACTERISTIC_COLUMNS, colour=soft)
                _say_verdict(page, row, _CHARACTERISTIC_COLUMNS[-1][1])
            page.ln(page.row_mm)
    page.rule(page.get_y() + 0.3)


def _say_cells(
    page: ReportPage,
    cells: tuple[Part, ...],
    columns: tuple[tuple[Part, float, str], ...],
    *,
    colour: Colour = INK,
    bold: Part | None = None,
) -> None:
    """The first cells of a row; the very first names the row."""
    for place, (text, (_, width, align)) in enumerate(zip(cells, columns, strict=False)):
        kind = Element.CELL if place else Element.ROW_HEAD
        page.say(text, width, colour=colour, bold=text is bold, align=align, kind=kind)


def _of_the_limit(row: CharacteristicRow) -> Part:
    """What the bar shows, for whoever does not see it."""
    return NOTHING if row.share is None else said("{share} of the limit", share=Number(100.0 * row.share, 0, "%"))


def _say_verdict(page: ReportPage, row: CharacteristicRow, width: float) -> None:
    """The word at the end of a row."""
    word = VERDICT_WORD[row.verdict] if row.verdict else said("information")
    colour = VERDICT_COLOUR[row.verdict] if row.verdict else SOFT
    page.say(word, width, bold=row.verdict is not None, colour=colour, align="R", kind=Element.CELL)


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
    (said("reading"), 36.0, "L"),
    (Name("n"), 8.0, "R"),
    (said("mean"), 23.0, "R"),
    (said("best fit"), 23.0, "R"),
    (NOTHING, 10.0, "L"),
    (said("residual"), 20.0, "R"),
    (said("standardised"), 20.0, "R"),
    (said("smallest error that would show"), 40.0, "R"),
)


def readings_table(page: ReportPage, rows: tuple[ReadingRow, ...]) -> None:
    """What was read, what the best fit makes of it, and what misreading would have shown."""
    with page.group(Element.TABLE):
        page.table_head(_READING_COLUMNS)
        for row in rows:
            unit = Name(f"  {row.unit}")
            cells = (row.label, row.count, row.mean, row.best_fit, unit, row.residual, row.standardised, row.detectable)
            with page.group(Element.ROW):
                _say_cells(page, cells, _READING_COLUMNS)
            page.ln(page.row_mm)
    page.rule(page.get_y() + 0.3)
