"""The bench as those see it who show it, screen or text: four names, so that tests can stand in for it."""

from collections.abc import Callable
from typing import Protocol

from firmware_bridge import LinkEvent
from ui.state import Command, Report, Snapshot


class BenchPort(Protocol):
    """What a show of the bench needs of it."""

    @property
    def snapshot(self) -> Snapshot:
        """The newest snapshot."""
        ...

    def pump(self) -> Snapshot:
        """Handle everything that is waiting and return the newest snapshot; the same one when nothing changed."""
        ...

    def workers_answer(self) -> bool:
        """Whether archive and cables still get on; work that takes long does."""
        ...

    def send(self, command: Command) -> None:
        """Put a command into the bench's queue."""
        ...

    def post(self, event: LinkEvent | Report) -> None:
        """Put what an instrument said, or a worker has to say, into the bench's queue."""
        ...

    def subscribe(self, wake: Callable[[], None]) -> None:
        """Have `wake` called, from any thread, when there is something to pump."""
        ...
