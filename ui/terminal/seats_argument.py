"""Seats on the command line: `0` for none, `5` for four equal ones, `8,5` for keyed ones (those of NL-FR first)."""

import argparse
import re

from core.geometry.seats import Seats
from core.said import Name, said

_SEATS = re.compile(r"(\d+(?:\.\d+)?)(?:,(\d+(?:\.\d+)?))?")


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
