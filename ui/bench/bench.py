"""The bench controller: the one place where threads meet.

Input: link events, commands and archive reports, from any thread, into one queue. Output: an immutable Snapshot after
each event that changed something. It has no thread of its own: whoever shows the bench (screen or text) calls `pump`.
What happens is decided by the desks: for the coupon being measured, the machines, the records, downloads, cables.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from queue import Empty, SimpleQueue

from core.machine.sound_file import Recording
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Quantity
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.instrument_settings import InstrumentSettings
from hardware.helper_client import ask_helper
from ui.bench.desks.belts import BeltDesk
from ui.bench.desks.cables import CableDesk, CablePort, NoCables
from ui.bench.desks.design import DesignDesk, DesignPort
from ui.bench.desks.download import DownloadDesk, DownloadPort
from ui.bench.desks.machines import MachineDesk
from ui.bench.desks.measuring import MeasuringDesk
from ui.bench.desks.practice import Practice, PracticeDesk
from ui.bench.desks.records import RecordsDesk
from ui.bench.desks.settings import SettingsDesk
from ui.bench.desks.update import UpdateDesk
from ui.bench.live import LiveFollower, plausible_for
from ui.bench.practice import PracticeSlice
from ui.bench.steps import cursor_of, empty_snapshot, told, with_instrument
from ui.bench.workers.archive_tasks import NotStored
from ui.bench.workers.archive_thread import ArchiveOpened, ArchiveRefused, ArchiveReport
from ui.bench.workers.belt_listener import BeltListener
from ui.bench.workers.cables import CableReport, CablesRefused, InstrumentJoined, InstrumentLeft, PortGone, PortHeard
from ui.bench.workers.downloads import DownloadMoved, DownloadReport, WaysSeen
from ui.bench.workers.microphone import record
from ui.bench.workers.outbox import ArchivePort, Outbox
from ui.bench.workers.updates import AskRoot, UpdateMoved, Updates
from ui.pages.update import UpdateSlice
from ui.state.commands import (
    AskPort,
    Command,
    ForgetInstrument,
    HandSays,
    StopHand,
    TakeReading,
    TryInstrument,
    UseInstrument,
)
from ui.state.design_state import DesignMoved, DesignPrepared, DesignsFound
from ui.state.settings import Settings, SettingsFile
from ui.state.snapshot import Message, Snapshot

BenchEvent = LinkEvent | CableReport | DownloadReport | UpdateMoved | Command | ArchiveReport


class Bench:
    """State of the bench. `clock_s` is any monotonic clock in seconds; `simulated` stamps every snapshot; `cables`
    opens links, `downloads` writes to sticks, `designs` corrects designs on them, `stop_hand` stops the simulated
    hand, `record_sound` records for some seconds, `setup` is what is known of the accuracy of this bench's
    instruments, `practice` the exercises of a simulated bench, `settings` what the person chose and `settings_file`
    where changes of it are kept, `update` what version runs here and `ask_root` who installs another one, `notice`
    something to say first."""

    def __init__(
        self,
        *,
        archive: ArchivePort,
        clock_s: Callable[[], float],
        simulated: bool = False,
        cables: CablePort | None = None,
        downloads: DownloadPort | None = None,
        designs: DesignPort | None = None,
        stop_hand: Callable[[], None] = lambda: None,
        record_sound: Callable[[int], Recording] = record,
        setup: MeasuringSetup | None = None,
        practice: Practice | None = None,
        settings: Settings | None = None,
        settings_file: SettingsFile | None = None,
        update: UpdateSlice | None = None,
        ask_root: AskRoot = ask_helper,
        notice: str = "",
    ) -> None:
        self._stop_hand = stop_hand
        self._clock_s = clock_s
        self._outbox = Outbox(archive)
        self._live = {quantity: LiveFollower(quantity) for quantity in Quantity}
        self._cables = CableDesk(cables or NoCables(), self._follow)
        self._measuring = MeasuringDesk(self._outbox, setup, self._cables.settings_of)
        self._machines = MachineDesk(self._outbox)
        self._belts = BeltDesk(self._outbox, BeltListener(self.post, record_sound))
        self._records = RecordsDesk(self._outbox)
        self._download = DownloadDesk(self._outbox, downloads)
        self._design = DesignDesk(designs)
        self._settings = SettingsDesk(self._outbox, settings_file)
        self._practice = PracticeDesk(practice, self.post)
        self._update = UpdateDesk(Updates(self.post, ask_root))
        self._desks = (
            self._measuring,
            self._machines,
            self._belts,
            self._records,
            self._download,
            self._design,
            self._settings,
            self._practice,
            self._update,
        )
        self._queue: SimpleQueue[BenchEvent] = SimpleQueue()
        self._wake: list[Callable[[], None]] = []
        empty = replace(
            empty_snapshot(simulated=simulated),
            settings=settings or Settings(),
            update=update,
            practice=PracticeSlice(total=len(practice.exercises)) if practice else None,
            design=self._design.first,
        )
        self.snapshot = told(empty, notice, alarm=True) if notice else empty

    def post(self, event: BenchEvent) -> None:
        """Put an event into the queue; from any thread, never blocks."""
        self._queue.put(event)
        for wake in self._wake:
            wake()

    send = post

    def subscribe(self, wake: Callable[[], None]) -> None:
        """Have `wake` called, from any thread, when there is something to pump."""
        self._wake.append(wake)

    def pump(self) -> Snapshot:
        """Handle everything that is waiting and return the newest snapshot; the same one when nothing changed."""
        draft = self.snapshot
        while True:
            try:
                event = self._queue.get_nowait()
            except Empty:
                break
            draft = self._handle(draft, event)
        draft = self._refreshed(draft)
        if draft != self.snapshot:
            self.snapshot = replace(draft, revision=self.snapshot.revision + 1)
        return self.snapshot

    def _handle(self, draft: Snapshot, event: BenchEvent) -> Snapshot:
        match event:
            case IndicationArrived():
                return self._indication(draft, event)
            case FaultSeen():
                return with_instrument(draft, event.instrument, faults=1, last_fault=event.fault.text)
            case LinkChanged():
                return self._link_changed(draft, event)
            case ArchiveOpened(notice=notice):
                # Behind what the start had to say already.
                before = f"{draft.message.text} " if draft.message and draft.message.alarm else ""
                return told(draft, before + notice, alarm=True) if notice else draft
            case ArchiveRefused(text=text):
                return told(draft, text, alarm=True)
            case HandSays(text=text):
                return replace(draft, hand=text)
            case StopHand():
                self._stop_hand()
                return replace(draft, hand="")
            case InstrumentJoined() | InstrumentLeft() | PortHeard() | PortGone() | CablesRefused():
                return self._cables.handle(draft, event)
            case UseInstrument() | ForgetInstrument() | AskPort() | TryInstrument():
                return self._cables.handle(draft, event)
            case WaysSeen() | DownloadMoved() | DesignsFound() | DesignPrepared() | DesignMoved():
                return self._download.handle(self._design.handle(draft, event), event)
            case UpdateMoved():
                return self._update.handle(draft, event)
            case TakeReading(quantity=quantity):
                return self._take_now(draft, quantity)
            case _:
                return self._at_the_desks(draft, event)

    def _at_the_desks(self, draft: Snapshot, event: Command | ArchiveReport) -> Snapshot:
        """A command or report goes to every desk: each takes what is its own."""
        if not isinstance(event, Command):
            self._outbox.answered()
        for desk in self._desks:
            draft = desk.handle(draft, event)
        if isinstance(event, NotStored):
            draft = told(draft, f"Not stored: {event.text}", alarm=True)
        return draft

    def _follow(self, settings: InstrumentSettings) -> None:
        for view in self._live.values():
            view.follow(settings)

    def _indication(self, draft: Snapshot, event: IndicationArrived) -> Snapshot:
        draft = self._cables.indicated(draft, event)
        quantity = event.indication.quantity
        arrival = self._live[quantity].arrived(event, plausible_for(draft, cursor_of(draft, quantity)))
        if arrival.says:
            return told(draft, arrival.says)
        return self._propose(draft, quantity, event.arrived_s) if arrival.proposed else draft

    def _take_now(self, draft: Snapshot, quantity: Quantity) -> Snapshot:
        """Touch or pedal: the person takes what is live, and is told when nothing is."""
        now_s = self._clock_s()
        newest = self._live[quantity].fresh(now_s)
        if newest is None and (asked := self._cables.ask_for(draft, quantity)):
            return told(draft, f"Asked the {asked}: what it answers is taken.")
        if newest is None:
            what = "caliper" if quantity is Quantity.LENGTH else "angle gauge"
            return told(draft, f"No live value from the {what}: nothing was taken.", alarm=True)
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
            return self._machines.gap_read(draft, newest.indication.value)
        after = self._measuring.proposed(draft, newest.indication, newest.instrument)
        if after.pending != draft.pending or after.question != draft.question:
            # What was refused may be proposed again for another feature without opening the jaws.
            self._live[quantity].taken(newest)
        return after

    def _link_changed(self, draft: Snapshot, event: LinkChanged) -> Snapshot:
        lost = event.state is LinkState.LOST
        if lost:
            for view in self._live.values():
                view.lost(event.instrument)
        draft = with_instrument(draft, event.instrument, state=event.state, text=event.text)
        return replace(draft, message=Message(text=f"{event.instrument}: {event.text}", alarm=lost))

    def _refreshed(self, draft: Snapshot) -> Snapshot:
        """What depends on the clock and on the archive's debts."""
        now_s = self._clock_s()
        length, corner = (self._live[q].view(draft, cursor_of(draft, q), now_s) for q in Quantity)
        return replace(draft, live_length=length, live_corner=corner, storing=self._outbox.waiting)
