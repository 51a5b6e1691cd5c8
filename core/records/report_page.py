"""The report's page: size, typeface, colours, and the few things that are drawn over and over.

Input: text and positions in mm on A4. Output: an fpdf2 page; report_pdf.py and report_tables.py put the report on it.
"""

from __future__ import annotations

from importlib import resources

from fpdf import FPDF, XPos, YPos
from fpdf.fonts import TTFFont

from core.metrology.verdict import Verdict
from core.said import Part, Voice, worded

Colour = tuple[int, int, int]

LEFT, RIGHT, TOP = 15.0, 195.0, 13.0
WIDTH = RIGHT - LEFT
INK: Colour = (23, 40, 54)
SOFT: Colour = (98, 110, 120)
HAIR: Colour = (196, 203, 209)
STAMP: Colour = (200, 60, 20)
# Each verdict has a colour and, for eyes that do not tell colours apart, its word.
VERDICT_COLOUR: dict[Verdict, Colour] = {
    Verdict.GO: (22, 110, 72),
    Verdict.NO_GO: (170, 32, 36),
    Verdict.UNDECIDED: (150, 98, 0),
    Verdict.INCONSISTENT: (96, 52, 140),
}
FAMILY = "report"


class ReportPage(FPDF):
    """One A4 page whose tables have rows `row_mm` high, in one voice."""

    def __init__(self, row_mm: float, voice: Voice) -> None:
        super().__init__(format="A4", unit="mm")
        self.row_mm = row_mm
        self.voice = voice
        folder = resources.files("core.records.fonts")
        for style, file in (("", "DejaVuSansCondensed.ttf"), ("B", "DejaVuSansCondensed-Bold.ttf")):
            with resources.as_file(folder.joinpath(file)) as path:
                self.add_font(FAMILY, style, path)
        self.set_auto_page_break(False)
        self.set_margins(LEFT, TOP, 210.0 - RIGHT)
        self.c_margin = 0.0
        self.add_page()

    def close(self) -> None:
        """Let go of the font files, which the library keeps open for as long as the page lives."""
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.close()

    def words(self, text: Part) -> str:
        """As it is printed."""
        return worded(text, self.voice)

    def say(
        self,
        text: Part,
        width: float,
        *,
        size: float = 8.0,
        bold: bool = False,
        colour: Colour = INK,
        align: str = "L",
    ) -> None:
        """One cell of text on the current line."""
        self.set_font(FAMILY, "B" if bold else "", size)
        self.set_text_color(*colour)
        self.cell(width, self.row_mm, self.words(text), align=align)

    def say_lines(self, text: Part, width: float, row_mm: float) -> None:
        """Text in as many lines as it takes, in the type that is set; the next text begins below."""
        self.multi_cell(width, row_mm, self.words(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def rule(self, y: float, colour: Colour = HAIR, width: float = 0.15) -> None:
        """A line across the page at `y`."""
        self.set_draw_color(*colour)
        self.set_line_width(width)
        self.line(LEFT, y, RIGHT, y)

    def table_head(self, columns: tuple[tuple[Part, float, str], ...]) -> None:
        """The heads of a table's columns (name, width, alignment), and the line below them."""
        self.set_x(LEFT)
        for name, width, align in columns:
            self.say(name, width, size=7.2, colour=SOFT, align=align)
        self.ln(self.row_mm + 0.4)
        self.rule(self.get_y() - 0.2, INK, 0.25)

    def paragraph(self, title: Part, text: Part) -> None:
        """A title in the margin and its text beside it."""
        self.set_x(LEFT)
        self.say(title, 30.0, bold=True)
        self.set_font(FAMILY, "", 8.0)
        self.say_lines(text, WIDTH - 30.0, self.row_mm)
        self.ln(1.0)
