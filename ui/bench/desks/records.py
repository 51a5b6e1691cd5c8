"""The records desk: looks things up in the archive for the person, and holds each closed coupon against the one before.

Input: commands and archive answers. Output: the snapshot's `RecordsSlice`, and tasks for the archive. A look-up has one
name: what it finds stands in the slice under it.
"""

import threading
from dataclasses import dataclass, replace
from typing import ClassVar

from core.errors import StoppedError
from core.machine import BeforeAfter, CorrectionApplied, EntryUndone, MachineEvent
from core.records import (
    ALL_SESSIONS,
    Archive,
    Closed,
    Due,
    GridState,
    History,
    MachineQuestion,
    Opened,
    Session,
    SessionFilter,
    SessionSummary,
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


class LookUp(Command):
    """Something to be found in the archive; `find` runs in its thread, and what it returns becomes the field `name` of
    the records slice. `what` says what it does, where it takes its time."""

    __slots__ = ()
    name: ClassVar[str]
    what: ClassVar[Part]

    def find(self, archive: Archive) -> object:
        """Look it up."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, kw_only=True)
class LookUpHistory(LookUp):
    """The history of a machine; `only` says which of its sessions to list."""

    name = "history"
    what = said("looking up the history")
    machine: str
    only: SessionFilter = ALL_SESSIONS

    def find(self, archive: Archive) -> History:
        """Its newest sessions, and what they say of it."""
        return history_of(archive, self.machine, self.only)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookUpGrid(LookUp):
    """A grid of coupons over the bed; without a name the machine's last one."""

    name = "grid"
    what = said("working out the map of the bed")
    machine: str
    grid: str = ""

    def find(self, archive: Archive) -> GridState:
        """How far it has come, and its map."""
        return grid_state(archive, self.machine, self.grid)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookUpDue(LookUp):
    """When a machine is to be checked next."""

    name = "due"
    what = said("working out when to check next")
    machine: str

    def find(self, archive: Archive) -> Due:
        """The sentence that says it."""
        return due_of(archive, self.machine)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookUpLastOpened(LookUp):
    """What was chosen for a machine's last coupon: the next one begins with it."""

    name = "last_opened"
    what = LAST_COUPON
    machine: str

    def find(self, archive: Archive) -> Opened | None:
        """Its first event; None before the first coupon."""
        return archive.last_opened(self.machine)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookUpComparison(LookUp):
    """A closed session against the one before it, or before the correction."""

    name = "comparison"
    what = said("holding it against the coupons before")
    session: str

    def find(self, archive: Archive) -> BeforeAfter | None:
        """What it proves; None where there is nothing to compare with."""
        return compared(archive, self.session)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookUpLastClosed(LookUp):
    """The coupon that was finished last on this bench, whatever machine it is of."""

    name = "last_closed"
    what = LAST_COUPON

    def find(self, archive: Archive) -> SessionSummary | None:
        """Its line in the list; None before the first."""
        return archive.last_closed()


@dataclass(frozen=True, slots=True, kw_only=True)
class LookUpShop(LookUp):
    """How the bench stands to its shop: nobody asks the network for it."""

    name = "shop"
    what = said("looking up the shop")

    def find(self, archive: Archive) -> ShopState:
        """As it is in the archive now."""
        return shop_state(archive.shop)


@dataclass(frozen=True, slots=True, kw_only=True)
class SayWhichMachine(LookUp):
    """The person's answer to a question of the shop's: a machine here is that one there, or another, whatever was said
    before; and what is left to be said."""

    name = "shop"
    what = STORING
    question: MachineQuestion
    same: bool

    def find(self, archive: Archive) -> ShopState:
        """Keep the answer: the sending service tells the shop."""
        machine, other = self.question.machine, self.question.other.id
        if self.same:
            archive.shop.identify(machine, other)
        else:
            archive.shop.take_apart(machine, other)
        return shop_state(archive.shop)


_LOOK_UPS = (
    LookUpHistory,
    LookUpGrid,
    LookUpDue,
    LookUpLastOpened,
    LookUpLastClosed,
    LookUpComparison,
    LookUpShop,
    SayWhichMachine,
)


class RecordsDesk(Desk):
    """Keeps nothing: what was looked up is in the snapshot."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox
        self.takes = {
            RecordsInspected: self._inspected,
            HeadsMended: lambda draft, _mended: draft,
            **dict.fromkeys(_LOOK_UPS, self.look_up),
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
                    return LookedUp(name=wanted.name, found=wanted.find(archive))
            except StoppedError:
                return LookUpStopped()

        self._outbox.submit(task, wanted.what, stopped.set)
        return draft

    def _inspected(self, draft: Snapshot, found: RecordsInspected) -> Snapshot:
        if found.hit:
            self._outbox.submit(mend_heads(found.hit))
        return told(draft, found.text, alarm=True) if found.text else draft

    def _found(self, draft: Snapshot, looked_up: LookedUp) -> Snapshot:
        return replace(draft, records=replace(draft.records, **{looked_up.name: looked_up.found}))  # type: ignore[arg-type]

    def _opened(self, draft: Snapshot, opened: ArchiveOpened) -> Snapshot:
        # Behind what the start had to say already.
        before = draft.message.text if draft.message and draft.message.alarm else NOTHING
        return told(draft, paragraph(before, opened.notice), alarm=True) if opened.notice else draft

    def _begun(self, draft: Snapshot, begun: Begun) -> Snapshot:
        opened = Session.from_events(begun.events).opened
        if begun.seen:
            self.look_up(draft, LookUpComparison(session=begun.session))
            return replace(draft, records=replace(draft.records, comparison=None))
        return replace(draft, records=replace(draft.records, comparison=None, last_opened=opened))

    def _committed(self, draft: Snapshot, committed: Committed) -> Snapshot:
        if isinstance(committed.event.payload, Undone):
            return self._look_up_due(self.look_up(draft, LookUpLastClosed()))
        if not isinstance(committed.event.payload, Closed):
            return draft
        if draft.evaluation is not None:
            self.look_up(draft, LookUpComparison(session=committed.session))
        self.look_up(draft, LookUpLastClosed())
        return self._look_up_due(draft)

    def _machine_logged(self, draft: Snapshot, logged: MachineLogged) -> Snapshot:
        upset = isinstance(logged.entry.payload, CorrectionApplied | MachineEvent | EntryUndone)
        return self._look_up_due(draft) if upset else draft

    def _loaded(self, draft: Snapshot, loaded: MachinesLoaded) -> Snapshot:
        return self._machine_changed(self.look_up(self.look_up(draft, LookUpLastClosed()), LookUpShop()), loaded)

    def _machine_changed(self, draft: Snapshot, _event: object) -> Snapshot:
        machine = draft.machines.current
        return self.look_up(self._look_up_due(draft), LookUpLastOpened(machine=machine.name if machine else ""))

    def _look_up_due(self, draft: Snapshot) -> Snapshot:
        """A coupon, a correction or a crash moves the day of the next check."""
        machine = draft.machines.current
        return draft if machine is None else self.look_up(draft, LookUpDue(machine=machine.name))
