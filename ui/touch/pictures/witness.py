"""The questions of a witness as pictures: where the mark was, where light shows, and the ways there are.

Seen from above, the operator below; a coupon leans more than any real one would.
"""

from core.metrology import Light, MarkSeen
from ui.pages.witness import Ask
from ui.touch.pictures.questions import ASKED
from ui.touch.pictures.strokes import Circle, Fill, Picture, Role, Stroke, arrow, box, frame, line

# A sheet with the coupon as it was cut; the operator stands at the thick edge.
_BED: Picture = (frame(8, 14, 84, 76, role=Role.QUIET, line=2.5), box(8, 8, 84, 6), frame(26, 28, 48, 48, line=3.5))
_MARK = ((34, 50), (34, 36), (43, 36))  # of NL, as it is cut
_CENTRE = 50 + 52j
# How often the coupon with its mark at NL is turned by a quarter, counter-clockwise, to carry it at this corner.
_QUARTERS = {MarkSeen.NL: 0, MarkSeen.NR: 1, MarkSeen.FR: 2, MarkSeen.FL: 3}


def choice_picture(asks: Ask, choice: str) -> Picture:
    """One choice drawn; an empty picture where words say it better."""
    match asks:
        case Ask.MARK:
            return _mark(MarkSeen(choice))
        case Ask.LIGHT_NL | Ask.LIGHT_NR:
            return _light(Light(choice), mirrored=asks is Ask.LIGHT_NR)
        case Ask.WAYS:
            return _WAYS[choice]
        case _:
            return ()


def _mark(seen: MarkSeen) -> Picture:
    if seen is MarkSeen.UNKNOWN:
        return (*_BED, *ASKED)
    if seen is MarkSeen.MIRRORED:
        return (*_BED, line(*((100 - x, y) for x, y in _MARK), role=Role.DANGER, width=4.5))
    placed = (_CENTRE + (complex(*point) - _CENTRE) * 1j ** _QUARTERS[seen] for point in _MARK)
    corner = _CENTRE + (26 + 28j - _CENTRE) * 1j ** _QUARTERS[seen]
    return (
        *_BED,
        Circle(centre=(corner.real, corner.imag), radius=10.0, role=Role.ACT, width=3.5),
        line(*((point.real, point.imag) for point in placed), role=Role.ACT, width=4.5),
    )


def _light(light: Light, *, mirrored: bool) -> Picture:
    """A square from outside, its stock below the near edge; the coupon's other edge leaves it or leans on it."""
    if light is Light.CANNOT_TELL:
        return (*_square(mirrored), *_turned(_EDGE_ALONG, mirrored), *ASKED)
    if light is Light.BLADE_END:
        edge = ((28, 26), (44, 90), (90, 90), (90, 26))
        gap = ((28, 26), (28, 90), (44, 90))
    else:
        edge = ((44, 26), (28, 90), (90, 90), (90, 26))
        gap = ((28, 26), (28, 90), (44, 26))
    return (
        *_turned((Fill(points=gap, role=Role.ACT), Stroke(points=edge, closed=True)), mirrored),
        *_square(mirrored),
    )


_EDGE_ALONG: Picture = (frame(28, 26, 62, 64),)


def _square(mirrored: bool) -> Picture:
    """Its stock along the near edge, its blade up the side."""
    return _turned((box(10, 10, 80, 15, Role.QUIET), box(17, 10, 10, 84, Role.INK)), mirrored)


def _turned(picture: Picture, mirrored: bool) -> Picture:
    """The same at the right-hand side."""
    return tuple(map(_across, picture)) if mirrored else picture


def _across(item: Fill | Stroke | Circle) -> Fill | Stroke | Circle:
    match item:
        case Fill(points=points, role=role):
            return Fill(points=tuple((100 - x, y) for x, y in reversed(points)), role=role)
        case Stroke(points=points, role=role, width=width, closed=closed):
            return Stroke(points=tuple((100 - x, y) for x, y in points), role=role, width=width, closed=closed)
        case Circle(centre=(x, y), radius=radius, role=role, width=width):
            return Circle(centre=(100 - x, y), radius=radius, role=role, width=width)


_TWO_COUPONS: Picture = (
    Stroke(points=((14, 18), (78, 18), (88, 84), (24, 84)), closed=True, role=Role.QUIET),
    Stroke(points=((22, 18), (86, 18), (76, 84), (12, 84)), closed=True),
)
_WAYS: dict[str, Picture] = {
    # The two blades of an angle gauge over a corner.
    "bench": (frame(34, 34, 56, 50), line((8, 27), (92, 27), width=8), line((27, 8), (27, 92), width=8)),
    Ask.LIGHT_NL: _light(Light.BLADE_END, mirrored=False),
    # A fence on the left and the two lines that part from it.
    Ask.PENCIL: (
        box(8, 10, 12, 82, Role.QUIET),
        line((22, 52), (90, 74), width=3.5),
        line((22, 52), (90, 30), width=3.5, role=Role.ACT),
        *arrow((80, 54), (80, 68), width=3.0),
        *arrow((80, 50), (80, 36), width=3.0),
    ),
    Ask.FEELERS: _TWO_COUPONS,
    # A short step of the gantry, and what is not known yet.
    Ask.TRIAL: (box(10, 44, 80, 10), *arrow((76, 58), (76, 84)), *arrow((24, 40), (24, 14), role=Role.QUIET)),
}
