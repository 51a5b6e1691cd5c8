"""Contrast from the pixels, text cut, overlaps and targets on every panel: `python -m tests.endurance.panel_sizes`.

Every size gets a process of its own: a surface in memory keeps the size it was made with. Prints the faults and, of
each size, the smallest target and the height of the live digits, in mm of the panel (7 inches; 480 x 320: 3.5 inches);
ends with 1 where there is a fault. Contrast: WCAG 2, 1.4.3.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

SIZES = ("800x480", "480x320", "1024x600", "1280x720", "720x1280")
SHOWN = (
    "bench:edges",
    "bench:question",
    "verdict:no-go",
    "verdict:inconsistent",
    "numbers:no-go",
    "correct:set",
    "bench:to-correct",
)
SHOWN += ("coupon:empty", "check:first", "instruments:stranger", "download:stick-pulled")


def faults_at(size: str, shown: list[str]) -> list[str]:
    """Everything wrong on these screens ('screen:scene') on a panel of this size, light and dark."""
    from ui.touch.app import configure
    from ui.touch.kivy_settings import ScreenSettings

    width, height = (int(part) for part in size.split("x"))
    configure(ScreenSettings(width_px=width, height_px=height, frames_per_s=2000))
    from tests.ui.layout_checks import digits_height_px, faults, px_per_mm, target_sizes
    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES
    from tests.ui.stand_in_bench import StandInBench
    from ui.pages.theme import DARK, LIGHT

    found, targets = [], []
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        across, up = px_per_mm()
        for theme, palette in (("light", LIGHT), ("dark", DARK)):
            for one in shown:
                name, scene = one.split(":")
                screen.show(SCENES[scene]())
                screen.app.palette = palette
                screen.go(name)
                found += [f"{size} {theme} {one}: {fault}" for fault in faults(screen)]
                targets += [(width / across, height / up) for _words, width, height in target_sizes(screen)]
        screen.show(SCENES["edges"]())
        screen.go("bench")
        digits_mm = digits_height_px(screen) / up
    narrowest, lowest = (min(sides) for sides in zip(*targets, strict=True))
    print(
        f"{size}: targets at least {narrowest:.1f} mm wide and {lowest:.1f} mm high, "
        f"live digits {digits_mm:.1f} mm, {len(found)} faults"
    )
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", choices=SIZES, help="this size alone, in this process")
    parser.add_argument("shown", nargs="*", default=list(SHOWN), metavar="SCREEN:SCENE")
    args = parser.parse_args()
    if args.size is None:
        runs = [[sys.executable, "-m", "tests.endurance.panel_sizes", "--size", size, *args.shown] for size in SIZES]
        return max(subprocess.run(run, check=False).returncode for run in runs)
    found = faults_at(args.size, args.shown)
    print("\n".join(found), end="\n" if found else "")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
