"""What is typed at the text bench and on the command line, as values: numbers, sizes, seats."""

import argparse
import math
import re

from core.errors import BadInputError
from core.geometry import Seats
from core.said import Name, said

_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*[xX×]\s*(\d+(?:\.\d+)?)")
_SEATS = re.compile(r"(\d+(?:\.\d+)?)(?:,(\d+(?:\.\d+)?))?")


def typed_number(text: str) -> float:
    """A number with a decimal point or comma; raises BadInputError for what is none."""
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise BadInputError(said("'{text}' is not a number", text=Name(text)))
    return number


def size_argument(text: str) -> tuple[float, float]:
    """Width and height in mm, for argparse's `type`."""
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise argparse.ArgumentTypeError(
            said("'{text}' is no size: write width x height in mm, such as 120x80", text=Name(text))
        )
    return float(found[1]), float(found[2])


# `0` for none, `5` for four equal ones, `8,5` for keyed ones (those of NL-FR first).
def seats_argument(text: str) -> tuple[float, ...]:
    """Widths in mm, none for `0`, for argparse's `type`."""
    found = _SEATS.fullmatch(text.strip())
    if found is None:
        raise argparse.ArgumentTypeError(
            said(
                "'{text}' is no seat: write 0 for none, a width in mm such as 5, or two such as 8,5 (NL-FR first)",
                text=Name(text),
            )
        )
    widths_mm = tuple(float(width) for width in found.groups() if width is not None)
    return () if widths_mm == (0.0,) else widths_mm


def seats_of(widths_mm: tuple[float, ...]) -> Seats | None:
    """The seats that were asked for; raises BadInputError where the second are wider than the first."""
    return Seats(nl_fr_mm=widths_mm[0], nr_fl_mm=widths_mm[-1]) if widths_mm else None
