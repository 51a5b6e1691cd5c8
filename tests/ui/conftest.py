"""Kivy for tests: configured once, before any test imports a widget; drawn by real OpenGL into memory."""

import os

os.environ["SDL_VIDEODRIVER"] = "offscreen"

import pytest

from ui.app import configure
from ui.kivy_settings import ScreenSettings


@pytest.fixture(scope="session")
def kivy_window() -> object:
    """The one window of this process, 800 x 480."""
    configure(ScreenSettings())
    from kivy.base import EventLoop
    from kivy.core.window import Window

    EventLoop.ensure_window()
    return Window


@pytest.fixture
def screen(kivy_window: object):
    """The program in that window, at a bench that stands in; each test its own."""
    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES
    from tests.ui.stand_in_bench import StandInBench

    with Offscreen(StandInBench(SCENES["first"]())) as running:
        yield running
