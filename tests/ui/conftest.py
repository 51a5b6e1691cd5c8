"""Kivy for tests: configured once, before any test module imports a widget; drawn by real OpenGL into memory."""

import os
import sys
from collections.abc import Iterator

os.environ["SDL_VIDEODRIVER"] = "offscreen"

import pytest

from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

# Frames are turned by hand: nothing is gained by waiting for a panel between them.
configure(ScreenSettings(width_px=800, height_px=480, frames_per_s=5000))


@pytest.fixture
def drawn() -> bool:
    """Whether every frame of `screen` is drawn, or only what is looked at; a module that is about drawing says so."""
    return False


@pytest.fixture
def screen(drawn: bool):
    """The program on a panel of 800 x 480, at a bench that stands in; each test its own."""
    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES
    from tests.ui.stand_in_bench import StandInBench

    with Offscreen(StandInBench(SCENES["first"]()), drawn=drawn) as running:
        yield running


@pytest.fixture
def looked_at():
    """A running program for tests that only look: they show something, go somewhere, and leave nothing begun."""
    from tests.ui.offscreen import LOOKED_AT

    return LOOKED_AT.begun_anew()


@pytest.fixture(scope="module", autouse=True)
def nothing_is_looked_at_from_elsewhere() -> Iterator[None]:
    """What another module's tests looked at does not run on."""
    yield
    _end_what_is_looked_at()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    """A test that failed may have left the program anyhow: no other test looks at it."""
    report = yield
    if report.failed:
        _end_what_is_looked_at()
    return report


def _end_what_is_looked_at() -> None:
    if (offscreen := sys.modules.get("tests.ui.offscreen")) is not None:
        offscreen.LOOKED_AT.end()
