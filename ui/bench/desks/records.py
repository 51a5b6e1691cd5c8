"""The records desk: looks things up in the archive for the person, and holds each closed coupon against the one before.

Input: commands and archive answers. Output: the snapshot's `RecordsSlice`, and tasks for the archive. A look-up has one
name: what it finds stands in the slice under it.
"""

import threading
from collections.abc import Callable

from msgspec.structs import replace

from core.errors import StoppedError
from core.machine import CorrectionApplied, EntryUndone, MachineEvent
from core.records import (
    ALL_SESSIONS,
    Archive,
    Closed,
    MachineQuestion,
    Session,
    SessionFilter,
    ShopState,
    Undone,
    compared,
    due_of,
    grid_state,
    history_of,
)
from core.records.shop_state import shop_state
from core.said import NOTHING, Part, paragraph, said
from ui.bench.desks.machines import ChooseMachine
from ui.bench.routing import Desk
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import (
    Begun,
    Committed,
    HeadsMended,
    LookedUp,
    LookUpStopped,
    MachineLogged,
    MachinesLoaded,
    mend_heads,
)
from ui.bench.workers.archive_thread import STORING, ArchiveOpened, ArchiveRefused, Outbox
from ui.bench.workers.inspector import RecordsInspected
from ui.state import Answer, Command, Snapshot

LAST_COUPON = said("looking up the last coupon")


class LookUp(Command, frozen=True, kw_only=True):
    """Something to be found in the archive; `find` runs in its thread with `of` behind the archive, and what it returns
    becomes the field `name` of the records slice. `what` says what it does, where it takes its time."""

    name: str
    what: Part
    find: Callable[..., object]
    of: tuple[object, ...] = ()

    def found_in(self, archive: Archive) -> object:
        """Look it up."""
        return self.find(archive, *self.of)


def look_up_history(machine: str, only: SessionFilter = ALL_SESSIONS) -> LookUp:
    """The history of a machine; `only` says which of its sessions to list."""
    return LookUp(name="history", what=said("looking up the history"), find=history_of, of=(machine, only))


def look_up_grid(machine: str, grid: str = "") -> LookUp:
    """A grid of coupons over the bed, how far it has come and its map; without a name the machine's last one."""
    return LookUp(name="grid", what=said("working out the map of the bed"), find=grid_state, of=(machine, grid))


def look_up_due(machine: str) -> LookUp:
    """When a machine is to be checked next."""
    return LookUp(name="due", what=said("working out when to check next"), find=due_of, of=(machine,))


def look_up_last_opened(machine: str) -> LookUp:
    """What was chosen for a machine's last coupon: the next one begins with it."""
    return LookUp(name="last_opened", what=LAST_COUPON, find=Archive.last_opened, of=(machine,))


def look_up_comparison(session: str) -> LookUp:
    """What a closed session proves against the one before it, or before the correction."""
    return LookUp(name="comparison", what=said("holding it against the coupons before"), find=compared, of=(session,))


def look_up_last_closed() -> LookUp:
    """The coupon that was finished last on this bench, whatever machine it is of."""
    return LookUp(name="last_closed", what=LAST_COUPON, find=Archive.last_closed)


def look_up_shop() -> LookUp:
    """How the bench stands to its shop: nobody asks the network for it."""
    return LookUp(name="shop", what=said("looking up the shop"), find=_shop_state)


def _shop_state(archive: Archive) -> ShopState:
    # By name, for two look-ups of the shop are the same wish.
    return shop_state(archive.shop)


def say_which_machine(question: MachineQuestion, *, same: bool) -> LookUp:
    """The person's answer to a question of the shop's: a machine here is that one there, or another, whatever was said
    before; and what is left to be said."""
    return LookUp(name="shop", what=STORING, find=_shop_answered, of=(question, same))


def _shop_answered(archive: Archive, question: MachineQuestion, same: bool) -> ShopState:
    """The sending service tells the shop."""
    keep = archive.shop.identify if same else archive.shop.take_apart
    keep(question.machine, question.other.id)
    return shop_state(archive.shop)


class RecordsDesk(Desk):
    """Keeps nothing: what was looked up is in the snapshot."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox
        self.takes = {
            RecordsInspected: self._inspected,
            HeadsMended: lambda draft, _mended: draft,
            LookUp: self.look_up,
            LookedUp: self._found,
            LookUpStopped: lambda draft, _stopped: told(draft, StoppedError().what),
            ArchiveOpened: self._opened,
            ArchiveRefused: lambda draft, refused: told(draft, refused.text, alarm=True),
        }
        self.hears = {
            Begun: self._begun,
            Committed: self._committed,
            MachineLogged: self._machine_logged,
            MachinesLoaded: self._loaded,
            ChooseMachine: self._machine_changed,
        }

    def look_up(self, draft: Snapshot, wanted: LookUp) -> Snapshot:
        """Have it looked up in the archive's thread."""
        stopped = threading.Event()

        def task(archive: Archive) -> Answer:
            try:
                with archive.stoppable(stopped.is_set):
                    return LookedUp(name=wanted.name, found=wanted.found_in(archive))
            except StoppedError:
                return LookUpStopped()

        self._outbox.submit(task, wanted.what, stopped.set)
        return draft

    def _inspected(self, draft: Snapshot, found: RecordsInspected) -> Snapshot:
        if found.hit:
            self._outbox.submit(mend_heads(found.hit))
        return told(draft, found.text, alarm=True) if found.text else draft

    def _found(self, draft: Snapshot, looked_up: LookedUp) -> Snapshot:
        return replace(draft, records=replace(draft.records, **{looked_up.name: looked_up.found}))

    def _opened(self, draft: Snapshot, opened: ArchiveOpened) -> Snapshot:
        # Behind what the start had to say already.
        before = draft.message.text if draft.message and draft.message.alarm else NOTHING
        return told(draft, paragraph(before, opened.notice), alarm=True) if opened.notice else draft

    def _begun(self, draft: Snapshot, begun: Begun) -> Snapshot:
        opened = Session.from_events(begun.events).opened
        if begun.seen:
            self.look_up(draft, look_up_comparison(begun.session))
            return replace(draft, records=replace(draft.records, comparison=None))
        return replace(draft, records=replace(draft.records, comparison=None, last_opened=opened))

    def _committed(self, draft: Snapshot, committed: Committed) -> Snapshot:
        if isinstance(committed.event.payload, Undone):
            return self._look_up_due(self.look_up(draft, look_up_last_closed()))
        if not isinstance(committed.event.payload, Closed):
            return draft
        if draft.evaluation is not None:
            self.look_up(draft, look_up_comparison(committed.session))
        self.look_up(draft, look_up_last_closed())
        return self._look_up_due(draft)

    def _machine_logged(self, draft: Snapshot, logged: MachineLogged) -> Snapshot:
        upset = isinstance(logged.entry.payload, CorrectionApplied | MachineEvent | EntryUndone)
        return self._look_up_due(draft) if upset else draft

    def _loaded(self, draft: Snapshot, loaded: MachinesLoaded) -> Snapshot:
        return self._machine_changed(self.look_up(self.look_up(draft, look_up_last_closed()), look_up_shop()), loaded)

    def _machine_changed(self, draft: Snapshot, _event: object) -> Snapshot:
        machine = draft.machines.current
        return self.look_up(self._look_up_due(draft), look_up_last_opened(machine.name if machine else ""))

    def _look_up_due(self, draft: Snapshot) -> Snapshot:
        """A coupon, a correction or a crash moves the day of the next check."""
        machine = draft.machines.current
        return draft if machine is None else self.look_up(draft, look_up_due(machine.name))
