"""Looks for an old pixel: every screen in every scene while jaws move, then changes of all kinds in any order.

    SDL_VIDEODRIVER=offscreen python -m tests.endurance.stale_pixels [rounds of 200 frames]

Each frame is held against one that is drawn whole (`tests/ui/stale.py`); ends at the first pixel that differs.
"""

import os
import sys

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings


def main(rounds: int) -> None:
    """Look at all of them."""
    configure(ScreenSettings(frames_per_s=5000))
    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES
    from tests.ui.stale import assert_nothing_is_stale, move, wander
    from tests.ui.stand_in_bench import StandInBench
    from ui.touch.shell import SCREENS

    looked = 0
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        for scene, made in SCENES.items():
            screen.show(made())
            for name in SCREENS:
                screen.app.root.go(name)
                for value in (97.41, 120.02):
                    move(screen, value)
                    screen.frames(1)
                    assert_nothing_is_stale((scene, name, value))
                    looked += 1
    print(f"{looked} frames of {len(SCREENS)} screens in {len(SCENES)} scenes: no old pixel", flush=True)
    for seed in range(rounds):
        with Offscreen(StandInBench(SCENES["first"]())) as screen:
            wander(screen, seed, 200)
        print(f"seed {seed}: 200 frames of changes in any order: no old pixel", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 20)
