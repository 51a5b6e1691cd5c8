"""The whole simulated workshop behind the ordinary serial links: bytes through pseudo-terminals to link events."""

from __future__ import annotations

import queue
import threading
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry.features import Feature
from firmware_bridge.byte_link import IndicationArrived, LinkEvent
from firmware_bridge.links import make_link
from firmware_bridge.simulation.operator import Wanted
from firmware_bridge.simulation.workshop import SCENARIOS, SimulatedWorkshop, scenario
from tests.patience import WAIT_S


def test_button_presses_and_streams_arrive_through_the_ordinary_links(tmp_path: Path) -> None:
    events: queue.Queue[LinkEvent] = queue.Queue()
    taken: list[float] = []
    workshop = SimulatedWorkshop(
        scenario=scenario("racked"),
        ask=lambda: Wanted(feature=Feature.NEAR, on_record=len(taken)),
        folder=tmp_path,
        speed=10.0,
    )
    links = [make_link(settings) for settings in workshop.settings]
    workshop.start()
    for link in links:
        link.start(events.put)
    live: set[str] = set()
    while len(taken) < 3 or len(live) < 2:
        event = events.get(timeout=WAIT_S)
        if isinstance(event, IndicationArrived):
            live.add(event.instrument)
            if event.indication.requested:
                taken.append(event.indication.value)
    for link in links:
        link.close()
    workshop.close()
    for value in taken:
        assert value == pytest.approx(workshop.piece.true_value(Feature.NEAR), abs=0.06)


def test_a_hand_that_meets_what_nobody_foresaw_says_so_once_and_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: queue.Queue[str] = queue.Queue()
    workshop = SimulatedWorkshop(
        scenario=scenario("racked"), ask=lambda: None, folder=tmp_path, says=lambda text: said.put(str(text))
    )
    goes_on, turns = threading.Event(), iter(range(5))

    def fails(_now_s: float) -> None:
        if next(turns, None) is None:
            goes_on.set()
        else:
            raise ZeroDivisionError

    monkeypatch.setattr(workshop.hand, "step", fails)
    workshop.start()
    assert goes_on.wait(WAIT_S), "its thread ended"
    workshop.close()
    told = [said.get_nowait() for _ in range(said.qsize())]
    assert told.count("an error nobody foresaw (ZeroDivisionError)") == 1


def test_cutting_again_lays_another_coupon_down(tmp_path: Path) -> None:
    workshop = SimulatedWorkshop(scenario=scenario("racked"), ask=lambda: None, folder=tmp_path)
    first = workshop.piece
    workshop.set_up(replace(scenario("racked"), gantry=replace(workshop.gantry, skew_deg=0.0)))
    assert first.true_value(Feature.NL) > 90.2
    assert workshop.piece.true_value(Feature.NL) == pytest.approx(90.0, abs=0.15)


def test_an_unknown_scenario_names_those_there_are() -> None:
    assert {"racked", "undersized", "tapered", "turned-over", "good"} == set(SCENARIOS)
    with pytest.raises(BadInputError, match="racked"):
        scenario("round")
