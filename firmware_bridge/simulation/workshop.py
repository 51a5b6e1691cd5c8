"""The simulated workshop: a template router, its coupon, two instruments on pseudo-terminals and
a hand that measures. SIMULATED data only. The ordinary serial links open the two cables by path.
"""

import logging
import random
import threading
import time
from collections.abc import Callable
from pathlib import Path

from msgspec import Struct, field
from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry import Coupon
from core.metrology import Quantity
from core.said import NOTHING, Name, Said, said
from firmware_bridge.instrument_settings import Capture, HoldSettings, InstrumentSettings, Sends
from firmware_bridge.simulation.gantry import Gantry
from firmware_bridge.simulation.instruments import InstrumentErrors, VirtualCaliper, VirtualGauge
from firmware_bridge.simulation.operator import PATIENCE_S, Ask, SimulatedHand
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal

LOG = logging.getLogger("cornerwise.workshop")
MACHINE = "template router (SIMULATED)"
COUPON = Coupon(width_mm=120.0, height_mm=80.0)
# Real seconds between two turns; a workshop in haste turns so often that a hold is still several numbers long.
TICK_S = 0.005
TICKS_IN_A_HOLD = 5
# Real seconds a commit may take: the bench's disk is in no more haste than ever.
DISK_S = 1.0
POLL_S = 0.1
HOLD_S = 1.0


class Scenario(Struct, frozen=True, kw_only=True):
    """One machine with its hidden faults, the instruments' hidden errors, and what the hand gets wrong."""

    gantry: Gantry
    coupon: Coupon = COUPON
    caliper: InstrumentErrors = field(
        default_factory=lambda: InstrumentErrors(
            resolution=0.01, zero=0.01, scale=5e-5, seating_sd=0.012, flicker_sd=0.002
        )
    )
    gauge: InstrumentErrors = field(
        default_factory=lambda: InstrumentErrors(
            resolution=0.1, zero=0.15, scale=2e-4, seating_sd=0.06, flicker_sd=0.01
        )
    )
    turns_over_for_corners: bool = False


SCENARIOS: dict[str, Scenario] = {
    "racked": Scenario(gantry=Gantry(skew_deg=-0.35)),
    "undersized": Scenario(gantry=Gantry(skew_deg=0.03, kerf_mm=0.9)),
    "tapered": Scenario(gantry=Gantry(skew_deg=0.05, taper_y=0.004)),
    "turned-over": Scenario(gantry=Gantry(skew_deg=-0.6), turns_over_for_corners=True),
    "good": Scenario(gantry=Gantry(skew_deg=0.03)),
}


def scenario(name: str) -> Scenario:
    """Look a scenario up; raises BadInputError with the names there are."""
    if name not in SCENARIOS:
        raise BadInputError(
            said(
                "scenario '{name}': it must be one of {known}",
                name=Name(name),
                known=Name(", ".join(sorted(SCENARIOS))),
            )
        )
    return SCENARIOS[name]


class SimulatedWorkshop:
    """Gantry, coupon, instruments, cables and hand; `settings` are what the ordinary links are made from.

    `speed` runs simulated time that many times faster than `clock`; polling and hold times are shortened alike.
    `says` is told in words what the hand is doing, whenever that changes. Links are to be closed before the workshop.
    """

    def __init__(
        self,
        *,
        scenario: Scenario,
        ask: Ask,
        folder: Path,
        seed: int = 1,
        speed: float = 1.0,
        clock: Callable[[], float] = time.monotonic,
        says: Callable[[Said], None] = lambda text: None,
    ) -> None:
        self._says = says
        self._told: Said = NOTHING
        self._clock = clock
        self._speed = speed
        self._form = random.Random(f"form {seed}")
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        self._scenario = scenario
        self.gantry = scenario.gantry
        self.coupon = scenario.coupon
        self.caliper_cable = PseudoTerminal(folder / "simulated-caliper")
        self.gauge_cable = PseudoTerminal(folder / "simulated-angle-gauge")
        self.caliper = VirtualCaliper(scenario.caliper, self.caliper_cable.write, seed)
        self.gauge = VirtualGauge(scenario.gauge, self.gauge_cable.write, seed)
        self.piece = self.gantry.cut(self.coupon, self._form)
        self.hand = SimulatedHand(
            piece=self.piece,
            caliper=self.caliper,
            gauge=self.gauge,
            ask=ask,
            seed=seed,
            turns_over_for_corners=scenario.turns_over_for_corners,
            patience_s=max(PATIENCE_S, DISK_S * speed),
        )

    @property
    def settings(self) -> tuple[InstrumentSettings, InstrumentSettings]:
        """Caliper (asked ten times a second, data button) and angle gauge (streams, steady hold)."""
        caliper = InstrumentSettings(
            name="caliper",
            port=str(self.caliper_cable.path),
            format_name="length-3.3",
            quantity=Quantity.LENGTH,
            sends=Sends.ASKED,
            capture=Capture.DATA_BUTTON,
            hold=HoldSettings(time_s=HOLD_S / self._speed),
            poll_s=POLL_S / self._speed,
        )
        gauge = InstrumentSettings(
            name="angle gauge",
            port=str(self.gauge_cable.path),
            format_name="angle-x",
            quantity=Quantity.ANGLE,
            hold=HoldSettings(time_s=HOLD_S / self._speed, band=0.15),
        )
        return caliper, gauge

    def cut(self, coupon: Coupon) -> None:
        """Cut and lay down a coupon of another design; one that lies there already stays."""
        if coupon != self.coupon:
            self.set_up(replace(self._scenario, coupon=coupon))

    def set_up(self, scenario: Scenario) -> None:
        """Another machine, and its coupon on the bench; instruments and hand stay the same."""
        self._scenario, self.gantry, self.coupon = scenario, scenario.gantry, scenario.coupon
        self.piece = self.gantry.cut(self.coupon, self._form)
        self.hand.lay(self.piece, turns_over_for_corners=scenario.turns_over_for_corners)

    def step(self, now_s: float) -> None:
        """Do what is due by `now_s`, in simulated seconds."""
        self.hand.step(now_s)
        if self.hand.doing != self._told:
            self._told = self.hand.doing
            self._says(self._told)
        self.gauge.tick(now_s)
        self.caliper.receive(self.caliper_cable.read())

    def start(self) -> None:
        """Plug the cables in and let time run, in a thread of its own."""
        self.plug()
        self._thread = threading.Thread(target=self._run, name="simulated workshop", daemon=True)
        self._thread.start()

    def plug(self) -> None:
        """Plug both cables in."""
        self.caliper_cable.plug()
        self.gauge_cable.plug()

    def close(self) -> None:
        """Stop time and pull both cables."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join()
        self.caliper_cable.pull()
        self.gauge_cable.pull()

    def _run(self) -> None:
        tick_s = min(TICK_S, HOLD_S / self._speed / TICKS_IN_A_HOLD)
        met: set[str] = set()
        while not self._closing.wait(tick_s):
            try:
                self.step(self._clock() * self._speed)
            except Exception as error:
                name = type(error).__name__
                if name not in met:  # two hundred times a second it would be all that is said
                    met.add(name)
                    LOG.exception("unforeseen in the simulated workshop")
                    self._says(said("an error nobody foresaw ({name})", name=Name(name)))
