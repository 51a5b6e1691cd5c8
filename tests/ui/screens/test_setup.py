"""Setup and sleep: what is chosen is kept, switching off is asked first, a touch in the dark presses nothing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES, snapshot
from tests.ui.stand_in_bench import StandInBench
from tests.ui.touching import tap_text
from ui.kivy_settings import SETTINGS_FILE, ScreenSettings, keep_settings, settings_of_this_machine
from ui.theme import DARK, LIGHT


def test_the_theme_changes_at_once_and_is_kept(tmp_path: Path) -> None:
    def keep(chosen: ScreenSettings) -> str:
        keep_settings(tmp_path, chosen)
        return ""

    with Offscreen(StandInBench(SCENES["first"]()), keep=keep) as screen:
        screen.go("setup")
        tap_text(screen, "Dark")
        assert screen.app.palette is DARK
        tap_text(screen, "90°")
        kept = settings_of_this_machine(tmp_path)
        assert (kept.dark, kept.rotation_deg) == (True, 90)
        tap_text(screen, "Light")
        assert screen.app.palette is LIGHT


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"rotation_deg": 45, "dark": "yes"}'])
def test_a_damaged_settings_file_leaves_the_defaults(tmp_path: Path, text: str) -> None:
    (tmp_path / SETTINGS_FILE).write_text(text, encoding="utf-8")
    kept = settings_of_this_machine(tmp_path)
    assert (kept.dark, kept.rotation_deg) == (False, 0)


def test_switching_off_is_asked_first() -> None:
    asked: list[str] = []

    def switch_off() -> str:
        asked.append("off")
        return "Switching off."

    with Offscreen(StandInBench(SCENES["first"]()), switch_off=switch_off) as screen:
        screen.go("setup")
        tap_text(screen, "Switch off")
        tap_text(screen, "Stay on")
        assert asked == []
        tap_text(screen, "Switch off")
        tap_text(screen, "Switch off")
        assert asked == ["off"]


@pytest.fixture
def sleepy() -> Iterator[Offscreen]:
    with Offscreen(StandInBench(SCENES["first"]()), settings=ScreenSettings(sleep_after_s=0.3)) as screen:
        screen.go("measure")
        screen.frames_for(1.2)
        yield screen


def test_a_touch_in_the_dark_only_wakes(sleepy: Offscreen) -> None:
    assert sleepy.pixels().max() == 0
    place = sleepy.app.root.screen.ids.sheet.center
    sleepy.tap(*place)
    assert sleepy.bench.sent == []
    assert sleepy.pixels().max() > 200


def test_news_wakes_the_panel(sleepy: Offscreen) -> None:
    sleepy.show(snapshot(length_value=120.0))
    assert sleepy.pixels().max() > 200
