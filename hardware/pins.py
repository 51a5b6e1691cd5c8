"""The one table of the panel's pins: the panel, `cornerwise doctor`, wiring.md and the drawings all read it.

Stage: hardware. Input: nothing. Output: PINS. Header numbers are those of the 40-pin header common to all boards since
the model B+. The outputs lie among GPIO 9 to 27, which every board pulls down at power-on, so that no lamp or buzzer
speaks before the program does; none of the pins belongs to I2C, SPI, the serial console or the board's identification.
"""

from enum import StrEnum

from msgspec import Struct


class Line(StrEnum):
    """What hangs on the panel's cable; the value is the name in the table, in wiring.md and on the box."""

    LAMP_GO = "lamp go"
    LAMP_NO_GO = "lamp no-go"
    LAMP_UNDECIDED = "lamp undecided"
    BUZZER = "buzzer"
    PEDAL = "pedal"
    CONFIRM = "confirm"
    VOID = "void"


class Pin(Struct, frozen=True, kw_only=True):
    """One wire: its GPIO number as the processor counts, its place on the header, and which way signals run.

    An output is high when lit or sounding. An input is pulled up and low while pressed, so that a cut cable reads as
    not pressed.
    """

    line: Line
    gpio: int
    header: int
    output: bool


PINS: tuple[Pin, ...] = (
    Pin(line=Line.LAMP_GO, gpio=17, header=11, output=True),
    Pin(line=Line.LAMP_NO_GO, gpio=27, header=13, output=True),
    Pin(line=Line.LAMP_UNDECIDED, gpio=22, header=15, output=True),
    Pin(line=Line.BUZZER, gpio=23, header=16, output=True),
    Pin(line=Line.PEDAL, gpio=5, header=29, output=False),
    Pin(line=Line.CONFIRM, gpio=6, header=31, output=False),
    Pin(line=Line.VOID, gpio=16, header=36, output=False),
)
LAMPS = (Line.LAMP_GO, Line.LAMP_NO_GO, Line.LAMP_UNDECIDED)
BUTTONS = (Line.PEDAL, Line.CONFIRM, Line.VOID)
PIN_OF = {pin.line: pin for pin in PINS}
