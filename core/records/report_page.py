"""The report's page: size, typeface, colours, and the few things that are drawn over and over.

Input: text and positions in mm on A4. Output: an fpdf2 page; report_pdf.py and report_tables.py put the report on it.
The file is archival (PDF/A-1b: typefaces and colours inside, nothing transparent) and tagged: what is written has its
place in the order of reading, what is only drawn is an artifact. Source: ISO 19005-1; ISO 32000-1, 14.7 and 14.8.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from importlib import resources
from xml.sax.saxutils import escape, quoteattr

from fpdf import FPDF, ViewerPreferences, XPos, YPos
from fpdf.enums import DocumentCompliance
from fpdf.fonts import TTFFont

from core.metrology import Verdict
from core.records.tagged_tree import Element, TaggedTree
from core.said import NOTHING, Part, Voice, worded

# What an archived PDF says of itself (ISO 19005-1, PDF/A-1 level B; ISO 16684-1, XMP). The library would write a packet
# of its own with the time of printing in it; the same record must give the same bytes.
_PACKET = """<x:xmpmeta xmlns:x="adobe:ns:meta/">
  <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
    <rdf:Description rdf:about=""
        xmlns:dc="http://purl.org/dc/elements/1.1/"
        xmlns:xmp="http://ns.adobe.com/xap/1.0/"
        xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
        pdfaid:part="1" pdfaid:conformance="B"
        xmp:CreatorTool={creator} xmp:CreateDate={made}>
      <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
      <dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
    </rdf:Description>
  </rdf:RDF>
</x:xmpmeta>"""


def archival_metadata(*, title: str, language: str, creator: str, made: datetime) -> str:
    """The packet's inside; `language` by its code (BCP 47)."""
    return _PACKET.format(
        creator=quoteattr(creator),
        made=quoteattr(made.astimezone(UTC).isoformat(timespec="seconds")),
        title=escape(title),
        language=escape(language),
    )


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
        super().__init__(format="A4", unit="mm", enforce_compliance=DocumentCompliance.PDFA_1B)
        self._tree = TaggedTree()
        self.struct_builder = self._tree
        self._inside = False
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

    def describe(self, title: Part, *, made: datetime, creator: str) -> None:
        """What the file says of itself; readers show the title instead of the file's name."""
        self.set_title(self.words(title))
        self.set_lang(self.voice.language)
        self.set_creation_date(made)
        self.viewer_preferences = ViewerPreferences(display_doc_title=True)
        self.set_xmp_metadata(
            archival_metadata(title=self.words(title), language=self.voice.language, creator=creator, made=made)
        )

    @contextmanager
    def element(self, kind: Element, instead: Part = NOTHING) -> Iterator[None]:
        """What is put on the page meanwhile is one element; `instead` says a figure in words. None within another."""
        if self._inside:
            yield
            return
        place, parents = self._tree.mark(kind, self.page, self.words(instead) or None)
        # The library has a public way for pictures and headings of an outline only.
        self.pages[self.page].struct_parents = parents
        with self._between(f"{kind.tag} <</MCID {place}>> BDC"):
            yield

    @contextmanager
    def group(self, kind: Element) -> Iterator[None]:
        """The elements put on the page meanwhile belong together: a table, a row of one."""
        self._tree.begin(kind, self.page)
        yield
        self._tree.end()

    @contextmanager
    def artifact(self) -> Iterator[None]:
        """What is put on the page meanwhile says nothing: rules, grounds, the stamp (said in words as well)."""
        if self._inside:
            yield
            return
        with self._between("/Artifact BMC"):
            yield

    @contextmanager
    def _between(self, begin: str) -> Iterator[None]:
        self._inside = True
        self._out(begin)
        yield
        self._out("EMC")
        self._inside = False

    def say(
        self,
        text: Part,
        width: float,
        *,
        size: float = 8.0,
        bold: bool = False,
        colour: Colour = INK,
        align: str = "L",
        kind: Element = Element.PARAGRAPH,
    ) -> None:
        """One cell of text on the current line; in a table an empty one has its place as well."""
        self.set_font(FAMILY, "B" if bold else "", size)
        self.set_text_color(*colour)
        if not text and kind is Element.PARAGRAPH:
            self.set_x(self.get_x() + width)
            return
        with self.element(kind):
            self.cell(width, self.row_mm, self.words(text), align=align)

    def say_lines(self, text: Part, width: float, row_mm: float, kind: Element = Element.PARAGRAPH) -> None:
        """Text in as many lines as it takes, in the type that is set; the next text begins below."""
        with self.element(kind):
            # The library drops the blank at which it breaks a line, and what is read aloud would run words together.
            lines = self.multi_cell(width, row_mm, self.words(text), align="L", dry_run=True, output="LINES")
            assert isinstance(lines, list)
            for line in lines:
                self.cell(width, row_mm, line if line.endswith("-") else f"{line} ", new_x=XPos.LEFT, new_y=YPos.NEXT)
        self.set_x(self.l_margin)

    def rule(self, y: float, colour: Colour = HAIR, width: float = 0.15) -> None:
        """A line across the page at `y`."""
        self.set_draw_color(*colour)
        self.set_line_width(width)
        with self.artifact():
            self.line(LEFT, y, RIGHT, y)

    def table_head(self, columns: tuple[tuple[Part, float, str], ...]) -> None:
        """The heads of a table's columns (name, width, alignment), and the line below them, within the table."""
        self.set_x(LEFT)
        with self.group(Element.ROW):
            for name, width, align in columns:
                self.say(name, width, size=7.2, colour=SOFT, align=align, kind=Element.COLUMN_HEAD)
        self.ln(self.row_mm + 0.4)
        self.rule(self.get_y() - 0.2, INK, 0.25)

    def paragraph(self, title: Part, text: Part) -> None:
        """A title in the margin and its text beside it."""
        self.set_x(LEFT)
        self.say(title, 30.0, bold=True)
        self.set_font(FAMILY, "", 8.0)
        self.say_lines(text, WIDTH - 30.0, self.row_mm)
        self.ln(1.0)
