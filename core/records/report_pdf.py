"""report.pdf: one page that says what was found, how well it is known, and what it rests on.

Input: a SessionRecord. Output: the bytes of a PDF. The same record gives the same bytes: the page carries the time of
the measurement, not that of printing.
"""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime
from importlib import resources

from fpdf import FPDF, XPos, YPos
from fpdf.fonts import TTFFont

from core.metrology.adjustment import EXPANSION_FACTOR
from core.metrology.sentences import VERDICT_WORD
from core.metrology.verdict import GUARD_FACTOR, Verdict
from core.records import report_rows
from core.records.report_rows import CharacteristicRow
from core.records.session_record import SessionRecord
from core.records.shape_picture import Point, ShapePicture, StrokeStyle, picture_of

Colour = tuple[int, int, int]

_LEFT, _RIGHT, _TOP = 15.0, 195.0, 13.0
_WIDTH = _RIGHT - _LEFT
_INK: Colour = (23, 40, 54)
_SOFT: Colour = (98, 110, 120)
_HAIR: Colour = (196, 203, 209)
_ZONE: Colour = (212, 221, 227)
_GUARD: Colour = (237, 241, 243)
_STAMP: Colour = (200, 60, 20)
# Each verdict has a colour and, for eyes that do not tell colours apart, its word.
_COLOUR: dict[Verdict, Colour] = {
    Verdict.GO: (22, 110, 72),
    Verdict.NO_GO: (170, 32, 36),
    Verdict.UNDECIDED: (150, 98, 0),
    Verdict.INCONSISTENT: (96, 52, 140),
}
_FAMILY = "report"
_ROWS_MM = (4.3, 4.0, 3.7, 3.4)
_NOTES_TOP = 277.0
# The bar beside a characteristic reaches to this many tolerances on either side of the nominal.
_BAR_REACH = 1.6


class _Page(FPDF):
    """One A4 page whose tables have rows `row_mm` high."""

    def __init__(self, row_mm: float) -> None:
        super().__init__(format="A4", unit="mm")
        self.row_mm = row_mm

    def close(self) -> None:
        """Let go of the font files, which the library keeps open for as long as the page lives."""
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.close()


def report_pdf(record: SessionRecord) -> bytes:
    """The page; its rows move closer together until all there is to say fits above the notes."""
    for row_mm in _ROWS_MM:
        with closing(_page(record, row_mm)) as page:
            if page.get_y() <= _NOTES_TOP or row_mm == _ROWS_MM[-1]:
                _notes(page, record)
                return bytes(page.output())
    raise AssertionError("the last row height is taken whatever it comes to")


def _page(record: SessionRecord, row_mm: float) -> _Page:
    page = _new_page(record, row_mm)
    if record.session.opened.simulated:
        _stamp(page)
    _header(page, record)
    _verdict(page, record)
    top = max(61.0, page.get_y() + 4.0)
    _picture(page, picture_of(record.evaluation.adjustment), (_LEFT, top), (88.0, 62.0))
    _facts(page, record, x=_LEFT + 95.0, y=top)
    page.set_y(max(top + 68.0, page.get_y() + 2.0))
    if report_rows.characteristic_rows(record):
        _characteristics(page, record)
        page.ln(3.0)
    _readings(page, record)
    page.ln(3.0)
    _paragraph(page, "Correction", report_rows.correction_text(record))
    _paragraph(page, "Before and after", report_rows.before_text(record))
    return page


def _new_page(record: SessionRecord, row_mm: float) -> _Page:
    page = _Page(row_mm)
    folder = resources.files("core.records.fonts")
    for style, file in (("", "DejaVuSansCondensed.ttf"), ("B", "DejaVuSansCondensed-Bold.ttf")):
        with resources.as_file(folder.joinpath(file)) as path:
            page.add_font(_FAMILY, style, path)
    page.set_auto_page_break(False)
    page.set_margins(_LEFT, _TOP, 210.0 - _RIGHT)
    page.c_margin = 0.0
    page.set_title(f"Squareness report {record.id}")
    page.set_creator(record.session.opened.software)
    page.set_lang("en")
    page.set_creation_date(record.session.log[0].time_utc or datetime(2000, 1, 1, tzinfo=UTC))
    page.add_page()
    return page


def _say(
    page: _Page,
    text: str,
    width: float,
    *,
    size: float = 8.0,
    bold: bool = False,
    colour: Colour = _INK,
    align: str = "L",
) -> None:
    """One cell of text on the current line."""
    page.set_font(_FAMILY, "B" if bold else "", size)
    page.set_text_color(*colour)
    page.cell(width, page.row_mm, text, align=align)


def _rule(page: _Page, y: float, colour: Colour = _HAIR, width: float = 0.15) -> None:
    page.set_draw_color(*colour)
    page.set_line_width(width)
    page.line(_LEFT, y, _RIGHT, y)


def _header(page: _Page, record: SessionRecord) -> None:
    page.set_xy(_LEFT, _TOP)
    _say(page, "Squareness report", 90.0, size=16.0, bold=True)
    page.set_xy(_LEFT + 90.0, _TOP - 1.2)
    _say(page, f"session {record.id}", _WIDTH - 90.0, size=9.0, align="R")
    page.set_xy(_LEFT + 90.0, _TOP + 3.2)
    _say(page, record.session.opened.machine or "machine not named", _WIDTH - 90.0, size=8.0, colour=_SOFT, align="R")
    _rule(page, _TOP + 9.0, _INK, 0.5)


def _verdict(page: _Page, record: SessionRecord) -> None:
    verdict = record.evaluation.verdict
    top, height, width = 26.0, 29.0, 58.0
    page.set_fill_color(*_COLOUR[verdict])
    page.rect(_LEFT, top, width, height, style="F")
    page.set_xy(_LEFT, top + 4.0)
    _say(page, "squareness", width, size=8.0, colour=(255, 255, 255), align="C")
    page.set_xy(_LEFT, top + 13.0)
    size = 27.0 if len(VERDICT_WORD[verdict]) < 8 else 19.0
    _say(page, VERDICT_WORD[verdict], width, size=size, bold=True, colour=(255, 255, 255), align="C")
    page.set_xy(_LEFT, top + 22.0)
    _say(page, record.evaluation.limits.source, width, size=8.0, colour=(255, 255, 255), align="C")
    page.set_xy(_LEFT + width + 6.0, top)
    for place, sentence in enumerate(report_rows.sentences(record)):
        page.set_x(_LEFT + width + 6.0)
        page.set_font(_FAMILY, "B" if place == 0 else "", 11.0 if place == 0 else 9.0)
        page.set_text_color(*_INK)
        page.multi_cell(_WIDTH - width - 6.0, 5.6 if place == 0 else 4.6, sentence, align="L", new_y=YPos.NEXT)


def _picture(page: _Page, picture: ShapePicture, corner: Point, size: Point) -> None:
    """The true shape, fitted into the rectangle at `corner` (left, top) of `size`, in mm on the page."""
    scale = min(size[0] / (picture.high[0] - picture.low[0]), (size[1] - 5.0) / (picture.high[1] - picture.low[1]))
    middle = (corner[0] + size[0] / 2.0, corner[1] + (size[1] - 5.0) / 2.0)

    def placed(point: Point) -> Point:
        return middle[0] + scale * point[0], middle[1] - scale * point[1]

    for stroke in picture.strokes:
        _pen(page, stroke.style)
        page.polyline([placed(point) for point in stroke.points])
    page.set_dash_pattern()
    for label in picture.labels:
        x, y = placed(label.point)
        page.set_xy(x - 10.0, y - page.row_mm / 2.0)
        _say(page, label.text, 20.0, size=9.0, bold=label.strong, align="C")
    page.set_xy(corner[0], corner[1] + size[1] - 4.5)
    _say(page, picture.caption, size[0], size=6.8, colour=_SOFT, align="C")


def _pen(page: _Page, style: StrokeStyle) -> None:
    page.set_dash_pattern()
    match style:
        case StrokeStyle.NOMINAL:
            page.set_draw_color(*_SOFT)
            page.set_line_width(0.2)
            page.set_dash_pattern(dash=1.2, gap=1.0)
        case StrokeStyle.DIAGONAL:
            page.set_draw_color(*_HAIR)
            page.set_line_width(0.2)
        case StrokeStyle.TRUE | StrokeStyle.MARK:
            page.set_draw_color(*_INK)
            page.set_line_width(0.55)


def _facts(page: _Page, record: SessionRecord, *, x: float, y: float) -> None:
    page.set_y(y)
    for name, text in report_rows.facts(record):
        page.set_x(x)
        _say(page, name, 25.0, colour=_SOFT)
        page.set_font(_FAMILY, "", 8.0)
        page.set_text_color(*_INK)
        page.multi_cell(_RIGHT - x - 25.0, page.row_mm, text, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        page.ln(0.6)


_CHARACTERISTIC_COLUMNS = (
    ("characteristic", 46.0, "L"),
    ("nominal", 14.0, "R"),
    ("limits", 17.0, "R"),
    ("best fit", 19.0, "R"),
    ("U (95 %)", 16.0, "R"),
    ("", 10.0, "L"),
    ("within its limits", 36.0, "C"),
    ("verdict", 22.0, "R"),
)


def _characteristics(page: _Page, record: SessionRecord) -> None:
    _table_head(page, _CHARACTERISTIC_COLUMNS)
    for row in report_rows.characteristic_rows(record):
        soft = _SOFT if row.verdict is None else _INK
        cells = (row.label, row.nominal, row.limits, row.value, row.u95, f"  {row.unit}")
        for text, (_, width, align) in zip(cells, _CHARACTERISTIC_COLUMNS, strict=False):
            _say(page, text, width, colour=soft, bold=text == row.value and row.verdict is not None, align=align)
        _bar(page, row, page.get_x(), page.get_y(), 36.0)
        page.set_x(page.get_x() + 36.0)
        word = VERDICT_WORD[row.verdict] if row.verdict else "information"
        colour = _COLOUR[row.verdict] if row.verdict else _SOFT
        _say(page, word, 22.0, bold=row.verdict is not None, colour=colour, align="R")
        page.ln(page.row_mm)
    _rule(page, page.get_y() + 0.3)


def _bar(page: _Page, row: CharacteristicRow, x: float, y: float, width: float) -> None:
    """The tolerance zone with its guard bands, and value with U inside it, on one scale for every row."""
    if row.share is None or row.share_u95 is None or row.verdict is None:
        return
    middle, unit, axis = x + width / 2.0, (width - 4.0) / 2.0 / _BAR_REACH, y + page.row_mm / 2.0
    guard = min(1.0, GUARD_FACTOR * row.share_u95 / EXPANSION_FACTOR)
    page.set_fill_color(*_GUARD)
    page.rect(middle - unit, y + 0.5, 2.0 * unit, page.row_mm - 1.0, style="F")
    page.set_fill_color(*_ZONE)
    page.rect(middle - unit * (1.0 - guard), y + 0.5, 2.0 * unit * (1.0 - guard), page.row_mm - 1.0, style="F")
    page.set_draw_color(*_SOFT)
    page.set_line_width(0.2)
    for side in (-1.0, 1.0):
        page.line(middle + side * unit, y + 0.2, middle + side * unit, y + page.row_mm - 0.2)
    page.set_draw_color(*_COLOUR[row.verdict])
    page.set_line_width(0.35)

    def at(share: float) -> float:
        return middle + unit * max(-_BAR_REACH, min(_BAR_REACH, share))

    page.line(at(row.share - row.share_u95), axis, at(row.share + row.share_u95), axis)
    page.set_fill_color(*_COLOUR[row.verdict])
    page.circle(at(row.share), axis, 0.8, style="F")


_READING_COLUMNS = (
    ("reading", 46.0, "L"),
    ("n", 8.0, "R"),
    ("mean", 23.0, "R"),
    ("best fit", 23.0, "R"),
    ("", 10.0, "L"),
    ("residual", 20.0, "R"),
    ("standardised", 20.0, "R"),
    ("misreading seen from", 30.0, "R"),
)


def _readings(page: _Page, record: SessionRecord) -> None:
    _table_head(page, _READING_COLUMNS)
    for row in report_rows.reading_rows(record):
        unit = f"  {row.unit}"
        cells = (row.label, row.count, row.mean, row.best_fit, unit, row.residual, row.standardised, row.detectable)
        for text, (_, width, align) in zip(cells, _READING_COLUMNS, strict=True):
            _say(page, text, width, align=align)
        page.ln(page.row_mm)
    _rule(page, page.get_y() + 0.3)


def _table_head(page: _Page, columns: tuple[tuple[str, float, str], ...]) -> None:
    page.set_x(_LEFT)
    for name, width, align in columns:
        _say(page, name, width, size=7.2, colour=_SOFT, align=align)
    page.ln(page.row_mm + 0.4)
    _rule(page, page.get_y() - 0.2, _INK, 0.25)


def _paragraph(page: _Page, title: str, text: str) -> None:
    page.set_x(_LEFT)
    _say(page, title, 30.0, bold=True)
    page.set_font(_FAMILY, "", 8.0)
    page.multi_cell(_WIDTH - 30.0, page.row_mm, text, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    page.ln(1.0)


_NOTES = (
    "U: expanded uncertainty, 95 %, k = 1.96. Go: conformance probability at least 95 % (JCGM 106). No-go: outside by "
    "more than 1.645 u (ISO 14253-1). Pale ends of a bar: guard bands. Residual: best fit less mean; a reading is "
    "asked for again when its standardised residual is above 3.29. About this coupon; cut-to-cut scatter is not in U."
)


def _notes(page: _Page, record: SessionRecord) -> None:
    fit = record.evaluation.adjustment
    _rule(page, _NOTES_TOP)
    page.set_xy(_LEFT, _NOTES_TOP + 1.0)
    page.set_font(_FAMILY, "", 6.8)
    page.set_text_color(*_SOFT)
    page.multi_cell(
        _WIDTH,
        3.4,
        f"{_NOTES} Best fit: chi-square {fit.chi_square:.2f} on {fit.nu:.2f} degrees of freedom. "
        f"{record.session.opened.software}.",
        align="L",
    )


def _stamp(page: _Page) -> None:
    """Across the page, under everything, and once more where it cannot be cut off unseen."""
    with page.rotation(52.0, 105.0, 190.0), page.local_context(fill_opacity=0.10):
        page.set_font(_FAMILY, "B", 92.0)
        page.set_text_color(*_STAMP)
        page.set_xy(5.0, 178.0)
        page.cell(200.0, 24.0, "SIMULATED", align="C")
    page.set_xy(_LEFT + 60.0, _TOP - 0.4)
    _say(page, "SIMULATED", 60.0, size=12.0, bold=True, colour=_STAMP, align="C")
