"""Loading a part of the program without the collector of garbage looking on, which looks rarely from then on."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

# So many values more than at its last look, and it looks again, for up to a millisecond and more. Nearly all that is
# made here goes by itself when nobody holds it; with Python's own 700 a number from a cable waited for it now and then.
LOOKS_AFTER = 10_000


@contextmanager
def loading() -> Iterator[None]:
    """While modules are loaded there is no garbage, and looking for it is a fifteenth of the time. What was loaded
    stays out of the collector's sight: a full look at it later would hold up whoever draws for longer than a frame."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.set_threshold(LOOKS_AFTER, *gc.get_threshold()[1:])
        gc.enable()
