"""How far something is that takes its time, told to whoever waits for it.

A deed that takes long takes a `Told` and calls it now and then with what is done of how much, in units of its own. Who
waits no longer raises StoppedError out of the call: the deed clears away what it began, as for any other error.
"""

from collections.abc import Callable

Told = Callable[[int, int], None]


def nobody(_done: int, _of: int) -> None:
    """Nobody waits: nothing is said, nothing stopped."""


def in_part(told: Told, part: int, of_parts: int) -> Told:
    """How far the whole is, while one of its parts says how far that is; parts are counted from 0."""

    def of_the_whole(done: int, of: int) -> None:
        told(part * 1000 + 1000 * done // max(of, 1), of_parts * 1000)

    return of_the_whole
