"""The live desk: what the instruments say just now, and when it is meant as a reading.

Input: link events, touch and pedal. Output: the snapshot's live values; what is meant goes on to the coupon, or to the
machine desk where a gap is wanted.
"""

from collections.abc import Callable

from core.metrology import Quantity
from core.records import instrument_shown
from core.said import said
from firmware_bridge import IndicationArrived, LinkChanged, LinkState
from ui.bench.desks.cables import CableDesk
from ui.bench.desks.machines import MachineDesk
from ui.bench.desks.measuring import MeasuringDesk
from ui.bench.live import LiveFollower, plausible_for
from ui.bench.routing import Desk
from ui.bench.steps import cursor_of, told
from ui.bench.workers.cables import InstrumentJoined
from ui.state import Command, Live, Snapshot


class TakeReading(Command, frozen=True, kw_only=True):
    """Take the live indication of this quantity now (touch, pedal)."""

    quantity: Quantity


class LiveDesk(Desk):
    """Follows what each quantity's instruments say; `clock_s` is any monotonic clock in seconds."""

    def __init__(
        self, clock_s: Callable[[], float], cables: CableDesk, machines: MachineDesk, measuring: MeasuringDesk
    ) -> None:
        self._clock_s = clock_s
        self._cables = cables
        self._machines = machines
        self._measuring = measuring
        self._live = {quantity: LiveFollower(quantity) for quantity in Quantity}
        self.takes = {IndicationArrived: self._indication, TakeReading: self._take_now}
        self.hears = {InstrumentJoined: self._follow, LinkChanged: self._link_changed}

    def seen(self, draft: Snapshot) -> tuple[Live, Live]:
        """Length and corner as they are seen at this moment: they grow old without an event. What says the same is
        the same one, so that whoever shows the bench looks at nothing but what is another."""
        now_s = self._clock_s()
        length = self._live[Quantity.LENGTH].seen_at(draft, draft.next_length, now_s)
        corner = self._live[Quantity.ANGLE].seen_at(draft, draft.next_corner, now_s)
        return (
            draft.live_length if length == draft.live_length else length,
            draft.live_corner if corner == draft.live_corner else corner,
        )

    def _follow(self, draft: Snapshot, joined: InstrumentJoined) -> Snapshot:
        for follower in self._live.values():
            follower.follow(joined.settings)
        return draft

    def _link_changed(self, draft: Snapshot, event: LinkChanged) -> Snapshot:
        if event.state is LinkState.LOST:
            for follower in self._live.values():
                follower.lost(event.instrument)
        return draft

    def _indication(self, draft: Snapshot, event: IndicationArrived) -> Snapshot:
        draft = self._cables.indicated(draft, event)
        quantity = event.indication.quantity
        arrival = self._live[quantity].arrived(event, plausible_for(draft, cursor_of(draft, quantity)))
        if arrival.says:
            return told(draft, arrival.says)
        return self._propose(draft, quantity, event.arrived_s) if arrival.proposed else draft

    def _take_now(self, draft: Snapshot, wish: TakeReading) -> Snapshot:
        """Touch or pedal: the person takes what is live, and is told when nothing is."""
        quantity, now_s = wish.quantity, self._clock_s()
        newest = self._live[quantity].fresh(now_s)
        if newest is None and (asked := self._cables.ask_for(draft, quantity)):
            return told(
                draft, said("Asked the {instrument}: what it answers is taken.", instrument=instrument_shown(asked))
            )
        if newest is None:
            what = said("caliper") if quantity is Quantity.LENGTH else said("angle gauge")
            return told(
                draft, said("No live value from the {instrument}: nothing was taken.", instrument=what), alarm=True
            )
        if hindered := self._live[quantity].hindered(newest):
            return told(draft, hindered)
        return self._propose(draft, quantity, now_s)

    def _propose(self, draft: Snapshot, quantity: Quantity, now_s: float) -> Snapshot:
        """The live value is meant: it goes to the machine desk where a gap is wanted, else to the coupon."""
        newest = self._live[quantity].fresh(now_s)
        if newest is None:
            return draft
        if self._machines.wants_gap(draft, quantity):
            self._live[quantity].taken(newest)
            return self._machines.answered(draft, newest.indication.value)
        after = self._measuring.proposed(draft, newest.indication, newest.instrument)
        if after.pending != draft.pending or after.question != draft.question:
            # What was refused may be proposed again for another feature without opening the jaws.
            self._live[quantity].taken(newest)
        return after
