"""What the instrument has besides its screen: the lamp box on the pins, and systemd watching over it.

Stage: ui. Input: the bench's snapshots, from the screen's loop. Output: lamps, sounds, commands of pedal and buttons,
watchdog messages. Belongs to the screen's thread; nothing in here waits.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from core.metrology.readings import Quantity
from hardware.gpio_port import GpioError
from hardware.panel import Panel
from hardware.rpi_gpio import RpiGpioPort, load_library
from hardware.watchdog import Heart, Watchdog
from ui.bench.lamps import command_of, lamps, rhythm
from ui.state.messages import Command
from ui.state.snapshot import Snapshot

# Fine enough for 50 ms of debouncing and 100 ms sounds, and no more than a kiosk's own frames.
TICK_S = 1 / 30


class Box:
    """Lamp box and watchdog of one run of the program."""

    def __init__(self, panel: Panel, watchdog: Watchdog, clock_s: Callable[[], float]) -> None:
        self._panel = panel
        self._watchdog = watchdog
        self._clock_s = clock_s
        self._told: Snapshot | None = None

    @classmethod
    def of_this_machine(cls, environ: Mapping[str, str], clock_s: Callable[[], float]) -> Box:
        """The pins where there are some, and the service manager where it started us."""
        try:
            panel = Panel(RpiGpioPort(load_library()))
        except GpioError as error:
            panel = Panel(None, absent=str(error))
        return cls(panel, Watchdog.of_service(environ), clock_s)

    @property
    def fault(self) -> str:
        """Why the lamp box is silent; empty while it works."""
        return self._panel.fault

    def start(self) -> None:
        """Lamp test."""
        self._panel.start(self._clock_s())

    def bench_answered(self, *, workers: bool) -> None:
        """The bench has just been pumped; `workers` whether archive and cables still get on."""
        self._watchdog.beat(Heart.BENCH, self._clock_s())
        if workers:
            self._watchdog.beat(Heart.WORKERS, self._clock_s())

    def tick(self, snapshot: Snapshot, in_hand: Quantity) -> list[Command]:
        """One turn of the screen's loop: show what the snapshot says, return what was pressed."""
        now_s = self._clock_s()
        if self._told is not None and snapshot is not self._told:
            word = rhythm(self._told, snapshot)
            if word is not None and snapshot.settings.sound:
                self._panel.sound(word, now_s)
        self._told = snapshot
        self._panel.show(lamps(snapshot, in_hand))
        pressed = self._panel.tick(now_s)
        self._watchdog.beat(Heart.SCREEN, now_s)
        self._watchdog.tick(now_s)
        commands = (command_of(button, snapshot, in_hand) for button in pressed)
        return [command for command in commands if command is not None]

    def close(self) -> None:
        """Everything off."""
        self._watchdog.stopping()
        self._panel.close()
