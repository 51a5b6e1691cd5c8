"""Tells systemd that the bench is alive, and only while it really is.

Stage: hardware. Input: heartbeats of the screen, of the bench and of its workers, the clock by argument. Output:
sd_notify messages (sd_notify(3): READY=1, WATCHDOG=1, STOPPING=1) on the socket systemd names; none where there is no
such socket. While the screen hangs, the bench no longer answers or a worker is dead, nothing is fed, and systemd starts
the program anew; readings that were accepted are on the disk.
"""

from __future__ import annotations

import socket
from collections.abc import Callable, Mapping
from enum import StrEnum

# Twice what a busy Pi takes for its slowest frame or a synced write on a poor card; common practice.
FRESH_S = 5.0
Notify = Callable[[str], None]


class Heart(StrEnum):
    """Who must beat."""

    SCREEN = "screen"
    BENCH = "bench"
    WORKERS = "workers"


def service_notifier(environ: Mapping[str, str]) -> Notify | None:
    """How to speak to systemd; None outside a service of type notify."""
    address = environ.get("NOTIFY_SOCKET", "")
    if not address:
        return None
    target = "\0" + address[1:] if address.startswith("@") else address

    def notify(message: str) -> None:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as connection:
            connection.sendto(message.encode("ascii"), target)

    return notify


def feeding_interval_s(environ: Mapping[str, str]) -> float | None:
    """Half of what systemd allows between two feedings; None where it watches nothing."""
    allowed_us = environ.get("WATCHDOG_USEC", "")
    return int(allowed_us) / 2e6 if allowed_us.isdecimal() and int(allowed_us) > 0 else None


class Watchdog:
    """Fed from the program's loop by `tick`; speaks only while every heart beat within FRESH_S."""

    def __init__(self, notify: Notify | None, interval_s: float | None) -> None:
        self._notify = notify
        self._interval_s = interval_s
        self._beats: dict[Heart, float] = {}
        self._fed_s: float | None = None
        self._said_ready = False

    @classmethod
    def of_service(cls, environ: Mapping[str, str]) -> Watchdog:
        """The watchdog of the service this process runs as; silent outside one."""
        return cls(service_notifier(environ), feeding_interval_s(environ))

    def beat(self, heart: Heart, now_s: float) -> None:
        """This part has just done its work."""
        self._beats[heart] = now_s

    def is_fresh(self, now_s: float) -> bool:
        """Whether every part has beaten lately."""
        return all(now_s - self._beats.get(heart, float("-inf")) <= FRESH_S for heart in Heart)

    def tick(self, now_s: float) -> None:
        """Say READY once every part has begun to beat, and feed when it is time to and all are fresh."""
        if not self.is_fresh(now_s):
            return
        if not self._said_ready:
            self._say("READY=1")
            self._said_ready = True
        if self._interval_s is not None and (self._fed_s is None or now_s - self._fed_s >= self._interval_s):
            self._say("WATCHDOG=1")
            self._fed_s = now_s

    def stopping(self) -> None:
        """The program ends because it was asked to."""
        self._say("STOPPING=1")

    def _say(self, message: str) -> None:
        if self._notify is None:
            return
        try:
            self._notify(message)
        except OSError:
            self._notify = None  # systemd went away; there is nobody left to tell
