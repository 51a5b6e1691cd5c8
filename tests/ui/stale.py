"""Whether the picture in the buffer is the one that drawing everything makes: nothing on it is old."""

from __future__ import annotations

import random

import numpy as np
from kivy.core.window import Window
from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels
from msgspec.structs import replace

from core.metrology import LiveState
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES
from ui.state.settings import Theme
from ui.touch.shell import SCREENS

STATES = (LiveState.INSIDE, LiveState.NEAR_LIMIT, LiveState.OUTSIDE, LiveState.UNJUDGED)


def in_buffer() -> np.ndarray:
    """What the renderer has drawn, drawn anew by nobody."""
    wide, high = Window.system_size
    raw = glReadPixels(0, 0, wide, high, GL_RGBA, GL_UNSIGNED_BYTE)
    return np.frombuffer(raw, np.uint8).reshape(high, wide, 4)[..., :3]


def assert_nothing_is_stale(told: object) -> None:
    """Draw everything over what stands there: not a pixel changes."""
    seen = in_buffer()
    Window.on_draw()
    wrong = np.argwhere((seen != in_buffer()).any(axis=2))
    assert not wrong.size, (told, len(wrong), wrong.min(axis=0), wrong.max(axis=0))


def move(screen: Offscreen, value: float) -> None:
    """Another number on the caliper's cable; it is drawn with the next frame."""
    snapshot = screen.app.snapshot
    if snapshot.live_length.feature is not None:
        live = replace(snapshot.live_length, value=value, state=STATES[int(10 * value) % len(STATES)])
        screen.bench.publish(replace(snapshot, live_length=live))


def wander(screen: Offscreen, seed: int, frames: int) -> None:
    """Changes of all kinds in any order, several between two frames, beside moving jaws: each frame is looked at."""
    chance, root = random.Random(seed), screen.app.root

    def change_settings(**values: object) -> None:
        snapshot = screen.app.snapshot
        screen.bench.publish(replace(snapshot, settings=replace(snapshot.settings, **values)))

    def some_widget() -> object:
        return chance.choice([*root.walk()])

    def fade() -> None:
        one = some_widget()
        one.opacity = 0.5 if one.opacity == 1 else 1

    def shift() -> None:
        one = some_widget()
        one.pos = one.x + 3, one.y - 2

    def recolour() -> None:
        inked = [one for one in root.walk() if hasattr(one, "color")]
        chance.choice(inked).color = [chance.random() for _ in range(3)] + [1]

    def sleep() -> None:
        asleep = screen.app._sleep
        asleep.after(0.0)
        asleep.check(0.0)
        asleep.after(None)

    changes = {
        "scene": lambda: screen.bench.publish(SCENES[chance.choice([*SCENES])]()),
        "screen": lambda: root.go(chance.choice([*SCREENS])),
        "bench": lambda: root.go("bench"),
        "theme": lambda: change_settings(theme=chance.choice([Theme.DARK, Theme.LIGHT])),
        "language": root.choose_language,
        "help": root.open_help,
        "back": root.back,
        "sleep": sleep,
        "wake": screen.app._sleep.news,
        "fade": fade,
        "shift": shift,
        "recolour": recolour,
    }
    told: list[str] = []
    for _ in range(frames):
        if chance.random() < 0.8:
            move(screen, chance.uniform(95.0, 140.0))
        for _ in range(chance.choice([0, 1, 1, 2])):
            told.append(chance.choice([*changes]))
            changes[told[-1]]()
        screen.frames(1)
        assert_nothing_is_stale(told[-6:])
        told.append("-")
    screen.app._sleep.news()
