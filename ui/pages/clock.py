"""A date and time as it is keyed in, figure by figure: pure, no clock, no screen.

Stage: clock screen. Input: keys. Output: the text with the places still open, the moment, or why it is none yet. Local
time as on a watch; it becomes UTC here, at the edge.
"""

from datetime import UTC, datetime

from core.said import NOTHING, Part, said
from hardware import NOT_BEFORE
from ui.pages.keypad import BACKSPACE

PATTERN = "YYYY-MM-DD hh:mm"
FIGURES = sum(place.isalpha() for place in PATTERN)


def press(figures: str, key: str) -> str:
    """The figures after a key; a key that has no place here changes nothing."""
    if key == BACKSPACE:
        return figures[:-1]
    return figures + key if key.isdecimal() and len(figures) < FIGURES else figures


def shown(figures: str) -> str:
    """The figures in their places, the letters of the open places after them: '2026-11-DD hh:mm'."""
    left = iter(figures)
    return "".join(next(left, place) if place.isalpha() else place for place in PATTERN)


def moment(figures: str) -> datetime | None:
    """The moment in UTC; None while it is not whole, or no date, or before this software."""
    if len(figures) < FIGURES:
        return None
    try:
        at = datetime.strptime(figures, "%Y%m%d%H%M").astimezone().astimezone(UTC)
    except (ValueError, OverflowError):  # the calendar's last hour is over where it is later
        return None
    return at if at >= NOT_BEFORE else None


def remark(figures: str) -> Part:
    """What is wrong with a whole entry; what is wanted before."""
    if len(figures) < FIGURES:
        return said("Year, month, day, hour, minute, as on a watch: nine in the morning is 09:00.")
    return NOTHING if moment(figures) else said("There is no such date and time, or it is long past.")
