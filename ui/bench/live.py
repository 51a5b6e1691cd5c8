"""The newest indication of one quantity, its age and its steady hold: the live half of the snapshot.

Input: indications with their arrival times. Output: `Live` values. Kept by the bench, one for lengths, one for angles.
"""

from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import Feature
from core.metrology import Indication, LiveState, Quantity, Unit, compare, live_limit, plausible_range
from core.said import NOTHING, Angle, Part, said
from firmware_bridge import (
    NOT_HELD,
    Capture,
    GaugeKind,
    HoldStep,
    IndicationArrived,
    InstrumentSettings,
    Sends,
    SteadyHold,
    TiltCorner,
)
from ui.state import Live, Snapshot

# An instrument streams several times a second; what is older than this was the instrument before it stopped.
STALE_AFTER_S = 2.0
OLDEST_SHOWN_S = 60.0
NOTHING_PLAUSIBLE = (1.0, 0.0)  # an empty range: no feature is up
ANY_TILT = (-360.0, 360.0)
TAKEN_ALREADY_SAYS = said("Taken already: open the jaws and seat them anew before the next reading.")


class Newest(Struct, frozen=True, kw_only=True):
    """The last indication of a quantity and which instrument said it when."""

    instrument: str
    indication: Indication
    arrived_s: float
    hold_fraction: float


class Arrival(Struct, frozen=True, kw_only=True):
    """What an indication came to: it proposes itself as a reading, or has something to say, or neither."""

    proposed: bool = False
    says: Part = NOTHING


class _Followed:
    """One instrument whose movements are seen: its hold, and for a tilt gauge the first edge of the corner."""

    def __init__(self, settings: InstrumentSettings) -> None:
        self.hold = SteadyHold(settings.hold)
        self.captures = settings.capture is Capture.STEADY_HOLD
        self.tilt = TiltCorner() if settings.gauge_kind is GaugeKind.TILT else None


class LiveFollower:
    """Follows the indications of one quantity, of whichever instrument spoke last."""

    def __init__(self, quantity: Quantity) -> None:
        self.quantity = quantity
        self._followed: dict[str, _Followed] = {}
        self._newest: Newest | None = None

    def follow(self, settings: InstrumentSettings) -> None:
        """Follow the instruments on this cable from now on.

        An instrument that speaks only when its button is pressed cannot be followed: between two presses it may have
        moved or not, and each press is a reading meant.
        """
        for name in settings.instruments:
            self._followed.pop(name, None)
            if settings.quantity is self.quantity and settings.sends is not Sends.BUTTON:
                self._followed[name] = _Followed(settings)

    def arrived(self, event: IndicationArrived, plausible: tuple[float, float]) -> Arrival:
        """Follow one indication: is it a reading meant (button pressed, or held long enough)?"""
        followed = self._followed.get(event.instrument)
        indication = event.indication
        if followed is None:
            self._newest = _newest(event, indication, NOT_HELD)
            return Arrival(proposed=indication.requested)
        if followed.tilt is not None:
            corner_deg = followed.tilt.corner(indication.value)
            if corner_deg is None:
                return self._first_edge(event, followed, followed.tilt)
            indication = replace(indication, shown=corner_deg)
        step = followed.hold.feed(indication.value, event.arrived_s, plausible)
        taken = step.take and followed.captures
        if taken and step.value is not None:
            indication = replace(indication, shown=step.value / indication.unit.to_internal(1.0))
        self._newest = _newest(event, indication, step if followed.captures else NOT_HELD)
        if indication.requested and not step.take and not followed.hold.armed:
            return Arrival(says=TAKEN_ALREADY_SAYS)
        return Arrival(proposed=taken or indication.requested)

    def _first_edge(self, event: IndicationArrived, followed: _Followed, tilt: TiltCorner) -> Arrival:
        """A tilt gauge on the first edge of a corner: what is held is kept, and is no reading yet."""
        step = followed.hold.feed(event.indication.value, event.arrived_s, ANY_TILT)
        self._newest = _newest(event, event.indication, step)
        if step.take or event.indication.requested:
            return Arrival(says=self._keep_first_edge(followed, tilt, event.indication.value))
        return Arrival()

    def _keep_first_edge(self, followed: _Followed, tilt: TiltCorner, tilt_deg: float) -> Part:
        tilt.keep_first(tilt_deg)
        followed.hold.mark_taken(tilt_deg)
        return said(
            "First edge kept at {angle}. Now turn the gauge about the corner onto the other edge.",
            angle=Angle(tilt_deg),
        )

    def fresh(self, now_s: float) -> Newest | None:
        """The newest indication, None when there is none or it is too old to be believed."""
        newest = self._newest
        return newest if newest is not None and now_s - newest.arrived_s <= STALE_AFTER_S else None

    def hindered(self, newest: Newest) -> Part:
        """Why a touch takes nothing now: it was taken already from this hold, or was a tilt gauge's first edge."""
        followed = self._followed.get(newest.instrument)
        if followed is None:
            return NOTHING
        if followed.tilt is not None and not followed.tilt.waits_for_second:
            return self._keep_first_edge(followed, followed.tilt, newest.indication.value)
        return NOTHING if followed.hold.armed else TAKEN_ALREADY_SAYS

    def taken(self, newest: Newest) -> None:
        """This indication became a reading or a question: its hold gives no other."""
        if followed := self._followed.get(newest.instrument):
            followed.hold.mark_taken(newest.indication.value)
            if followed.tilt is not None:
                followed.tilt.reset()

    def lost(self, instrument: str) -> None:
        """The cable of an instrument was pulled: what it said last is not live any more."""
        if followed := self._followed.get(instrument):
            followed.hold.reset()
        if self._newest is not None and self._newest.instrument == instrument:
            self._newest = None

    def seen_at(self, snapshot: Snapshot, feature: Feature | None, now_s: float) -> Live:
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


def _newest(event: IndicationArrived, indication: Indication, step: HoldStep) -> Newest:
    return Newest(
        instrument=event.instrument,
        indication=indication,
        arrived_s=event.arrived_s,
        hold_fraction=step.fraction,
    )


@lru_cache(maxsize=64)
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
