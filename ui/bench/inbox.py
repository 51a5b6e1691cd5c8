"""The bench's queue: bounded for what cables say, in order for everything else.

Input: events from any thread. Output: a few at a time, for whoever pumps. Of an instrument that says more than is taken
out only the newest indications wait, and of its faults only their number: neither a flood nor a slow screen fills
the memory. Commands, answers and changes of a cable are never dropped.
"""

import threading
from collections import deque
from typing import Generic, TypeVar

from msgspec.structs import replace

from firmware_bridge import FaultSeen, IndicationArrived

E = TypeVar("E")
# What a quick instrument says in a second, which is as long as a number is followed until it counts as steady.
WAITING = 50
_Key = tuple[type, str]
_OF_CABLES = (IndicationArrived, FaultSeen)


class Inbox(Generic[E]):
    """Thread-safe; `put` never blocks."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._cells: deque[list[E]] = deque()
        self._of_cables: dict[_Key, deque[list[E]]] = {}

    def put(self, event: E) -> None:
        """Add an event, or let it take the place of the newest of its instrument where too many wait."""
        with self._lock:
            if not isinstance(event, _OF_CABLES):
                self._cells.append([event])
                return
            waiting = self._of_cables.setdefault((type(event), event.instrument), deque())
            if len(waiting) < WAITING:
                cell: list[E] = [event]
                waiting.append(cell)
                self._cells.append(cell)
                return
            newest = waiting[-1]
            before = newest[0]
            if isinstance(event, FaultSeen) and isinstance(before, FaultSeen):
                newest[0] = replace(event, count=before.count + event.count)
            else:
                newest[0] = event

    def take(self, most: int) -> list[E]:
        """The oldest events, at most so many."""
        taken: list[E] = []
        with self._lock:
            while self._cells and len(taken) < most:
                event = self._cells.popleft()[0]
                if isinstance(event, _OF_CABLES):
                    self._of_cables[type(event), event.instrument].popleft()
                taken.append(event)
        return taken

    def __len__(self) -> int:
        return len(self._cells)
