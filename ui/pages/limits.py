"""What a coupon is judged by, in words: its limits as numbers, its window, its warmth.

Stage: screen. Input: Limits, or the first event of a session. Output: sentences. Units mm and degrees. No widget.
"""

from __future__ import annotations

from enum import StrEnum

from core.metrology.tolerances import Limits
from core.records.events import Opened
from ui.pages.coupon import Field

_CARRIED_OVER = " That was the last coupon's temperature."
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
    (Page.CLASS, "Class"),
    (Page.OWN, "Own limits"),
    (Page.WINDOW, "Seats, window"),
    (Page.WARMTH, "Temperature"),
)
FIELD_WORDS = {
    Field.EDGE: "edges ±",
    Field.SQUARE: "squareness",
    Field.CORNER: "corners ±",
    Field.DIAGONAL: "diagonals differ",
    Field.WINDOW_WIDTH: "along X",
    Field.WINDOW_HEIGHT: "along Y",
    Field.TEMPERATURE: "bench",
}
PAGE_TEXT = {
    Page.CLASS: "By ISO 2768: first for sizes (part 1, in force), then squareness (part 2, withdrawn for ISO 22081, "
    "still on drawings).",
    Page.OWN: "A limit keyed in here goes before that of the class.",
    Page.WINDOW: "Seats are the short flats across the corners: the jaws lie on them for a diagonal. "
    "An inner window, in the middle, tells kerf from scale.",
    Page.WARMTH: "What the coupon is made of, and how warm the bench is that it shares with the calipers.",
}


def limits_text(limits: Limits) -> str:
    """The limits as numbers, in short."""
    parts = []
    if limits.perpendicularity_mm is not None:
        parts.append(f"squareness {_figures(limits.perpendicularity_mm)} mm")
    if limits.corner_deg is not None:
        parts.append(f"corner ± {_figures(limits.corner_deg)}°")
    if limits.diagonal_mm is not None:
        parts.append(f"diagonals {_figures(limits.diagonal_mm)} mm")
    edges = [edge for edge in (limits.width_edge_mm, limits.height_edge_mm) if edge is not None]
    if edges:
        parts.append("edges ± " + " / ".join(_figures(edge) for edge in dict.fromkeys(edges)) + " mm")
    return ", ".join(parts)


def terms_text(opened: Opened, *, carried_over: bool = False) -> str:
    """Everything a coupon will be judged by, a line each; `carried_over` while the temperature is the last coupon's."""
    lines = [_limits_line(opened)]
    if opened.coupon.seats is not None:
        lines.append(_seats_line(opened))
    if opened.coupon.window_width_mm is not None:
        lines.append(_window_line(opened))
    if opened.expansion is not None:
        lines.append(f"{_warmth_line(opened)}{_CARRIED_OVER if carried_over else ''}")
    return "\n".join(lines)


def page_text(page: Page, opened: Opened | str, *, carried_over: bool = False) -> str:
    """What a page is for, and what its choices come to: `opened` is the sentence of what is wrong, if anything is."""
    if isinstance(opened, str):
        return f"{PAGE_TEXT[page]}\n{opened}"
    line = {Page.WINDOW: _cut_line, Page.WARMTH: _warmth_line}.get(page, _limits_line)
    warning = _CARRIED_OVER if carried_over and page is Page.WARMTH else ""
    return f"{PAGE_TEXT[page]}\n{line(opened)}{warning}"


def _limits_line(opened: Opened) -> str:
    unjudged = "" if opened.limits.judges_squareness else " Squareness is not judged: it has no limit."
    return f"{opened.limits.source}: {limits_text(opened.limits)}.{unjudged}"


def _cut_line(opened: Opened) -> str:
    return f"{_seats_line(opened)} {_window_line(opened)}"


def _seats_line(opened: Opened) -> str:
    seats = opened.coupon.seats
    if seats is None:
        return "No seats: the diagonals are read from corner to corner."
    if seats.nl_fr_mm == seats.nr_fl_mm:
        return f"Seats {seats.nl_fr_mm:g} mm."
    return f"Seats {seats.nl_fr_mm:g} mm on NL-FR, {seats.nr_fl_mm:g} mm on NR-FL."


def _window_line(opened: Opened) -> str:
    width_mm, height_mm = opened.coupon.window_width_mm, opened.coupon.window_height_mm
    return "No window." if width_mm is None else f"Window {width_mm:g} × {height_mm:g} mm."


def _warmth_line(opened: Opened) -> str:
    warm = opened.expansion
    if warm is None:
        return "Sizes are judged as they are read."
    return f"Sizes are brought to 20\u00a0°C, from {warm.material} at {warm.temperature_c:g}\u00a0°C."


def _figures(limit: float) -> str:
    for decimals in range(2, _MOST_DECIMALS):
        if abs(round(limit, decimals) - limit) <= _SAID_TO * limit:
            return f"{limit:.{decimals}f}"
    return f"{limit:.{_MOST_DECIMALS}f}"
