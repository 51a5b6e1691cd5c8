"""A date and time keyed in figure by figure, alone and on the screen."""

from __future__ import annotations

import time
from datetime import UTC, datetime

import pytest

from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from tests.ui.touching import tap_text
from ui.pages.clock import FIGURES, moment, press, remark, shown
from ui.pages.keypad import BACKSPACE


def keyed(keys: str) -> str:
    figures = ""
    for key in keys:
        figures = press(figures, key)
    return figures


def test_open_places_show_what_they_are_for() -> None:
    assert shown("") == "YYYY-MM-DD hh:mm"
    assert shown("202611") == "2026-11-DD hh:mm"
    assert shown("202611251004") == "2026-11-25 10:04"


def test_only_figures_have_a_place_and_no_more_than_there_are() -> None:
    assert keyed("2026.11") == "202611"
    assert len(keyed("1" * 20)) == FIGURES == 12
    assert press("2026", BACKSPACE) == "202"
    assert press("", BACKSPACE) == ""


def test_a_whole_entry_is_local_time_and_becomes_utc() -> None:
    assert moment("202611251004") == datetime(2026, 11, 25, 10, 4).astimezone().astimezone(UTC)
    assert str(remark("202611251004")) == ""


@pytest.mark.parametrize("figures", ["202602300800", "202613010800", "202601012500", "197001010000"])
def test_what_is_no_date_or_long_past_is_not_taken(figures: str) -> None:
    assert moment(figures) is None
    assert "no such date" in str(remark(figures))


def test_an_entry_that_is_not_whole_is_none_yet() -> None:
    assert moment("20261125100") is None
    assert "watch" in str(remark("20261125100"))


def test_on_the_screen_the_clock_is_set_by_touch() -> None:
    told: list[datetime] = []

    def set_clock(when: datetime) -> str:
        told.append(when)
        return "The clock is set."

    with Offscreen(StandInBench(SCENES["first"]()), switch_off=lambda: "", set_clock=set_clock) as screen:
        screen.go("setup")
        tap_text(screen, "Set the clock")
        assert screen.app.root.screen.name == "clock"
        for figure in "202611251004":
            tap_text(screen, figure)
        tap_text(screen, "Set it")
        screen.frames_until(lambda: str(screen.app.root.screen.remark) == "The clock is set.")
        assert told == [moment("202611251004")]


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Honolulu"])
def test_the_last_hour_of_the_calendar_is_an_answer_like_any(zone: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        assert moment("999912312359") is None or "no such date" not in str(remark("999912312359"))
    finally:
        monkeypatch.undo()
        time.tzset()
