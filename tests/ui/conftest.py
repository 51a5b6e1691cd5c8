"""Kivy for tests: configured once, before any test module imports a widget; drawn by real OpenGL into memory."""

import os

os.environ["SDL_VIDEODRIVER"] = "offscreen"

import pytest

from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

# Frames are turned by hand: nothing is gained by waiting for a panel between them.
configure(ScreenSettings(width_px=800, height_px=480, frames_per_s=5000))


@pytest.fixture
def screen():
    """The program on a panel of 800 x 480, at a bench that stands in; each test its own."""
    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES
    from tests.ui.stand_in_bench import StandInBench

    with Offscreen(StandInBench(SCENES["first"]())) as running:
        yield running
