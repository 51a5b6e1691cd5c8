"""Pins that keep their history, in place of a board's."""

from __future__ import annotations

from collections.abc import Iterable

from hardware.gpio_port import GpioError
from hardware.pins import PIN_OF, Line


class FakeGpioPort:
    """Pins in memory, for a bench without a panel at hand. `history` holds every change of an output, oldest first."""

    def __init__(self) -> None:
        self.history: list[tuple[Line, bool]] = []
        self._levels: dict[Line, bool] = {}
        self._broken = ""

    def set_up(self, lines: Iterable[Line]) -> None:
        """Claim these lines: outputs low, inputs pulled up."""
        self._fail_if_broken()
        for line in lines:
            self._levels[line] = not PIN_OF[line].output

    def write(self, line: Line, high: bool) -> None:
        """Drive an output."""
        self._fail_if_broken()
        if not PIN_OF[line].output or line not in self._levels:
            raise GpioError(f"{line} is not an output that was set up")
        if self._levels[line] != high:
            self.history.append((line, high))
        self._levels[line] = high

    def read(self, line: Line) -> bool:
        """Level of an input."""
        self._fail_if_broken()
        if PIN_OF[line].output or line not in self._levels:
            raise GpioError(f"{line} is not an input that was set up")
        return self._levels[line]

    def close(self) -> None:
        """Outputs low, pins given back."""
        for line in [line for line in self._levels if PIN_OF[line].output]:
            if self._levels[line]:
                self.history.append((line, False))
        self._levels.clear()

    def press(self, line: Line) -> None:
        """Hold a button or the pedal down."""
        self._levels[line] = False

    def release(self, line: Line) -> None:
        """Let it go."""
        self._levels[line] = True

    def break_down(self, reason: str) -> None:
        """From now on every call fails, as when the pins are taken away."""
        self._broken = reason

    @property
    def lit(self) -> set[Line]:
        """The outputs that are high now."""
        return {line for line, high in self._levels.items() if high and PIN_OF[line].output}

    def _fail_if_broken(self) -> None:
        if self._broken:
            raise GpioError(self._broken)
