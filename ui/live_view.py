"""The newest indication of one quantity, its age and its steady hold: the live half of the snapshot.

Input: indications with their arrival times. Output: `Live` values. Kept by the bench, one for lengths, one for angles.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.geometry.features import Feature
from core.metrology.live import LiveState, compare, live_limit, plausible_range
from core.metrology.readings import Indication, Quantity, Unit
from firmware_bridge.byte_link import IndicationArrived
from firmware_bridge.instrument_settings import Capture, InstrumentSettings
from firmware_bridge.steady_hold import HoldStep, SteadyHold
from ui.snapshot import Live, Snapshot

# An instrument streams several times a second; what is older than this was the instrument before it stopped.
STALE_AFTER_S = 2.0
OLDEST_SHOWN_S = 60.0
NOTHING_PLAUSIBLE = (1.0, 0.0)  # an empty range: no feature is up


@dataclass(frozen=True, slots=True, kw_only=True)
class Newest:
    """The last indication of a quantity and which instrument said it when."""

    instrument: str
    indication: Indication
    arrived_s: float
    hold_fraction: float


class LiveView:
    """Follows the indications of one quantity, of whichever instrument spoke last."""

    def __init__(self, quantity: Quantity) -> None:
        self.quantity = quantity
        self._holds: dict[str, SteadyHold] = {}
        self._newest: Newest | None = None

    def follow(self, settings: InstrumentSettings) -> None:
        """Take steady holds of the instruments on this cable from now on, where its settings say so."""
        for name in settings.instruments:
            self._holds.pop(name, None)
            if settings.quantity is self.quantity and settings.capture is Capture.STEADY_HOLD:
                self._holds[name] = SteadyHold(settings.hold)

    def arrived(self, event: IndicationArrived, plausible: tuple[float, float]) -> bool:
        """Follow one indication; True when it proposes itself as a reading (button pressed, or held long enough)."""
        indication = event.indication
        hold = self._holds.get(event.instrument)
        step = hold.feed(indication.value, event.arrived_s, plausible) if hold else HoldStep(fraction=0.0, take=False)
        self._newest = Newest(
            instrument=event.instrument,
            indication=indication,
            arrived_s=event.arrived_s,
            hold_fraction=step.fraction,
        )
        return step.take or indication.requested

    def fresh(self, now_s: float) -> Newest | None:
        """The newest indication, None when there is none or it is too old to be believed."""
        newest = self._newest
        return newest if newest is not None and now_s - newest.arrived_s <= STALE_AFTER_S else None

    def taken(self, newest: Newest) -> None:
        """This indication became a reading: its hold gives no other."""
        if hold := self._holds.get(newest.instrument):
            hold.mark_taken(newest.indication.value)

    def lost(self, instrument: str) -> None:
        """The cable of an instrument was pulled: what it said last is not live any more."""
        if hold := self._holds.get(instrument):
            hold.reset()
        if self._newest is not None and self._newest.instrument == instrument:
            self._newest = None

    def view(self, snapshot: Snapshot, feature: Feature | None, now_s: float) -> Live:
        """The live value as shown, against the tolerance of the feature at the cursor."""
        newest = self._newest
        if newest is None:
            return absent(self.quantity, feature)
        state, limit, age_s = LiveState.UNJUDGED, None, None
        if self.fresh(now_s) is None:
            state = LiveState.STALE
            # Whole seconds, and no further than people care, so that an idle bench publishes nothing new.
            age_s = int(min(now_s - newest.arrived_s, OLDEST_SHOWN_S))
        elif feature is not None and snapshot.coupon is not None and snapshot.limits is not None:
            adjustment = snapshot.evaluation.adjustment if snapshot.evaluation else None
            limit = live_limit(snapshot.coupon, snapshot.limits, feature)
            state = compare(
                snapshot.coupon, snapshot.limits, snapshot.setup, feature, newest.indication.value, adjustment
            )
        return Live(
            quantity=self.quantity,
            feature=feature,
            value=newest.indication.value,
            unit=newest.indication.unit,
            decimals=newest.indication.decimals,
            state=state,
            limit=limit,
            hold_fraction=newest.hold_fraction,
            age_s=age_s,
        )


def absent(quantity: Quantity, feature: Feature | None) -> Live:
    """No indication at all."""
    return Live(
        quantity=quantity,
        feature=feature,
        value=None,
        unit=Unit.MM if quantity is Quantity.LENGTH else Unit.DEG,
        decimals=2,
        state=LiveState.ABSENT,
        limit=None,
        hold_fraction=0.0,
        age_s=None,
    )


def plausible_for(snapshot: Snapshot, feature: Feature | None) -> tuple[float, float]:
    """The range a steady hold may be taken in: the feature's own, or nothing when none is up."""
    if feature is None or snapshot.coupon is None or snapshot.closed:
        return NOTHING_PLAUSIBLE
    return plausible_range(snapshot.coupon, feature)
