"""A screen test that fails, or is ended in the middle, fails alone."""

from __future__ import annotations

import pytest

from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.touch.widgets import KeyButton


class EndedByTheClock(BaseException):
    """As pytest ends a test that hangs: wherever it is, and no `except Exception` holds it up."""


def test_what_breaks_off_inside_the_builder_does_not_reach_the_next_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    def hanging(*_args: object, **_words: object) -> None:
        raise EndedByTheClock

    with monkeypatch.context() as patched:
        patched.setattr(KeyButton, "__init__", hanging)
        with pytest.raises(EndedByTheClock), Offscreen(StandInBench(SCENES["first"]())):
            pass
    with Offscreen(StandInBench(SCENES["first"]())) as screen:
        assert screen.app.root.screen.screen_name == "bench"
        screen.go("verdict")
        assert screen.app.root.screen.screen_name == "verdict"
