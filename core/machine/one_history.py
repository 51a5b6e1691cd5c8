"""What several benches recorded of one machine, as one sequence.

Input: sequences, each in an order of its own, and the time of each item. Output: all of them by time. A bench's own
order counts more than its clock: an item without a time, or with an earlier one, belongs behind the one before it.
"""

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import TypeVar

Item = TypeVar("Item")


def in_one_order(time_of: Callable[[Item], datetime | None], *sequences: Iterable[Item]) -> tuple[Item, ...]:
    """All items, the oldest first; of equal times those of the earlier sequence first."""
    placed: list[tuple[datetime, int, Item]] = []
    for number, sequence in enumerate(sequences):
        at = datetime.min.replace(tzinfo=UTC)
        for item in sequence:
            at = max(at, time_of(item) or at)
            placed.append((at, number, item))
    return tuple(item for _, _, item in sorted(placed, key=lambda one: one[:2]))
