"""On the panel itself, whose graphics system turns between buffers of several ages: before each is turned, what a frame
in part has drawn is held against one drawn whole; the exit status is 1 where a pixel differs.

    SDL_VIDEODRIVER=kmsdrm python -m tests.kiosk.stale [quarter turns]
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Callable
from unittest.mock import patch

from ui.touch.app import configure
from ui.touch.kivy_settings import settings_of_this_machine


def main(turns: int) -> int:
    """Move the jaws on two screens; told are the ages, the frames, those in part and the stale ones."""
    configure(settings_of_this_machine(90 * turns))
    from kivy.core.window import Window

    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES
    from tests.ui.stale import in_buffer, move
    from tests.ui.stand_in_bench import StandInBench
    from ui.touch import repaint

    ages: Counter[int] = Counter()
    told = {"frames": 0, "parts": 0, "stale": 0}
    told_age, draw = repaint.told_age, repaint.Part.draw

    def seen_age() -> Callable[[], int]:
        age_of = told_age()

        def seen() -> int:
            age = age_of()
            ages[age] += 1
            return age

        return seen

    def seen_part(part: repaint.Part, boxes: list[repaint.Box]) -> None:
        told["parts"] += 1
        draw(part, boxes)

    def check(_window: object) -> None:
        drawn = in_buffer()
        Window.on_draw()
        told["frames"] += 1
        told["stale"] += bool((drawn != in_buffer()).any())

    with (
        patch.object(repaint, "told_age", seen_age),
        patch.object(repaint.Part, "draw", seen_part),
        Offscreen(StandInBench(SCENES["edges"]())) as screen,
    ):
        screen.go("bench")
        screen.frames(6)
        Window.bind(on_flip=check)
        for number in range(60):
            move(screen, 119.0 + 0.37 * number % 3)
            screen.frames(1)
            if number % 20 == 19:
                screen.frames(3)
        screen.show(SCENES["inside"]())
        screen.go("correct")
        value = screen.app.snapshot.live_length.value
        for number in range(30):
            move(screen, value + 0.01 * (number % 7))
            screen.frames(1)
        Window.unbind(on_flip=check)
    print(json.dumps({**told, "ages": dict(ages)}))
    return int(told["stale"] > 0)


if __name__ == "__main__":
    sys.exit(main(int((sys.argv[1:] or ["0"])[0])))
