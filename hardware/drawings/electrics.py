"""The numbers behind wiring.md: currents, levels and the power budget, worked out, so that text and drawings agree.

Stage: hardware, documents only. Volts, ohms, amperes, farads, seconds. Formulas: Ohm's law. Values of parts are typical
ones of their kind (common practice); check those of the parts at hand.
"""

from msgspec import Struct

from hardware.pins import Line

SUPPLY_V = 5.0
LOGIC_V = 3.3
DRIVER_DROP_V = 0.1  # N-channel MOSFET of at most 0.5 ohm at a gate of 2.5 V, with the header's 3.3 V on its gate
GATE_OHM = 220
GATE_PULL_DOWN_OHM = 100_000
LAMP_FUSE_A = 0.5  # resettable, hold current; the header's 5 V pins have no fuse of their own

INPUT_PULL_UP_OHM = 3300  # 1 mA through the contact: enough to keep it clean
INPUT_SERIES_OHM = 330
INPUT_FILTER_F = 100e-9
CONTACT_OHM = 100  # a worn or dirty contact
INPUT_LOW_MAX_V = 0.8  # what the processor takes for low (data sheet of the processor, from memory)

BASE_OHM = 22_000
COLLECTOR_OHM = 10_000
SIGNAL_V = 1.5
BASE_EMITTER_V = 0.65
BRIDGE_PULL_UP_OHM = 10_000


class Lamp(Struct, frozen=True, kw_only=True):
    """An LED lamp: its colour by IEC 60073, the mark engraved beside it, its forward voltage and series resistor."""

    line: Line
    colour: str
    mark: str
    forward_v: float
    series_ohm: int

    @property
    def current_a(self) -> float:
        """Current when lit."""
        return (SUPPLY_V - self.forward_v - DRIVER_DROP_V) / self.series_ohm


LAMP_TABLE = (
    Lamp(line=Line.LAMP_GO, colour="green", mark="disc", forward_v=3.1, series_ohm=120),
    Lamp(line=Line.LAMP_NO_GO, colour="red", mark="crossed square", forward_v=2.0, series_ohm=220),
    Lamp(line=Line.LAMP_UNDECIDED, colour="yellow", mark="half diamond", forward_v=2.1, series_ohm=220),
)
BUZZER_A = 0.030

# What hangs on the supply, in amperes at 5 V: typical, then at worst.
POWER_BUDGET: tuple[tuple[str, float, float], ...] = (
    ("board, measuring", 0.7, 1.2),
    ("touch display 5 to 7 in", 0.4, 0.6),
    ("four instrument cables", 0.1, 0.4),
    ("USB stick while writing", 0.1, 0.3),
    ("lamps and buzzer, lamp test", 0.07, 0.08),
)


def lamp_test_a() -> float:
    """All lamps lit and the buzzer sounding, as at start."""
    return sum(lamp.current_a for lamp in LAMP_TABLE) + BUZZER_A


def pressed_level_v() -> float:
    """Level of an input while its contact, worn, is closed."""
    return LOGIC_V * CONTACT_OHM / (CONTACT_OHM + INPUT_PULL_UP_OHM)


def contact_current_a() -> float:
    """Current through a closed contact."""
    return LOGIC_V / (CONTACT_OHM + INPUT_PULL_UP_OHM)


def filter_s() -> float:
    """Time constant of an input when its contact opens."""
    return (INPUT_PULL_UP_OHM + INPUT_SERIES_OHM) * INPUT_FILTER_F


def load_on_instrument_a() -> float:
    """What one transistor stage draws from a 1.5 V output."""
    return (SIGNAL_V - BASE_EMITTER_V) / BASE_OHM


def forced_gain() -> float:
    """Collector over base current in a transistor stage; well below the transistor's gain means that it switches."""
    return (LOGIC_V / COLLECTOR_OHM) / load_on_instrument_a()


def supply_a() -> float:
    """The worst case of the budget together."""
    return sum(worst for _, _, worst in POWER_BUDGET)
