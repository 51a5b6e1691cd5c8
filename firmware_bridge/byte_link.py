"""The edge where bytes come in, and the events that links post into the bench's one queue."""

from collections.abc import Callable
from enum import StrEnum
from typing import Protocol

from msgspec import Struct

from core.metrology import Indication
from core.said import Part
from firmware_bridge.decoders.fault import Fault


class LinkState(StrEnum):
    """State of the cable of one instrument."""

    UP = "up"
    LOST = "lost"


class IndicationArrived(Struct, frozen=True, kw_only=True):
    """An indication of the instrument `instrument`; `arrived_s` is the monotonic clock when its last byte was read."""

    instrument: str
    indication: Indication
    arrived_s: float


class FaultSeen(Struct, frozen=True, kw_only=True):
    """Bytes of `instrument` that were no indication; `count` where several are told as one, by the newest."""

    instrument: str
    fault: Fault
    arrived_s: float
    count: int = 1


class LinkChanged(Struct, frozen=True, kw_only=True):
    """The cable of `instrument` came up or was lost; `text` says it in words."""

    instrument: str
    state: LinkState
    text: Part


LinkEvent = IndicationArrived | FaultSeen | LinkChanged
Post = Callable[[LinkEvent], None]


class InstrumentLink(Protocol):
    """A cable with an instrument on it: runs by itself, posts LinkEvents from its own thread, until closed."""

    @property
    def instrument(self) -> str:
        """Stable name of the instrument, the same in every event it posts."""
        ...

    def start(self, post: Post) -> None:
        """Begin to read; `post` is called from the link's thread."""
        ...

    def request(self) -> None:
        """Ask a polled instrument for its indication; nothing happens where it cannot be asked."""
        ...

    def close(self) -> None:
        """Stop and free the port; waits for the thread."""
        ...
