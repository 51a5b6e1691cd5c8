"""`cornerwise` without a command: the bench itself, on the touchscreen or in the terminal."""

import argparse
import os
import random
import re
import shutil
import sys
from dataclasses import replace
from pathlib import Path

from core.geometry import Coupon
from core.records import Opened
from core.said import said
from ui.bench import DEFAULT_CLASS
from ui.bench.opening import opening
from ui.command_line.data_folder import data_folder
from ui.start import DEFAULT_SCENARIO, BenchOptions, assembled
from ui.state import SettingsFile
from ui.terminal import size_argument, steered
from ui.touch.kivy_settings import has_display

_LONGEST_LINE = 4096
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
    parser.set_defaults(run=run)


def panel_argument(text: str) -> tuple[int, int]:
    """The size of a panel in px; raises ArgumentTypeError for what is none."""
    match = re.fullmatch(r"(\d{1,5})x(\d{1,5})", text)
    size = (int(match[1]), int(match[2])) if match else (0, 0)
    if not all(LEAST_PANEL_PX <= side <= MOST_PANEL_PX for side in size):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no size of a panel: {LEAST_PANEL_PX} to {MOST_PANEL_PX} px a side, such as 800x480 or 480x800"
        )
    return size


def run(args: argparse.Namespace) -> int:
    """Run the bench until the person ends it."""
    simulated = args.simulate or args.practice
    options = BenchOptions(
        folder=data_folder(args.data, simulated=simulated or args.replay is not None),
        scenario=args.scenario if simulated else None,
        practice=args.practice,
        # Whoever practises again meets the machines in another order.
        seed=random.randrange(1_000_000) if args.practice else 1,
        replay=args.replay,
        opened=_opening(args) if args.size is not None else None,
    )
    on_screen = not args.text and has_display(os.environ)
    if not args.text and not on_screen:
        where = said("cornerwise: no display found, so the bench runs in this terminal")
        print(args.speech.say(where), file=sys.stderr)
    asks_language = SettingsFile(options.folder).is_new
    with assembled(options) as bench:
        if on_screen:
            from ui.touch.app import run_app

            opens = "practice" if args.practice else ""
            status = run_app(bench, args.panel, asks_language=asks_language, opens=opens)
            if bench.snapshot.keep.starts_anew:
                again = said("The saved bench is taken back at the next start: start cornerwise again.")
                print(args.speech.say(again), file=sys.stderr)
            return status
        from ui.terminal import TextBench

        columns = (lambda: shutil.get_terminal_size().columns) if sys.stdout.isatty() else None
        return TextBench(bench, steered(sys.stdout), columns=columns, asks_language=asks_language).run(
            iter(lambda: sys.stdin.readline(_LONGEST_LINE), ""), quit_at_end=args.practice or not args.simulate
        )


def _opening(args: argparse.Namespace) -> Opened:
    width_mm, height_mm = args.size
    coupon = Coupon(width_mm=width_mm, height_mm=height_mm)
    return replace(opening(coupon, args.tolerance_class), machine=args.machine, span_mm=args.span)
