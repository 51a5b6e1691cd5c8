"""Render screens in their states to PNG: `python -m tests.ui.render_screens OUT [SCENE ...] [--size 800x480]`."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from msgspec.structs import replace

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.speech.language import Language
from ui.speech.notation import AngleStyle, DecimalMark, LengthUnit, Notation
from ui.state.settings import Settings, Theme
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("scenes", nargs="*", default=[*SCENES])
    parser.add_argument("--size", default="800x480")
    parser.add_argument("--dark", action="store_true")
    parser.add_argument("--lengths", default=LengthUnit.MM)
    parser.add_argument("--angles", default=AngleStyle.DECIMAL)
    parser.add_argument("--language", default=Language.ENGLISH)
    parser.add_argument("--mark", default=DecimalMark.POINT)
    parser.add_argument("--screens", default="bench,coupon,verdict,numbers,correct,causes,machine,instruments")
    args = parser.parse_args()
    width, height = (int(part) for part in args.size.split("x"))
    args.out.mkdir(parents=True, exist_ok=True)
    configure(ScreenSettings(width_px=width, height_px=height, frames_per_s=2000))
    notation = Notation(lengths=LengthUnit(args.lengths), angles=AngleStyle(args.angles), mark=DecimalMark(args.mark))
    settings = Settings(
        theme=Theme.DARK if args.dark else Theme.LIGHT, notation=notation, language=Language(args.language)
    )
    from tests.ui.offscreen import Offscreen

    with Offscreen(StandInBench(replace(SCENES[args.scenes[0]](), settings=settings))) as screen:
        for scene in args.scenes:
            for name in args.screens.split(","):
                screen.show_on(name, replace(SCENES[scene](), settings=settings))
                screen.save(args.out / f"{scene}-{name}-{args.size}{'-dark' if args.dark else ''}.png")


if __name__ == "__main__":
    main()
