"""A simulated hand: measures the feature asked for with the virtual instruments, as a practised person would.

It knows nothing of the bench but what it is told: `ask` gives the feature wanted next and how much is on
record, and a change of either is how the hand learns that its reading was accepted. Pure in time, seeded, and stopped
by `stop()` when a person takes over.
"""

import random
from collections.abc import Callable, Iterator

from msgspec import Struct

from core.geometry import Feature, FeatureKind
from core.said import NOTHING, Said, said
from firmware_bridge.simulation.gantry import CutCoupon
from firmware_bridge.simulation.instruments import VirtualCaliper, VirtualGauge

TICK_S = 0.02
OPEN_BY_MM = (12.0, 22.0)  # how far off the feature the jaws come
OPEN_BY_DEG = (6.0, 14.0)
CLOSE_S = (0.5, 0.8)
SETTLE_S = 0.35  # from seated to the thumb on the button
PATIENCE_S = 2.5
AT_REST_DEG = 0.0  # a gauge with its blades closed


class Wanted(Struct, frozen=True, kw_only=True):
    """What the bench wants next: the feature, and how much it has put on record so far."""

    feature: Feature
    on_record: int


Ask = Callable[[], Wanted | None]


class SimulatedHand:
    """`doing` says in words what the hand is at; empty after `stop()`. `patience_s` is how long it waits for a reading
    to be accepted before it seats the instrument anew: too short, and its second press is the next feature's."""

    def __init__(
        self,
        *,
        piece: CutCoupon,
        caliper: VirtualCaliper,
        gauge: VirtualGauge,
        ask: Ask,
        seed: int,
        turns_over_for_corners: bool = False,
        patience_s: float = PATIENCE_S,
    ) -> None:
        self._patience_s = patience_s
        self._piece = piece
        self._caliper = caliper
        self._gauge = gauge
        self._ask = ask
        self._rng = random.Random(f"hand {seed}")
        self._turns_over_for_corners = turns_over_for_corners
        self._script = self._work()
        self._wake_s: float | None = None
        self._stopped = False
        self.doing = said("reaching for the coupon")

    def lay(self, piece: CutCoupon, *, turns_over_for_corners: bool) -> None:
        """Put another coupon on the bench; what the hand was at with the old one is dropped."""
        self._piece, self._turns_over_for_corners = piece, turns_over_for_corners
        self._script = self._work()

    def stop(self) -> None:
        """The person takes over: the hand still brings the instruments to the feature that is wanted, for there is no
        other hand in a simulation, but presses nothing and says nothing more."""
        self._stopped = True
        self.doing = NOTHING

    def step(self, now_s: float) -> None:
        """Do what is due by `now_s`."""
        if self._wake_s is None:
            self._wake_s = now_s
        while now_s >= self._wake_s:
            self._wake_s += next(self._script)

    def _say(self, words: Said) -> None:
        if not self._stopped:
            self.doing = words

    def _work(self) -> Iterator[float]:
        """The whole script; each number yielded is a pause in seconds."""
        while True:
            wanted, piece = self._ask(), self._piece
            if wanted is None or wanted.feature not in piece.values:
                self._say(said("nothing left to measure"))
                yield 10 * TICK_S
            elif wanted.feature.is_length:
                yield from self._measure_length(wanted, piece)
            else:
                yield from self._measure_corner(wanted, piece)

    def _measure_length(self, wanted: Wanted, piece: CutCoupon) -> Iterator[float]:
        label, jaws = wanted.feature.label, self._caliper
        true_mm = piece.true_value(wanted.feature)
        away_mm = self._rng.uniform(*OPEN_BY_MM)
        # Inner jaws come from within.
        inner = wanted.feature.kind is FeatureKind.WINDOW
        open_mm = true_mm - min(away_mm, true_mm / 2.0) if inner else true_mm + away_mm
        self._say(said("opening the jaws for the {feature}", feature=label))
        yield from self._move(jaws, open_mm)
        self._say(said("closing the jaws on the {feature}", feature=label))
        jaws.seat()
        yield from self._move(jaws, true_mm)
        yield SETTLE_S
        if not self._stopped:
            self._say(said("pressing the data button at the {feature}", feature=label))
            jaws.press_data_button()
        yield from self._await_acceptance(wanted)
        self._say(said("opening the jaws after the {feature}", feature=label))
        yield from self._move(jaws, open_mm)

    def _measure_corner(self, wanted: Wanted, piece: CutCoupon) -> Iterator[float]:
        label, blades = wanted.feature.label, self._gauge
        piece = piece.turned_over() if self._turns_over_for_corners else piece
        true_deg = piece.true_value(wanted.feature)
        self._say(said("bringing the angle gauge to {feature}", feature=label))
        yield from self._move(blades, true_deg + self._rng.uniform(*OPEN_BY_DEG))
        blades.seat()
        yield from self._move(blades, true_deg)
        self._say(said("holding the angle gauge at {feature}", feature=label))
        yield from self._await_acceptance(wanted)
        self._say(said("lifting the angle gauge from {feature}", feature=label))
        yield from self._move(blades, AT_REST_DEG)

    def _move(self, instrument: VirtualCaliper | VirtualGauge, to: float) -> Iterator[float]:
        """Bring the held value there: quick first, slower towards the end."""
        start, steps = instrument.held, max(1, round(self._rng.uniform(*CLOSE_S) / TICK_S))
        for step in range(1, steps + 1):
            left = 1.0 - step / steps
            instrument.held = to + (start - to) * left**3
            yield TICK_S

    def _await_acceptance(self, wanted: Wanted) -> Iterator[float]:
        """Hold still until the bench wants something else; give up after a while and seat anew, unless it is for the
        person to take the reading."""
        held_s = 0.0
        while self._ask() == wanted and (self._stopped or held_s < self._patience_s):
            yield TICK_S
            held_s += TICK_S
