"""Loading a part of the program without the collector of garbage looking on."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def loading() -> Iterator[None]:
    """While modules are loaded there is no garbage, and looking for it is a fifteenth of the time. What was loaded
    stays out of the collector's sight: a full look at it later would hold up whoever draws for longer than a frame."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()
