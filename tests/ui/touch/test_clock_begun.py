"""Kivy's clock, begun without the library of event loops; in programs of their own, for here it runs already."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
BEGUN = """
import sys, threading, time
from ui.touch.kivy_settings import begin_clock, set_environment
set_environment()
begin_clock()
from kivy.clock import Clock
"""


def said(program: str) -> str:
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_nothing_of_asyncio_is_loaded_and_whoever_wants_it_has_the_real_one() -> None:
    program = BEGUN + "print('asyncio' in sys.modules); import asyncio; print(asyncio.run(asyncio.sleep(0, 'woken')))"
    assert said(program).split() == ["False", "woken"]


def test_another_thread_still_wakes_the_clock() -> None:
    """Its tick would else last as long as ten seconds between two frames."""
    program = (
        BEGUN
        + """
Clock.interupt_next_only, Clock._max_fps = True, 0.1
heard = []
trigger = Clock.create_trigger(heard.append)
Clock.tick()
threading.Timer(0.1, trigger).start()
began_s = time.monotonic()
while not heard:
    Clock.tick()
print(time.monotonic() - began_s < 9.0)
"""
    )
    assert said(program).split() == ["True"]


def test_where_asyncio_is_loaded_already_it_stays() -> None:
    assert said("import asyncio\n" + BEGUN + "print(Clock._async_lib is asyncio)").split() == ["True"]
