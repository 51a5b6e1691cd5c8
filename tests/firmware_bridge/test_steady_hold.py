"""Steady hold: once per hold, only inside the plausible range, armed again only after leaving."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from core.errors import BadInputError
from firmware_bridge.instrument_settings import HoldSettings
from firmware_bridge.steady_hold import SteadyHold

EDGE = (117.0, 123.0)
SETTINGS = HoldSettings(time_s=1.0, band=0.03, rearm=0.5)


def takes(values: Iterable[float], *, rate_hz: float = 10.0, hold: SteadyHold | None = None) -> list[float]:
    hold = hold or SteadyHold(SETTINGS)
    steps = [hold.feed(value, index / rate_hz, EDGE) for index, value in enumerate(values)]
    assert all((step.value is not None) is step.take for step in steps)
    return [step.value for step in steps if step.value is not None]


def test_a_hold_is_taken_once_however_long_it_lasts() -> None:
    assert takes([120.01, 120.02] * 500) == [120.01]


def test_progress_grows_to_one_and_says_one_only_when_taken() -> None:
    hold = SteadyHold(SETTINGS)
    steps = [hold.feed(120.0, index / 10.0, EDGE) for index in range(11)]
    assert [step.fraction for step in steps] == sorted(step.fraction for step in steps)
    assert [step.take for step in steps] == [False] * 10 + [True]
    assert all(step.fraction < 1.0 for step in steps[:10])
    assert steps[10].fraction == 1.0


def test_closed_jaws_are_never_taken() -> None:
    assert takes([0.0] * 100) == []


def test_nothing_is_taken_when_no_feature_is_up() -> None:
    hold = SteadyHold(SETTINGS)
    assert not any(hold.feed(120.0, index / 10.0, (1.0, 0.0)).take for index in range(50))


def test_moving_jaws_are_not_taken_until_they_stand() -> None:
    closing = [122.9 - 0.1 * step for step in range(28)]
    assert takes([*closing, *[120.04] * 15]) == [120.04]


def test_a_jump_inside_the_hold_begins_it_anew() -> None:
    assert takes([120.0] * 9 + [120.05] * 9) == []
    assert takes([120.0] * 9 + [120.05] * 12) == [120.05]


def test_it_is_armed_again_only_after_leaving_by_more_than_half_a_millimetre() -> None:
    assert takes([120.0] * 15 + [120.4] * 30) == [120.0]
    assert takes([120.0] * 15 + [120.6] + [120.0] * 15) == [120.0, 120.0]


def test_the_next_feature_does_not_inherit_the_hold_of_the_last() -> None:
    """Near and far edge have the same nominal: without moving the jaws the second must not be taken."""
    hold = SteadyHold(SETTINGS)
    first = [hold.feed(120.0, index / 10.0, EDGE).take for index in range(15)]
    second = [hold.feed(120.0, 1.5 + index / 10.0, (118.0, 122.0)).take for index in range(50)]
    assert sum(first) == 1
    assert sum(second) == 0
    assert not hold.armed


def test_a_reading_taken_by_button_uses_the_hold_up() -> None:
    hold = SteadyHold(SETTINGS)
    hold.feed(120.0, 0.0, EDGE)
    hold.mark_taken(120.0)
    assert takes([120.0] * 50, hold=hold) == []


def test_silence_is_no_steadiness() -> None:
    hold = SteadyHold(SETTINGS)
    assert not any(hold.feed(120.0, 30.0 * index, EDGE).take for index in range(10))


def test_two_indications_are_no_hold() -> None:
    hold = SteadyHold(SETTINGS)
    assert not hold.feed(120.0, 0.0, EDGE).take
    assert not hold.feed(120.0, 0.99, EDGE).take


def test_the_median_is_taken_and_not_a_last_number_that_is_off() -> None:
    assert takes([120.0] * 10 + [120.03]) == [120.0]
    assert takes([120.0, 120.01, 120.02] * 4) == [120.01]


def test_a_lost_cable_begins_the_hold_anew_but_gives_nothing_twice() -> None:
    hold = SteadyHold(SETTINGS)
    assert takes([120.0] * 12, hold=hold) == [120.0]
    hold.reset()
    assert takes([120.0] * 50, hold=hold) == []


@given(st.lists(st.floats(116.0, 124.0), min_size=1, max_size=300), st.sampled_from([4.0, 10.0, 50.0]))
def test_two_takes_never_lie_closer_than_the_way_out_and_each_had_its_time(values: list[float], rate_hz: float) -> None:
    hold = SteadyHold(SETTINGS)
    taken_at = [index for index, value in enumerate(values) if hold.feed(value, index / rate_hz, EDGE).take]
    for at in taken_at:
        held = values[max(0, at - round(rate_hz)) : at + 1]
        assert len(held) == round(rate_hz) + 1
        assert max(held) - min(held) <= SETTINGS.band + 1e-6
        assert all(EDGE[0] <= value <= EDGE[1] for value in held)
    for one, other in pairwise(taken_at):
        assert max(abs(value - values[one]) for value in values[one:other]) > SETTINGS.rearm


@given(
    st.floats(118.0, 122.0),
    st.lists(st.floats(-0.015, 0.015), min_size=60, max_size=200),
)
def test_any_long_enough_hold_is_taken_exactly_once(centre: float, noise: list[float]) -> None:
    assert len(takes([centre + wobble for wobble in noise])) == 1


@pytest.mark.parametrize("bad", [{"time_s": 0.0}, {"band": -1.0}, {"time_s": float("nan")}, {"rearm": 0.02}])
def test_settings_that_cannot_work_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(BadInputError, match="steady hold"):
        HoldSettings(**bad)
