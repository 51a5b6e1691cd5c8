"""The edge between the panel and the board's pins: a small Protocol, and a fake that keeps its history.

Stage: hardware. The real port is rpi_gpio.RpiGpioPort; both pass the same contract tests. A port that stops working
raises GpioError and nothing else.
"""

from collections.abc import Iterable
from typing import Protocol

from core.errors import NotAvailableError
from hardware.pins import Line


class GpioError(NotAvailableError):
    """The pins cannot be had or stopped answering; the sentence says what and what would help."""


class GpioPort(Protocol):
    """The pins of pins.PINS. `high` speaks of the wire, not of the lamp or the pedal."""

    def set_up(self, lines: Iterable[Line]) -> None:
        """Claim these lines: outputs low, inputs pulled up."""
        ...

    def write(self, line: Line, high: bool) -> None:
        """Drive an output."""
        ...

    def read(self, line: Line) -> bool:
        """Level of an input: True is high, which is a released button or a cut cable."""
        ...

    def close(self) -> None:
        """Outputs low, pins given back; safe to call twice."""
        ...
