"""What takes its time, on the clock of a bench under test."""

from __future__ import annotations

from collections.abc import Callable

from tests.ui.bench_bits import BenchUnderTest
from ui.bench.desks.work import STOPPABLE_S
from ui.state.snapshot import Snapshot
from ui.state.work import WorkSlice


def stoppable(under_test: BenchUnderTest, until: Callable[[Callable[[Snapshot], bool]], Snapshot]) -> WorkSlice:
    """What is under way once it can be stopped; `until` pumps whenever the bench is woken."""
    found: list[WorkSlice] = []

    def waited(_now: Snapshot) -> bool:
        under_test.now_s += STOPPABLE_S
        work = under_test.pump().work
        found.extend([work] if work is not None and work.can_stop else [])
        return bool(found)

    until(waited)
    return found[0]
