"""What a coupon is judged by, in words: its limits as numbers, its window, its warmth.

Stage: screen. Input: Limits, or the first event of a session. Output: sentences. Units mm and degrees. No widget.
"""

from enum import StrEnum

from core.metrology import MATERIALS, Limits, seats_sentence
from core.records import Opened
from core.said import NOTHING, Angle, Length, Number, Part, Said, Series, lines, paragraph, said
from ui.pages.coupon import Field

# A limit is written with two decimals where they say it to this share, else with as many as it takes.
_SAID_TO = 0.01
_MOST_DECIMALS = 4


class Page(StrEnum):
    """The pages of the limits screen."""

    CLASS = "class"
    OWN = "own"
    WINDOW = "window"
    WARMTH = "warmth"


PAGE_WORDS = (
    (Page.CLASS, said("Class")),
    (Page.OWN, said("Own limits")),
    (Page.WINDOW, said("Seats, window")),
    (Page.WARMTH, said("Temperature")),
)
FIELD_WORDS = {
    Field.EDGE: said("edges ±"),
    Field.SQUARE: said("squareness"),
    Field.CORNER: said("corners ±"),
    Field.DIAGONAL: said("diagonals differ"),
    Field.WINDOW_WIDTH: said("along X"),
    Field.WINDOW_HEIGHT: said("along Y"),
    Field.TEMPERATURE: said("bench"),
}
PAGE_TEXT = {
    Page.CLASS: said("Part 1: sizes; 2, withdrawn: squareness."),
    Page.OWN: said("A limit keyed in here goes before that of the class."),
    Page.WINDOW: said("The jaws lie on the seats for a diagonal; an inner window tells kerf from scale."),
    Page.WARMTH: said("What it is made of, and how warm it and the calipers are."),
}


def limits_text(limits: Limits) -> Part:
    """The limits as numbers, in short."""
    parts = []
    if limits.perpendicularity_mm is not None:
        parts.append(said("squareness {limit}", limit=_length(limits.perpendicularity_mm)))
    if limits.corner_deg is not None:
        parts.append(said("corner ± {limit}", limit=Angle(limits.corner_deg, _decimals(limits.corner_deg))))
    if limits.diagonal_mm is not None:
        parts.append(said("diagonals {limit}", limit=_length(limits.diagonal_mm)))
    edges = [edge for edge in (limits.width_edge_mm, limits.height_edge_mm) if edge is not None]
    if edges:
        parts.append(_edges(*dict.fromkeys(edges)))
    return Series(tuple(parts), joint=", ")


def _edges(limit_mm: float, other_mm: float | None = None) -> Said:
    if other_mm is None:
        return said("edges ± {limit}", limit=_length(limit_mm))
    return said("edges ± {limit} / {other}", limit=_length(limit_mm, unit=False), other=_length(other_mm))


def terms_text(opened: Opened, *, carried_over: bool = False) -> Part:
    """Everything a coupon will be judged by, a line each; `carried_over` while the temperature is the last coupon's."""
    return lines(
        _limits_line(opened),
        seats_sentence(opened.coupon) if opened.coupon.seats is not None else NOTHING,
        _window_line(opened) if opened.coupon.window_width_mm is not None else NOTHING,
        NOTHING if opened.expansion is None else _warmth_line(opened, carried_over),
    )


def page_text(page: Page, opened: Opened | Part, *, carried_over: bool = False) -> Part:
    """What a page is for, and what its choices come to: `opened` is the sentence of what is wrong, if anything is."""
    if not isinstance(opened, Opened):
        return lines(PAGE_TEXT[page], opened)
    match page:
        case Page.WINDOW:
            line: Part = paragraph(seats_sentence(opened.coupon), _window_line(opened))
        case Page.WARMTH:
            line = _warmth_line(opened, carried_over)
        case _:
            line = _limits_line(opened)
    return lines(PAGE_TEXT[page], line)


def _limits_line(opened: Opened) -> Part:
    unjudged = NOTHING if opened.limits.judges_squareness else said("Squareness is not judged: it has no limit.")
    judged = said("{source}: {limits}.", source=opened.limits.whence, limits=limits_text(opened.limits))
    return paragraph(judged, unjudged)


def _window_line(opened: Opened) -> Said:
    width_mm, height_mm = opened.coupon.window_width_mm, opened.coupon.window_height_mm
    if width_mm is None or height_mm is None:
        return said("No window.")
    return said("Window {width} × {height}.", width=Length(width_mm, None, unit=False), height=Length(height_mm, None))


def _warmth_line(opened: Opened, carried_over: bool) -> Part:
    warm = opened.expansion
    if warm is None:
        return said("Sizes are judged as they are read.")
    parts: dict[str, Part] = {
        "at": Number(20, 0, sign="°C"),
        "material": MATERIALS[warm.material].label,
        "temperature": Number(warm.temperature_c, None, sign="°C"),
    }
    if carried_over:
        return said("{at} from {material} at {temperature}, as before.", **parts)
    return said("{at} from {material} at {temperature}.", **parts)


def _length(limit_mm: float, *, unit: bool = True) -> Length:
    return Length(limit_mm, _decimals(limit_mm), unit=unit)


def _decimals(limit: float) -> int:
    for decimals in range(2, _MOST_DECIMALS):
        if abs(round(limit, decimals) - limit) <= _SAID_TO * limit:
            return decimals
    return _MOST_DECIMALS
