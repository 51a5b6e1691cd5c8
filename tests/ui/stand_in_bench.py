"""A bench for tests of screens: shows the snapshot it was given and keeps the commands it was sent."""

from __future__ import annotations

from collections.abc import Callable

from msgspec.structs import replace

from firmware_bridge.byte_link import LinkEvent
from ui.bench.desks.settings import ChangeSettings
from ui.state.messages import Command
from ui.state.snapshot import Snapshot


class StandInBench:
    """Stands in for the bench; `publish` does what the bench's thread does. Settings hold at once, as there."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self.sent: list[Command] = []
        self.posted: list[LinkEvent] = []
        self._wake: list[Callable[[], None]] = []

    def workers_answer(self) -> bool:
        return True

    def pump(self) -> Snapshot:
        return self.snapshot

    def send(self, command: Command) -> None:
        self.sent.append(command)
        if isinstance(command, ChangeSettings):
            self.publish(replace(self.snapshot, settings=command.settings))

    def post(self, event: LinkEvent) -> None:
        self.posted.append(event)

    def subscribe(self, wake: Callable[[], None]) -> None:
        self._wake.append(wake)

    def publish(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        for wake in self._wake:
            wake()
