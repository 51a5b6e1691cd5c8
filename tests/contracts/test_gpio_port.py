"""What every GpioPort must do: the fake, the adapter over a stand-in library, and real pins where there are some."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from hardware.gpio_port import GpioError, GpioPort
from hardware.pins import BUTTONS, LAMPS, PIN_OF, PINS, Line
from hardware.rpi_gpio import RpiGpioPort, load_library
from tests.hardware.fake_gpio import FakeGpioPort


class StandInLibrary(SimpleNamespace):
    """The RPi.GPIO interface on a dictionary of levels, as strict as the real one about unclaimed pins."""

    def __init__(self) -> None:
        super().__init__(BCM=11, OUT=0, IN=1, LOW=0, PUD_UP=22, levels={}, outputs=set(), mode=None)

    def setwarnings(self, _: bool) -> None:
        pass

    def setmode(self, mode: int) -> None:
        self.mode = mode

    def setup(self, gpio: int, direction: int, *, initial: int = 0, pull_up_down: int = 0) -> None:
        if self.mode is None:
            raise RuntimeError("Please set pin numbering mode")
        self.levels[gpio] = initial if direction == self.OUT else int(pull_up_down == self.PUD_UP)
        if direction == self.OUT:
            self.outputs.add(gpio)

    def gpio_function(self, _gpio: int) -> int:
        if self.mode is None:
            raise RuntimeError("Please set pin numbering mode using GPIO.setmode(GPIO.BOARD) or GPIO.setmode(GPIO.BCM)")
        return int(self.IN)

    def output(self, gpio: int, level: bool) -> None:
        if gpio not in self.outputs:
            raise RuntimeError("The GPIO channel has not been set up as an OUTPUT")
        self.levels[gpio] = int(level)

    def input(self, gpio: int) -> int:
        if gpio not in self.levels or gpio in self.outputs:
            raise RuntimeError("You must setup() the GPIO channel first")
        return int(self.levels[gpio])

    def cleanup(self, gpios: list[int]) -> None:
        for gpio in gpios:
            self.levels.pop(gpio, None)
            self.outputs.discard(gpio)


def stand_in() -> GpioPort:
    return RpiGpioPort(StandInLibrary())


def real() -> GpioPort:
    if not Path("/dev/gpiomem").exists() and not Path("/dev/gpiochip0").exists():
        pytest.skip("no GPIO header on this machine")
    return RpiGpioPort(load_library())


@pytest.fixture(params=[FakeGpioPort, stand_in, real])
def port(request: pytest.FixtureRequest) -> Iterator[GpioPort]:
    make: Callable[[], GpioPort] = request.param
    made = make()
    yield made
    made.close()


def test_inputs_are_pulled_up_so_that_a_cut_cable_reads_as_released(port: GpioPort) -> None:
    port.set_up(pin.line for pin in PINS)
    assert [port.read(line) for line in BUTTONS] == [True, True, True]


def test_outputs_can_be_written_again_and_again(port: GpioPort) -> None:
    port.set_up(pin.line for pin in PINS)
    for high in (True, True, False, True):
        port.write(Line.LAMP_GO, high)


def test_a_line_that_was_not_set_up_is_an_error_of_the_port(port: GpioPort) -> None:
    port.set_up(LAMPS)
    with pytest.raises(GpioError):
        port.write(Line.BUZZER, True)
    with pytest.raises(GpioError):
        port.read(Line.PEDAL)


def test_closing_twice_is_harmless_and_the_lines_can_be_had_again(port: GpioPort) -> None:
    port.set_up(pin.line for pin in PINS)
    port.write(Line.LAMP_GO, True)
    port.close()
    port.close()
    with pytest.raises(GpioError):
        port.write(Line.LAMP_GO, True)
    port.set_up(pin.line for pin in PINS)
    port.write(Line.LAMP_GO, True)


def test_the_adapter_puts_lamps_out_before_it_gives_the_pins_back() -> None:
    library = StandInLibrary()
    written: list[tuple[int, bool]] = []
    plain_output = library.output
    library.output = lambda gpio, level: (written.append((gpio, bool(level))), plain_output(gpio, level))
    adapter = RpiGpioPort(library)
    adapter.set_up(pin.line for pin in PINS)
    adapter.write(Line.LAMP_NO_GO, True)
    adapter.close()
    assert written[-len(LAMPS) - 1 :] == [(pin.gpio, False) for pin in PINS if pin.output]
    assert library.levels == {}


def test_the_adapter_translates_whatever_the_library_raises() -> None:
    library = StandInLibrary()
    adapter = RpiGpioPort(library)
    adapter.set_up([Line.PEDAL])

    def gone(_: Any) -> int:
        raise OSError(5, "Input/output error")

    library.input = gone
    with pytest.raises(GpioError, match="stopped answering"):
        adapter.read(Line.PEDAL)


def test_whether_the_pins_can_be_reached_is_looked_at_without_touching_one() -> None:
    library = StandInLibrary()
    RpiGpioPort(library).reach()
    assert (library.levels, library.outputs) == ({}, set())


@pytest.mark.skipif(Path("/proc/device-tree/model").exists(), reason="this is a board with a header")
def test_off_a_board_loading_the_library_is_one_clear_error() -> None:
    with pytest.raises(GpioError, match="GPIO library"):
        load_library()


def test_a_placeholder_distribution_is_not_taken_for_a_library(monkeypatch: pytest.MonkeyPatch) -> None:
    placeholder = SimpleNamespace(setmode=None)
    monkeypatch.setitem(__import__("sys").modules, "RPi", SimpleNamespace(GPIO=placeholder))
    monkeypatch.setitem(__import__("sys").modules, "RPi.GPIO", placeholder)
    with pytest.raises(GpioError, match="not a real one"):
        load_library()


def test_the_fake_keeps_its_history() -> None:
    fake = FakeGpioPort()
    fake.set_up(pin.line for pin in PINS)
    fake.write(Line.LAMP_GO, True)
    fake.write(Line.LAMP_GO, True)
    fake.write(Line.LAMP_GO, False)
    assert fake.history == [(Line.LAMP_GO, True), (Line.LAMP_GO, False)]


def test_no_two_lines_share_a_pin() -> None:
    assert len({pin.gpio for pin in PINS}) == len({pin.header for pin in PINS}) == len(PINS) == len(Line) == len(PIN_OF)


# The 40-pin header: which GPIO sits on which pin (from memory of the published header drawing; common to all boards).
HEADER_OF_GPIO = {
    2: 3, 3: 5, 4: 7, 17: 11, 27: 13, 22: 15, 10: 19, 9: 21, 11: 23, 0: 27, 5: 29, 6: 31, 13: 33, 19: 35, 26: 37,
    14: 8, 15: 10, 18: 12, 23: 16, 24: 18, 25: 22, 8: 24, 7: 26, 1: 28, 12: 32, 16: 36, 20: 38, 21: 40,
}  # fmt: skip


@pytest.mark.parametrize("pin", PINS, ids=lambda pin: pin.line)
def test_the_table_agrees_with_the_header(pin: Any) -> None:
    assert HEADER_OF_GPIO[pin.gpio] == pin.header
    # The peripherals' own pins stay free: identification, I2C, SPI0, serial console.
    assert pin.gpio not in {0, 1, 2, 3, 7, 8, 9, 10, 11, 14, 15}
    # Pulled down at power-on (data sheet of the processor, from memory: GPIO 0 to 8 up, 9 to 27 down).
    assert not pin.output or 9 <= pin.gpio <= 27
