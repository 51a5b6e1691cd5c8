"""The watchdog is fed only while screen and bench are both alive; messages go through sockets of systemd's kind."""

from __future__ import annotations

import socket
from itertools import pairwise
from pathlib import Path

import pytest

from hardware.watchdog import FRESH_S, Heart, Watchdog, feeding_interval_s, service_notifier


class Run:
    """A watchdog with a loop of ten ticks a second."""

    def __init__(self) -> None:
        self.said: list[tuple[float, str]] = []
        self.now_s = 50.0
        self.watchdog = Watchdog(lambda message: self.said.append((self.now_s, message)), 7.5)

    def loop(self, seconds: float, beating: tuple[Heart, ...] = tuple(Heart)) -> list[str]:
        before = len(self.said)
        for _ in range(round(seconds * 10)):
            self.now_s += 0.1
            for heart in beating:
                self.watchdog.beat(heart, self.now_s)
            self.watchdog.tick(self.now_s)
        return [message for _, message in self.said[before:]]


def test_ready_is_said_once_when_both_have_begun() -> None:
    run = Run()
    assert run.loop(3.0, (Heart.SCREEN,)) == []
    assert run.loop(3.0) == ["READY=1", "WATCHDOG=1"]
    assert "READY=1" not in run.loop(30.0)


def test_feeding_keeps_its_interval() -> None:
    run = Run()
    run.loop(60.0)
    fed_s = [when for when, message in run.said if message == "WATCHDOG=1"]
    gaps = [later - earlier for earlier, later in pairwise(fed_s)]
    assert all(7.4 < gap < 7.7 for gap in gaps)
    assert len(fed_s) == 8


@pytest.mark.parametrize("dead", list(Heart))
def test_a_dead_heart_stops_the_feeding(dead: Heart) -> None:
    run = Run()
    run.loop(20.0)
    alive = tuple(heart for heart in Heart if heart is not dead)
    run.loop(FRESH_S, alive)
    assert run.loop(60.0, alive) == []
    assert run.loop(1.0) == ["WATCHDOG=1"]


def test_a_loop_that_stands_still_feeds_nothing() -> None:
    run = Run()
    run.loop(10.0)
    run.now_s += 60.0
    run.watchdog.tick(run.now_s)
    assert run.said[-1][0] < 61.0


def test_without_a_watched_service_only_ready_is_said() -> None:
    said: list[str] = []
    watchdog = Watchdog(said.append, None)
    for step in range(1000):
        for heart in Heart:
            watchdog.beat(heart, step / 10)
        watchdog.tick(step / 10)
    watchdog.stopping()
    assert said == ["READY=1", "STOPPING=1"]


def test_outside_a_service_nothing_is_said() -> None:
    watchdog = Watchdog.of_service({})
    for heart in Heart:
        watchdog.beat(heart, 1.0)
    watchdog.tick(1.0)
    watchdog.stopping()


@pytest.mark.parametrize(
    ("value", "interval_s"), [("15000000", 7.5), ("", None), ("0", None), ("-5", None), ("soon", None)]
)
def test_half_of_what_systemd_allows(value: str, interval_s: float | None) -> None:
    assert feeding_interval_s({"WATCHDOG_USEC": value}) == interval_s


@pytest.mark.parametrize("abstract", [False, True])
def test_messages_arrive_on_systemds_socket(tmp_path: Path, abstract: bool) -> None:
    address = f"@cornerwise-test-{tmp_path.name}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.bind("\0" + address[1:] if abstract else address)
        notify = service_notifier({"NOTIFY_SOCKET": address})
        assert notify is not None
        notify("READY=1")
        assert systemd.recv(100) == b"READY=1"


def test_when_systemd_is_gone_the_bench_goes_on(tmp_path: Path) -> None:
    watchdog = Watchdog.of_service({"NOTIFY_SOCKET": str(tmp_path / "gone"), "WATCHDOG_USEC": "15000000"})
    for heart in Heart:
        watchdog.beat(heart, 1.0)
    watchdog.tick(1.0)
    watchdog.tick(2.0)
