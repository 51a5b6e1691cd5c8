"""`--panel WxH`: the window of a desktop as large as somebody's panel."""

from __future__ import annotations

import argparse

import pytest

from ui.command_line.bench_options import panel_argument
from ui.touch.kivy_settings import settings_of_this_machine


@pytest.mark.parametrize(
    ("text", "size"), [("480x320", (480, 320)), ("480x800", (480, 800)), ("1280x800", (1280, 800))]
)
def test_a_size_of_a_panel_is_the_windows(text: str, size: tuple[int, int]) -> None:
    settings = settings_of_this_machine(0, panel_argument(text))
    assert (settings.width_px, settings.height_px) == size


@pytest.mark.parametrize("text", ["", "800", "800x", "x480", "800x48", "99999x480", "800X480", "-800x480", "1e3x480"])
def test_what_is_none_is_refused(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="no size of a panel"):
        panel_argument(text)


def test_without_it_the_usual_panel() -> None:
    settings = settings_of_this_machine(0)
    assert (settings.width_px, settings.height_px) == (800, 480)
