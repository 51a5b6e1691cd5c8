"""The collector rests while a part of the program is loaded, and only then."""

from __future__ import annotations

import subprocess
import sys

# In a process of its own: what is put out of the collector's sight stays there.
_PROGRAM = """
import gc
from core.loading import LOOKS_AFTER, loading
before = len(gc.get_objects())
try:
    with loading():
        asleep = not gc.isenabled()
        import decimal, json
        raise ImportError
except ImportError:
    print(asleep, gc.isenabled(), len(gc.get_objects()) < before, gc.get_threshold()[0] == LOOKS_AFTER > 700)
"""


def test_it_looks_again_behind_what_was_loaded_also_where_that_failed() -> None:
    told = subprocess.run([sys.executable, "-c", _PROGRAM], capture_output=True, text=True, check=True).stdout
    assert told.split() == ["True"] * 4
