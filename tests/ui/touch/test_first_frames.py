"""What is said and drawn while the program comes up."""

from __future__ import annotations

from kivy.core.window import Window

from hardware.panel import Panel
from hardware.watchdog import Watchdog
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from ui.bench.lamp_box import Box


def test_ready_is_said_behind_the_second_frame_as_the_first_is_lost_on_a_bare_panel() -> None:
    """SDL 2.30 on kmsdrm swaps the first frame into a surface it has just made anew; seen by reading the panel."""
    came: list[str] = []

    def drawn(*_event: object) -> None:
        came.append("frame")

    Window.bind(on_flip=drawn)
    try:
        box = Box(Panel(None, absent="no pins here"), Watchdog(came.append, None), lambda: 5.0)
        with Offscreen(StandInBench(SCENES["first"]()), box=box) as screen:
            screen.frames_until(lambda: "READY=1" in came)
            assert came[:3] == ["frame", "frame", "READY=1"]
            screen.frames_for(0.3)
            assert came.count("frame") == 2
    finally:
        Window.unbind(on_flip=drawn)
