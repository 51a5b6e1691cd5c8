"""The touchscreen bench: one window that pumps the bench and draws when its snapshot has changed.

Stage: screen. Input: snapshots of the bench. Output: pixels, and commands into the bench's queue. Threads meet only in
the bench: its callback does no more than pull a Clock trigger.
"""

import os
import time
from datetime import datetime
from pathlib import Path

from core.errors import NotAvailableError
from core.loading import loading
from core.said import Part, said
from core.said_wire import of_line
from hardware import Fingers, TouchPanel, Verb, ask_helper
from hardware.touch_panels import touch_panels
from ui.bench import Bench, Box
from ui.touch.kivy_settings import ScreenSettings, is_kiosk, read_own_base, set_environment, settings_of_this_machine


def run_app(
    bench: Bench, panel_px: tuple[int, int] | None = None, *, asks_language: bool = False, opens: str = ""
) -> int:
    """Show the bench, on screen and lamp box, until the window is closed; returns the exit status 0. `panel_px` is the
    size of the window on a desktop, None for the usual panel's; `asks_language` at the first start; `opens` is
    a screen that comes up instead of the bench."""
    with loading():
        configure(settings_of_this_machine(bench.snapshot.settings.rotation_deg, panel_px))
        # Imported only now: Kivy makes its window when these modules are imported, as configured.
        from kivy.base import ExceptionManager

        from ui.touch.bench_app import BenchApp
        from ui.touch.screen_guard import ScreenGuard

    ExceptionManager.add_handler(ScreenGuard(bench, time.monotonic))
    BenchApp(
        bench,
        box=Box.of_this_machine(os.environ, time.monotonic),
        switch_off=_switch_off if is_kiosk() else None,
        set_clock=_set_clock if is_kiosk() else None,
        asks_language=asks_language,
        opens=opens,
    ).run()
    return 0


def _switch_off() -> Part:
    """Have the machine shut down; what came of it, in words."""
    try:
        return of_line(ask_helper(Verb.POWER_OFF))
    except NotAvailableError as error:
        return error.what
    return said("Powering off.")


def _set_clock(moment: datetime) -> Part:
    """Have the machine's clock set; what came of it, in words."""
    try:
        ask_helper(Verb.SET_CLOCK, moment.strftime("%Y-%m-%dT%H:%M:%SZ"))
    except NotAvailableError as error:
        return error.what
    return said("The clock is set.")


def reader_of(panel: TouchPanel) -> str:
    """Which of Kivy's readers takes this panel, as its settings want it said."""
    if panel.fingers is Fingers.MANY:
        return f"mtdev,{panel.device}"
    # This reader turns Y over twice unless it is told not to: the kernel counts down from the top, Kivy up.
    return f"hidinput,{panel.device},invert_y=0"


def configure(settings: ScreenSettings) -> None:
    """Tell Kivy about the panel; must come before the window is made, that is before kivy.core.window is imported."""
    set_environment()
    read_own_base()
    from kivy.config import Config

    values = {
        ("graphics", "width"): settings.width_px,
        ("graphics", "height"): settings.height_px,
        ("graphics", "maxfps"): settings.frames_per_s,
        ("graphics", "rotation"): settings.rotation_deg,
        ("graphics", "fullscreen"): "auto" if settings.fullscreen else 0,
        ("graphics", "show_cursor"): 0 if settings.fullscreen else 1,
        # Smoothing every edge costs a third of a frame on a slow renderer and cannot be seen on such a panel.
        ("graphics", "multisamples"): 0,
        ("kivy", "exit_on_escape"): 0,
        ("kivy", "keyboard_mode"): "",
        ("kivy", "log_level"): "warning",
    }
    for (section, key), value in values.items():
        Config.set(section, key, str(value))
    for provider in list(Config.options("input")):
        Config.remove_option("input", provider)
    # One provider a panel, or every touch counts twice. Without a desktop they are read from the kernel: many fingers
    # through libmtdev; panels of one finger, which that library does not know, by Kivy's own reader.
    if is_kiosk():
        for panel in touch_panels(Path("/")):
            Config.set("input", panel.device.name, reader_of(panel))
    else:
        Config.set("input", "mouse", "mouse,disable_multitouch")
    # It may have begun before these values were set. It wakes at once for what is due at once, a number from a cable;
    # for what is due some time it would else turn empty ticks through the last milliseconds before.
    from kivy.clock import Clock

    Clock.interupt_next_only, Clock._max_fps = True, float(settings.frames_per_s)
