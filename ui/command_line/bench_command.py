"""`cornerwise` without a command: the bench itself, on the touchscreen or in the terminal."""

import argparse
import os
import random
import shutil
import sys

from msgspec.structs import replace

from core.geometry import Coupon
from core.loading import loading
from core.records import Opened
from core.said import said
from ui.bench.opening import opening
from ui.command_line.data_folder import data_folder
from ui.start import BenchOptions, assembled
from ui.state import SettingsFile
from ui.terminal import steered
from ui.touch.kivy_settings import begin_clock, has_display

_LONGEST_LINE = 4096


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
    if on_screen:
        with loading():
            begin_clock()
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
