"""The bench controller: the one place where threads meet.

Input: link events, commands and archive reports, from any thread, into one queue. Output: an immutable Snapshot after
each event that changed something. It has no thread of its own: whoever shows the bench (screen or text) calls `pump`.
What happens is decided by the desks: for the coupon being measured, the machines, the records, downloads, cables.
"""

from collections.abc import Callable, Iterable

from msgspec.structs import replace

from core.metrology import MeasuringSetup
from core.said import NOTHING, Part
from firmware_bridge import LinkEvent
from hardware import ask_helper
from ui.bench.desks.belts import BeltDesk
from ui.bench.desks.cables import CableDesk
from ui.bench.desks.design import DesignDesk
from ui.bench.desks.download import DownloadDesk
from ui.bench.desks.keeping import KeepDesk
from ui.bench.desks.live import LiveDesk
from ui.bench.desks.machines import MachineDesk
from ui.bench.desks.measuring import MeasuringDesk
from ui.bench.desks.practice import Practice, PracticeDesk
from ui.bench.desks.records import RecordsDesk
from ui.bench.desks.settings import SettingsDesk
from ui.bench.desks.shop import ShopDesk
from ui.bench.desks.update import UpdateDesk
from ui.bench.desks.witness import WitnessDesk
from ui.bench.desks.work import WorkDesk
from ui.bench.hearing import Hearing, Loudspeaker
from ui.bench.inbox import Inbox
from ui.bench.routing import routing_table
from ui.bench.steps import empty_snapshot, told
from ui.bench.supervision import LOG, Pulse, unforeseen
from ui.bench.workers.archive_thread import ArchiveThread, Outbox
from ui.bench.workers.belt_listener import BeltListener, RecordFor, record
from ui.bench.workers.cables import CablePort
from ui.bench.workers.designs import Designs
from ui.bench.workers.downloads import Downloads
from ui.bench.workers.keeping import Keeping
from ui.bench.workers.shop_files import ShopFiles
from ui.bench.workers.updates import AskRoot, Updates
from ui.state import Answer, Command, PracticeSlice, Report, Settings, SettingsFile, Snapshot, Undoable, UpdateSlice

# Enough for every instrument's newest and some commands; the rest waits for the next frame.
PER_PUMP = 64
# Long enough to see what one did, short enough that nobody takes back what is meanwhile relied on; common practice.
UNDO_S = 10.0

BenchEvent = LinkEvent | Command | Report


class Bench:
    """State of the bench. `clock_s` is any monotonic clock in seconds; `simulated` stamps every snapshot; `cables`
    opens links, `downloads` writes to sticks, `designs` corrects designs on them, `keeping` saves the whole bench on
    them, `shop` joins a shop by a file on one, `stop_hand` stops the simulated hand, `record_sound` records for some
    seconds, `setup` is what is known of the accuracy of this bench's instruments, `practice` the exercises of a
    simulated bench, `settings` what the person chose and `settings_file` where changes of it are kept, `update` what
    version runs here and `ask_root` who installs another one, `notice` something to say first, `pulses` those of the
    workers that must live, `loudspeaker` who sounds what is to be heard."""

    def __init__(
        self,
        *,
        archive: ArchiveThread,
        clock_s: Callable[[], float],
        simulated: bool = False,
        cables: CablePort | None = None,
        downloads: Downloads | None = None,
        designs: Designs | None = None,
        keeping: Keeping | None = None,
        shop: ShopFiles | None = None,
        stop_hand: Callable[[], None] = lambda: None,
        record_sound: RecordFor = record,
        setup: MeasuringSetup | None = None,
        practice: Practice | None = None,
        settings: Settings | None = None,
        settings_file: SettingsFile | None = None,
        update: UpdateSlice | None = None,
        ask_root: AskRoot = ask_helper,
        notice: Part = NOTHING,
        pulses: Iterable[Pulse] = (),
        loudspeaker: Loudspeaker | None = None,
    ) -> None:
        self._hearing = Hearing(loudspeaker, clock_s) if loudspeaker else None
        self._pulses = tuple(pulses)
        self._clock_s = clock_s
        self._undo: Undoable | None = None
        self._undo_since_s = 0.0
        self._outbox = Outbox(archive)
        cable_desk = CableDesk(cables or CablePort())
        measuring = MeasuringDesk(self._outbox, setup, cable_desk.settings_of)
        machines = MachineDesk(self._outbox)
        design_desk = DesignDesk(designs)
        records = RecordsDesk(self._outbox)
        self._live = LiveDesk(clock_s, cable_desk, machines, measuring)
        self._work = WorkDesk(clock_s, self._outbox)
        self._routes = routing_table(
            (
                measuring,
                cable_desk,
                self._live,
                machines,
                BeltDesk(self._outbox, BeltListener(self.post, record_sound)),
                records,
                DownloadDesk(self._outbox, downloads),
                KeepDesk(keeping),
                ShopDesk(shop, records),
                design_desk,
                SettingsDesk(self._outbox, settings_file),
                PracticeDesk(practice, self.post, stop_hand),
                WitnessDesk(self._outbox),
                self._work,
                UpdateDesk(Updates(self.post, ask_root)),
            )
        )
        self._inbox: Inbox[BenchEvent] = Inbox()
        self._wake: list[Callable[[], None]] = []
        empty = replace(
            empty_snapshot(simulated=simulated),
            settings=settings or Settings(),
            update=update,
            practice=PracticeSlice(total=len(practice.exercises)) if practice else None,
            design=design_desk.first,
        )
        self.snapshot = told(empty, notice, alarm=True) if notice else empty

    def post(self, event: BenchEvent) -> None:
        """Put an event into the queue; from any thread, never blocks. Raises TypeError for one that has no address."""
        if type(event) not in self._routes:
            raise TypeError(f"{type(event).__name__} has no address on the bench")
        self._inbox.put(event)
        for wake in self._wake:
            wake()

    send = post

    def workers_answer(self) -> bool:
        """Whether archive and cables still get on; work that takes long does."""
        return all(pulse.is_alive() for pulse in self._pulses)

    def subscribe(self, wake: Callable[[], None]) -> None:
        """Have `wake` called, from any thread, when there is something to pump."""
        self._wake.append(wake)

    def pump(self) -> Snapshot:
        """Handle what is waiting and return the newest snapshot; the same one when nothing changed.

        At most PER_PUMP events, so that whoever shows the bench keeps its rate; what is left wakes it again.
        """
        draft = self.snapshot
        for event in self._inbox.take(PER_PUMP):
            draft = self._guarded(draft, event)
        if self._inbox:
            for wake in self._wake:
                wake()
        # What depends on the clock, and on the archive's debts.
        storing, undo = self._outbox.waiting, self._still_undoable(draft.undo)
        draft = self._work.refreshed(draft)
        length, corner = self._live.seen(draft)
        now = {"live_length": length, "live_corner": corner, "storing": storing, "undo": undo}
        if draft != self.snapshot or any(getattr(draft, name) is not value for name, value in now.items()):
            before, self.snapshot = self.snapshot, replace(draft, **now, revision=self.snapshot.revision + 1)
            if self._hearing is not None:
                self._hearing.follow(before, self.snapshot)
        return self.snapshot

    def _still_undoable(self, undo: Undoable | None) -> Undoable | None:
        """What was done last can be taken back for so long."""
        if undo is not self._undo:
            self._undo, self._undo_since_s = undo, self._clock_s()
        return undo if self._clock_s() - self._undo_since_s < UNDO_S else None

    def _guarded(self, draft: Snapshot, event: BenchEvent) -> Snapshot:
        """One event; where a desk fails at it, the bench stands as before it and says so."""
        try:
            return self._handle(draft, event)
        except Exception as error:
            LOG.exception("unforeseen at the bench, by %s", type(event).__name__)
            return told(draft, unforeseen("bench", error), alarm=True)

    def _handle(self, draft: Snapshot, event: BenchEvent) -> Snapshot:
        if isinstance(event, Answer):
            self._outbox.answered()
        for step in self._routes[type(event)]:
            draft = step(draft, event)
        return draft
