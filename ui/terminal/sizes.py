"""Sizes on the command line, such as 120x80: width by height."""

from __future__ import annotations

import argparse
import re

_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*[xX×]\s*(\d+(?:\.\d+)?)")


def size_argument(text: str) -> tuple[float, float]:
    """Width and height in mm, for argparse's `type`."""
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise argparse.ArgumentTypeError(f"{text!r} is no size: write width x height in mm, such as 120x80")
    return float(found[1]), float(found[2])
