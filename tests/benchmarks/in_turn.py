"""Several pieces of work timed in turn, so that other work on the machine hits all alike: ratios hold anywhere."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping


def best_in_turn(work: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """The shortest processor time of each in `rounds` rounds, s."""
    best = dict.fromkeys(work, float("inf"))
    for _ in range(rounds):
        for name, run in work.items():
            begun = time.process_time()
            run()
            best[name] = min(best[name], time.process_time() - begun)
    return best
