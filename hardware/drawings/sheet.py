"""A small sheet to draw wiring on, as SVG: lines, words and the symbols of IEC 60617.

Stage: hardware, documents only. Input: coordinates in units of about 1 mm on screen, y downwards. Output: SVG text.
"""

from xml.sax.saxutils import escape

INK, FAINT, PAPER = "#22303a", "#8a97a1", "#ffffff"


class Sheet:
    """Collects shapes; `svg` gives the file's text."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self._width, self._height, self._title = width, height, title
        self._shapes: list[str] = []
        self.words(16, 26, title, size=15, bold=True)

    def line(self, *points: tuple[float, float], colour: str = INK, width: float = 1.6, dashes: str = "") -> None:
        """A line through these points."""
        path = " ".join(f"{x:g},{y:g}" for x, y in points)
        dash = f' stroke-dasharray="{dashes}"' if dashes else ""
        self._shapes.append(f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width:g}"{dash}/>')

    def box(self, x: float, y: float, width: float, height: float, *, fill: str = PAPER, radius: float = 0.0) -> None:
        """A rectangle from its upper left corner."""
        self._shapes.append(
            f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="{radius:g}" '
            f'fill="{fill}" stroke="{INK}" stroke-width="1.6"/>'
        )

    def disc(self, x: float, y: float, radius: float, *, fill: str = PAPER) -> None:
        """A circle around its centre."""
        self._shapes.append(
            f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="{fill}" stroke="{INK}" stroke-width="1.6"/>'
        )

    def dot(self, x: float, y: float) -> None:
        """Wires are joined here."""
        self._shapes.append(f'<circle cx="{x:g}" cy="{y:g}" r="3" fill="{INK}"/>')

    def words(
        self, x: float, y: float, text: str, *, size: float = 12, anchor: str = "start", bold: bool = False,
        colour: str = INK,
    ) -> None:  # fmt: skip
        """Text from its base line."""
        weight = ' font-weight="bold"' if bold else ""
        self._shapes.append(
            f'<text x="{x:g}" y="{y:g}" font-family="DejaVu Sans, Verdana, sans-serif" font-size="{size:g}" '
            f'text-anchor="{anchor}" fill="{colour}"{weight}>{escape(text)}</text>'
        )

    def resistor(self, x: float, y: float, text: str, *, upright: bool = False) -> None:
        """A resistor 36 long around its middle, its value above or right of it."""
        if upright:
            self.box(x - 6, y - 18, 12, 36)
            self.words(x + 12, y + 4, text, size=11)
        else:
            self.box(x - 18, y - 6, 36, 12)
            self.words(x, y - 11, text, size=11, anchor="middle")

    def fuse(self, x: float, y: float, text: str) -> None:
        """A fuse 40 long around its middle."""
        self.box(x - 20, y - 6, 40, 12)
        self.line((x - 20, y), (x + 20, y), width=1.0)
        self.words(x, y - 12, text, size=11, anchor="middle")

    def ground(self, x: float, y: float) -> None:
        """Ground below this point."""
        for half, down in ((11, 0), (7, 5), (3, 10)):
            self.line((x - half, y + down), (x + half, y + down))

    def capacitor(self, x: float, y: float, text: str) -> None:
        """An upright capacitor around its middle, leads not drawn."""
        self.line((x - 11, y - 3), (x + 11, y - 3), width=2.2)
        self.line((x - 11, y + 3), (x + 11, y + 3), width=2.2)
        self.words(x + 15, y + 4, text, size=11)

    def lamp(self, x: float, y: float, fill: str) -> None:
        """A lamp: circle with cross."""
        self.disc(x, y, 13, fill=fill)
        self.line((x - 9, y - 9), (x + 9, y + 9), width=1.2)
        self.line((x - 9, y + 9), (x + 9, y - 9), width=1.2)

    def contact(self, x: float, y: float) -> None:
        """An upright normally open contact 36 high around its middle."""
        self.line((x, y - 18), (x, y - 10))
        self.line((x, y + 18), (x, y + 10), (x - 13, y - 10))

    def mosfet(self, x: float, y: float) -> None:
        """An N-channel MOSFET around its middle: gate at the left, drain above, source below."""
        self.disc(x, y, 17)
        self.line((x - 17, y), (x - 8, y))
        self.line((x - 8, y - 9), (x - 8, y + 9))
        self.line((x - 3, y - 11), (x - 3, y + 11), width=2.4)
        self.line((x - 3, y - 7), (x + 6, y - 7), (x + 6, y - 17))
        self.line((x - 3, y + 7), (x + 6, y + 7), (x + 6, y + 17))

    def npn(self, x: float, y: float) -> None:
        """An NPN transistor around its middle: base at the left, collector above, emitter below."""
        self.disc(x, y, 17)
        self.line((x - 17, y), (x - 5, y))
        self.line((x - 5, y - 10), (x - 5, y + 10), width=2.4)
        self.line((x - 5, y - 5), (x + 6, y - 11), (x + 6, y - 17))
        self.line((x - 5, y + 5), (x + 6, y + 11), (x + 6, y + 17))
        self.line((x, y + 11), (x + 6, y + 11), (x + 4, y + 5), width=1.2)  # the emitter's arrow

    def span(self, x1: float, y1: float, x2: float, y2: float, text: str) -> None:
        """A dimension between two points, along x or y."""
        self.line((x1, y1), (x2, y2), colour=FAINT, width=1.0)
        for x, y in ((x1, y1), (x2, y2)):
            self.line((x - 4, y + 4), (x + 4, y - 4), colour=FAINT, width=1.2)
        upright = x1 == x2
        x, y = (x1 + 6, (y1 + y2) / 2 + 4) if upright else ((x1 + x2) / 2, y1 - 6)
        self.words(x, y, text, size=11, anchor="start" if upright else "middle", colour="#55626c")

    def svg(self) -> str:
        """The whole file."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self._width:g} {self._height:g}" '
            f'width="{self._width:g}" height="{self._height:g}">\n<title>{escape(self._title)}</title>\n'
            f'<rect width="100%" height="100%" fill="{PAPER}"/>\n' + "\n".join(self._shapes) + "\n</svg>\n"
        )
