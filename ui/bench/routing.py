"""The routing table: where every event and command goes. Built once, when the bench is.

A desk takes what is its own, and hears what another desk took when its slice depends on it. Each kind of event is taken
by exactly one desk; who hears it comes after, in the order of the desks.
"""

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any

from ui.state import Snapshot

# The kind of event decides what the second argument is.
Step = Callable[[Snapshot, Any], Snapshot]
Steps = Mapping[type, Step]
Table = Mapping[type, tuple[Step, ...]]


class Desk:
    """One subject of the bench. `takes` are the kinds of event that have their address here, each with the step from
    one snapshot to the next that it means; `hears` those that are taken elsewhere and concern this desk too."""

    takes: Steps = MappingProxyType({})
    hears: Steps = MappingProxyType({})


def routing_table(desks: Iterable[Desk]) -> Table:
    """One table of all desks; raises ValueError for a kind of event with two addresses, or heard with none."""
    desks = tuple(desks)
    table: dict[type, tuple[Step, ...]] = {}
    for desk in desks:
        for kind, step in desk.takes.items():
            if kind in table:
                raise ValueError(f"{kind.__name__} has two addresses")
            table[kind] = (step,)
    for desk in desks:
        for kind, step in desk.hears.items():
            if kind not in table:
                raise ValueError(f"{kind.__name__} is heard and has no address")
            table[kind] = (*table[kind], step)
    return table
