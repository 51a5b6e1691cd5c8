"""The real pins, through the RPi.GPIO interface: RPi.GPIO up to the Pi 4, rpi-lgpio (same module name) on the Pi 5.

Stage: hardware. Input: levels from the panel. Output: voltages. Only the calls that work on every kernel are used:
RPi.GPIO's edge detection fails on kernels 6.6 and later, so buttons are polled and debounced in panel.py. Off a Pi
importing the library raises RuntimeError, and an empty stand-in of one of its parts exists; both become GpioError.
"""

from collections.abc import Callable, Iterable
from typing import Any

from core.said import Name, said
from hardware.gpio_port import GpioError
from hardware.pins import PIN_OF, PINS, Line

# What a real library has; a placeholder distribution installs without any of it.
_CALLS = ("setmode", "setup", "output", "input", "cleanup", "gpio_function", "setwarnings")
_NEEDED = (*_CALLS, "BCM", "OUT", "IN", "LOW", "PUD_UP")


def load_library() -> Any:
    """The RPi.GPIO module. Raises GpioError where it is absent, is no real one, or refuses this machine."""
    try:
        from RPi import GPIO
    except ImportError as error:
        raise GpioError(said("no GPIO library is installed")) from error
    except (RuntimeError, OSError) as error:
        raise GpioError(said("the GPIO library does not run on this machine: {why}", why=Name(str(error)))) from error
    missing = [name for name in _NEEDED if not hasattr(GPIO, name)]
    if missing:
        raise GpioError(
            said(
                "the installed GPIO library is not a real one (it has no {missing}); install it anew",
                missing=Name(missing[0]),
            )
        )
    return GPIO


class RpiGpioPort:
    """The panel's pins on the board's header."""

    def __init__(self, library: Any) -> None:
        self._gpio = library
        self._outputs: list[int] = []
        self._open = False

    def reach(self) -> None:
        """Look at one pin and change none: the doctor does so beside the bench that drives them."""
        self._try(self._gpio.setmode, self._gpio.BCM)
        self._try(self._gpio.gpio_function, PINS[0].gpio)

    def set_up(self, lines: Iterable[Line]) -> None:
        """Claim these lines: outputs low, inputs pulled up."""
        self._open = True
        self._try(self._gpio.setwarnings, False)  # a pin left over from a killed run is ours to take
        self._try(self._gpio.setmode, self._gpio.BCM)
        for line in lines:
            pin = PIN_OF[line]
            if pin.output:
                self._outputs.append(pin.gpio)
                self._try(self._gpio.setup, pin.gpio, self._gpio.OUT, initial=self._gpio.LOW)
            else:
                self._try(self._gpio.setup, pin.gpio, self._gpio.IN, pull_up_down=self._gpio.PUD_UP)

    def write(self, line: Line, high: bool) -> None:
        """Drive an output."""
        self._try(self._gpio.output, PIN_OF[line].gpio, high)

    def read(self, line: Line) -> bool:
        """Level of an input."""
        return bool(self._try(self._gpio.input, PIN_OF[line].gpio))

    def close(self) -> None:
        """Outputs low, pins given back; safe to call twice."""
        if not self._open:
            return
        self._open = False
        for gpio in self._outputs:
            self._try(self._gpio.output, gpio, False)
        self._try(self._gpio.cleanup, [pin.gpio for pin in PINS])

    def _try(self, call: Callable[..., Any], *args: Any, **options: Any) -> Any:
        try:
            return call(*args, **options)
        except Exception as error:  # the library raises RuntimeError, ValueError, OSError and its own kinds
            raise GpioError(said("the GPIO pins stopped answering: {why}", why=Name(str(error)))) from error
