"""Puts every lamp and the buzzer off: run by systemd after the program ended in whatever way.

Stage: hardware. A program that was killed leaves its pins as they were; a green lamp that nobody stands behind is worse
than none. Does nothing where there are no pins.
"""

import contextlib

from hardware.gpio_port import GpioError
from hardware.pins import PINS
from hardware.rpi_gpio import RpiGpioPort, load_library


def main() -> None:
    """Claim the outputs low and give them back."""
    with contextlib.suppress(GpioError):
        port = RpiGpioPort(load_library())
        port.set_up(pin.line for pin in PINS if pin.output)
        port.close()


if __name__ == "__main__":
    main()
