"""`cornerwise` without a command: the bench itself, on the touchscreen or in the terminal."""

from __future__ import annotations

import argparse
from pathlib import Path

from core.errors import NotAvailableError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of the bench to the program's own parser."""
    parser.add_argument("--simulate", action="store_true", help="a simulated machine, coupon and instruments")
    parser.add_argument("--text", action="store_true", help="the bench in the terminal")
    parser.add_argument("--data", type=Path, metavar="DIR", help="where records are kept")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the bench until the person ends it."""
    raise NotAvailableError("the bench is not assembled yet")
