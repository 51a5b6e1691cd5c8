"""The options of `cornerwise` without a command, read by every command: whoever asks for one waits for no bench."""

import argparse
import re
from pathlib import Path

from ui.bench import DEFAULT_CLASS, DEFAULT_SCENARIO
from ui.terminal import size_argument

LEAST_PANEL_PX, MOST_PANEL_PX = 320, 4096


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of the bench to the program's own parser."""
    parser.add_argument("--simulate", action="store_true", help="a simulated machine, coupon and instruments")
    parser.add_argument("--practice", action="store_true", help="find the fault of simulated machines, and be told")
    parser.add_argument("--scenario", default=DEFAULT_SCENARIO, metavar="NAME", help="which simulated machine")
    parser.add_argument("--replay", type=Path, metavar="FILE", help="play a saved capture instead of an instrument")
    parser.add_argument("--panel", type=panel_argument, metavar="WxH", help="a window of this size in px, on a desktop")
    parser.add_argument("--text", action="store_true", help="the bench in the terminal")
    parser.add_argument("--size", type=size_argument, metavar="WxH", help="begin a coupon of this size, in mm")
    parser.add_argument("--class", dest="tolerance_class", default=DEFAULT_CLASS, help="ISO 2768 class, such as mK")
    parser.add_argument("--span", type=float, metavar="MM", help="distance between the gantry's adjustable ends")
    parser.add_argument("--machine", default="", metavar="NAME", help="name of the machine")
    parser.add_argument("--data", type=Path, metavar="DIR", help="where records are kept")


def panel_argument(text: str) -> tuple[int, int]:
    """The size of a panel in px; raises ArgumentTypeError for what is none."""
    match = re.fullmatch(r"(\d{1,5})x(\d{1,5})", text)
    size = (int(match[1]), int(match[2])) if match else (0, 0)
    if not all(LEAST_PANEL_PX <= side <= MOST_PANEL_PX for side in size):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no size of a panel: {LEAST_PANEL_PX} to {MOST_PANEL_PX} px a side, such as 800x480 or 480x800"
        )
    return size
