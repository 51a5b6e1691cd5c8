"""report.pdf: one page for the customer that says what was found, and an annex that says what it rests on.

Input: a SessionRecord. Output: the bytes of a PDF. The same record gives the same bytes: the page carries the time of
the measurement, not that of printing.
"""

from contextlib import closing
from datetime import UTC, datetime

from core.metrology import VERDICT_WORD, groups_of, lamp_of
from core.records import report_rows
from core.records.report_page import (
    FAMILY,
    HAIR,
    INK,
    LEFT,
    RIGHT,
    SOFT,
    STAMP,
    TOP,
    VERDICT_COLOUR,
    WIDTH,
    Colour,
    ReportPage,
)
from core.records.report_tables import characteristics_table, judged_table, readings_table
from core.records.session_record import SessionRecord
from core.records.shape_picture import Point, ShapePicture, StrokeStyle, picture_of
from core.records.tagged_tree import Element
from core.said import PLAIN, Name, Number, Part, Voice, paragraph, said

_ROWS_MM = (5.0, 4.3, 4.0, 3.7, 3.4)
_NOTES_TOP = 277.0
_PALE_STAMP: Colour = (250, 236, 232)
_LONGEST_MACHINE = 56
_TITLE = said("Squareness report")


def report_pdf(record: SessionRecord, voice: Voice = PLAIN) -> bytes:
    """The pages; the rows move closer together until all there is to say to the customer fits on the first."""
    for row_mm in _ROWS_MM:
        with closing(_page(record, row_mm, voice)) as page:
            if page.get_y() <= _NOTES_TOP or row_mm == _ROWS_MM[-1]:
                _for_the_customer(page)
                _annex(page, record)
                return bytes(page.output())
    raise AssertionError("the last row height is taken whatever it comes to")


def _page(record: SessionRecord, row_mm: float, voice: Voice) -> ReportPage:
    page = ReportPage(row_mm, voice)
    page.describe(
        said("Squareness report {id}", id=Name(record.id)),
        made=record.session.log[0].time_utc or datetime(2000, 1, 1, tzinfo=UTC),
        creator=record.session.opened.software,
    )
    if record.session.opened.simulated:
        _stamp(page)
    _header(page, record)
    _verdict(page, record)
    top = max(61.0, page.get_y() + 4.0)
    _picture(page, picture_of(record.evaluation), (LEFT, top), (88.0, 62.0))
    page.set_y(top)
    _facts(page, report_rows.facts(record), x=LEFT + 95.0)
    page.set_y(max(top + 68.0, page.get_y() + 2.0))
    if rows := report_rows.characteristic_rows(record):
        judged_table(page, rows)
        page.ln(3.0)
    page.paragraph(said("Correction"), report_rows.correction_text(record))
    page.paragraph(said("Before and after"), report_rows.before_text(record))
    return page


def _header(page: ReportPage, record: SessionRecord) -> None:
    page.set_xy(LEFT, TOP)
    with page.element(Element.HEADING):
        page.say(_TITLE, 90.0, size=16.0, bold=True)
    if record.session.opened.simulated:
        # Once more where it cannot be cut off unseen, behind the title, which is longer in some languages.
        title_mm = page.get_string_width(page.words(_TITLE))
        page.set_xy(LEFT + max(77.0, title_mm + 3.0), TOP - 0.4)
        page.say(said("SIMULATED"), 30.0, size=12.0, bold=True, colour=STAMP)
    shop, session = record.session.opened.shop, said("session {id}", id=Name(record.id))
    above: Part = Name(report_rows.shortened(shop, _LONGEST_MACHINE)) if shop else session
    below = said("{machine}, {session}", machine=_machine(record), session=session) if shop else _machine(record)
    page.set_xy(LEFT + 90.0, TOP - 1.2)
    page.say(above, WIDTH - 90.0, size=9.0, bold=bool(shop), align="R")
    page.set_xy(LEFT + 90.0, TOP + 3.2)
    page.say(below, WIDTH - 90.0, size=8.0, colour=SOFT, align="R")
    page.rule(TOP + 9.0, INK, 0.5)


def _machine(record: SessionRecord) -> Part:
    machine = record.session.opened.machine
    return Name(report_rows.shortened(machine, _LONGEST_MACHINE)) if machine else said("machine not named")


def _verdict(page: ReportPage, record: SessionRecord) -> None:
    verdict = record.evaluation.verdict
    top, height, width = 26.0, 29.0, 58.0
    page.set_fill_color(*VERDICT_COLOUR[lamp_of(verdict, record.evaluation.settled)])
    with page.artifact():
        page.rect(LEFT, top, width, height, style="F")
    page.set_xy(LEFT, top + 4.0)
    page.say(groups_of(record.evaluation), width, size=8.0, colour=(255, 255, 255), align="C")
    page.set_xy(LEFT, top + 13.0)
    size = 27.0 if len(page.words(VERDICT_WORD[verdict])) < 8 else 19.0
    page.say(VERDICT_WORD[verdict], width, size=size, bold=True, colour=(255, 255, 255), align="C")
    page.set_xy(LEFT, top + 22.0)
    page.say(record.evaluation.limits.whence, width, size=8.0, colour=(255, 255, 255), align="C")
    page.set_xy(LEFT + width + 6.0, top)
    for place, sentence in enumerate(report_rows.sentences(record)):
        page.set_x(LEFT + width + 6.0)
        page.set_font(FAMILY, "B" if place == 0 else "", 11.0 if place == 0 else 9.0)
        page.set_text_color(*INK)
        page.say_lines(sentence, WIDTH - width - 6.0, 5.6 if place == 0 else 4.6)


def _picture(page: ReportPage, picture: ShapePicture, corner: Point, size: Point) -> None:
    """The true shape, fitted into the rectangle at `corner` (left, top) of `size`, in mm on the page."""
    scale = min(size[0] / (picture.high[0] - picture.low[0]), (size[1] - 5.0) / (picture.high[1] - picture.low[1]))
    middle = (corner[0] + size[0] / 2.0, corner[1] + (size[1] - 5.0) / 2.0)

    def placed(point: Point) -> Point:
        return middle[0] + scale * point[0], middle[1] - scale * point[1]

    with page.element(Element.FIGURE, instead=picture.caption):
        for stroke in picture.strokes:
            points = [placed(point) for point in stroke.points]
            if stroke.style in _AREAS:
                page.set_fill_color(*_AREAS[stroke.style])
                page.polygon(points, style="F")
            else:
                _pen(page, stroke.style)
                page.polyline(points)
        page.set_dash_pattern()
        for label in picture.labels:
            x, y = placed(label.point)
            page.set_xy(x - 10.0, y - page.row_mm / 2.0)
            page.say(label.text, 20.0, size=9.0 if label.strong else 8.0, bold=label.strong, align="C")
    page.set_xy(corner[0], corner[1] + size[1] - 4.5)
    page.say(picture.caption, size[0], size=6.8, colour=SOFT, align="C")


_AREAS: dict[StrokeStyle, Colour] = {StrokeStyle.BAND: (213, 232, 227), StrokeStyle.UNSURE: (196, 203, 209)}


def _pen(page: ReportPage, style: StrokeStyle) -> None:
    page.set_dash_pattern()
    match style:
        case StrokeStyle.NOMINAL:
            page.set_draw_color(*SOFT)
            page.set_line_width(0.2)
            page.set_dash_pattern(dash=1.2, gap=1.0)
        case StrokeStyle.DIAGONAL:
            page.set_draw_color(*HAIR)
            page.set_line_width(0.2)
        case StrokeStyle.TRUE | StrokeStyle.FAILING | StrokeStyle.MARK:
            page.set_draw_color(*INK)
            page.set_line_width(0.55)


FACT_NAME_MM = 25.0


def _facts(page: ReportPage, facts: tuple[tuple[Part, Part], ...], *, x: float) -> None:
    """Pairs below each other from where the page stands: a table of two columns, without heads."""
    with page.group(Element.TABLE):
        for name, text in facts:
            page.set_x(x)
            with page.group(Element.ROW):
                page.say(name, FACT_NAME_MM, colour=SOFT, kind=Element.ROW_HEAD)
                page.set_font(FAMILY, "", 8.0)
                page.set_text_color(*INK)
                page.say_lines(text, RIGHT - x - FACT_NAME_MM, page.row_mm, kind=Element.CELL)
            page.ln(0.6)


def _for_the_customer(page: ReportPage) -> None:
    """What the words mean, without any of statistics."""
    page.rule(_NOTES_TOP)
    page.set_xy(LEFT, _NOTES_TOP + 1.0)
    page.set_font(FAMILY, "", 8.0)
    page.set_text_color(*SOFT)
    page.say_lines(_WHAT_THE_WORDS_MEAN, WIDTH, 3.8)


_WHAT_THE_WORDS_MEAN = said(
    "GO: inside its limits, whatever the measuring may be off. NO-GO: outside them by more than that. The bars show "
    "each value between its limits. How it was measured stands on the next page."
)


def _annex(page: ReportPage, record: SessionRecord) -> None:
    """The readings with their residuals, and what the figures rest on, for whoever measures."""
    page.add_page()
    if record.session.opened.simulated:
        _stamp(page)
    page.set_xy(LEFT, TOP)
    with page.element(Element.HEADING):
        page.say(said("Annex: how it was measured"), 120.0, size=13.0, bold=True)
    page.set_xy(LEFT + 90.0, TOP)
    page.say(said("session {id}", id=Name(record.id)), WIDTH - 90.0, size=9.0, align="R")
    page.rule(TOP + 9.0, INK, 0.5)
    page.set_y(TOP + 13.0)
    _facts(page, report_rows.method_facts(record), x=LEFT)
    page.ln(3.0)
    if rows := report_rows.characteristic_rows(record):
        characteristics_table(page, rows)
        page.ln(4.0)
    readings_table(page, report_rows.reading_rows(record))
    _notes(page, record)


_NOTES = said(
    "U: expanded uncertainty, 95 %, by Student's t with the degrees of freedom of each value (JCGM 100). Go: "
    "conformance probability at least 95 % (JCGM 106). No-go: at most 5 % (ISO 14253-1). Pale ends of a bar: guard "
    "bands. Residual: best fit less mean; a reading is asked for again when its standardised residual is above "
    "{k_asked_again}. About this coupon; cut-to-cut scatter is not in U.",
    k_asked_again=Number(3.29, 2),
)


def _notes(page: ReportPage, record: SessionRecord) -> None:
    fit = record.evaluation.adjustment
    page.rule(_NOTES_TOP)
    page.set_xy(LEFT, _NOTES_TOP + 1.0)
    page.set_font(FAMILY, "", 6.8)
    page.set_text_color(*SOFT)
    best_fit = said(
        "Best fit: chi-square {chi_square} on {nu} degrees of freedom.",
        chi_square=Number(fit.chi_square, 2),
        nu=Number(fit.nu, 2),
    )
    written = said("Written by {software}.", software=Name(record.session.opened.software))
    page.say_lines(paragraph(_NOTES, best_fit, written), WIDTH, 3.4)


def _stamp(page: ReportPage) -> None:
    """Across the page, under everything, so pale that what stands on it is read: an archived page has no opacity."""
    with page.artifact(), page.rotation(52.0, 105.0, 190.0):
        page.set_font(FAMILY, "B", 92.0)
        page.set_text_color(*_PALE_STAMP)
        page.set_xy(5.0, 178.0)
        page.cell(200.0, 24.0, page.words(said("SIMULATED")), align="C")
