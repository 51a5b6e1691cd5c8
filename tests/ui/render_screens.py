"""Render screens in their states to PNG: `python -m tests.ui.render_screens OUT [SCENE ...] [--size 800x480]`."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.app import configure
from ui.kivy_settings import ScreenSettings


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("scenes", nargs="*", default=[*SCENES])
    parser.add_argument("--size", default="800x480")
    parser.add_argument("--dark", action="store_true")
    parser.add_argument("--screens", default="home,coupon,measure,keypad,verdict,correct,causes,machine,instruments")
    args = parser.parse_args()
    width, height = (int(part) for part in args.size.split("x"))
    args.out.mkdir(parents=True, exist_ok=True)
    settings = ScreenSettings(width_px=width, height_px=height, frames_per_s=2000, dark=args.dark)
    configure(settings)
    from tests.ui.offscreen import Offscreen

    with Offscreen(StandInBench(SCENES[args.scenes[0]]()), settings=settings) as screen:
        for scene in args.scenes:
            screen.show(SCENES[scene]())
            for name in args.screens.split(","):
                screen.go(name)
                screen.save(args.out / f"{scene}-{name}-{args.size}{'-dark' if args.dark else ''}.png")


if __name__ == "__main__":
    main()
