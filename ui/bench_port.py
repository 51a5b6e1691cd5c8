"""The bench as the screen sees it: three names, so that tests can stand in for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from ui.commands import Command
from ui.snapshot import Snapshot


class BenchPort(Protocol):
    """What the screen needs of the bench."""

    @property
    def snapshot(self) -> Snapshot:
        """The newest snapshot."""
        ...

    def send(self, command: Command) -> None:
        """Put a command into the bench's queue."""
        ...

    def subscribe(self, callback: Callable[[], None]) -> None:
        """Have `callback` called after each publication, from the bench's thread."""
        ...
