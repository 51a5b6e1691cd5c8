"""What the bench asks of the archive, and the reports that answer.

A task is a function of the archive, run in the archive's thread; it returns exactly one report.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress

from msgspec.structs import replace

from core.errors import BadInputError, StorageError
from core.machine import LogEntry, LogPayload, MachineProfile
from core.records import (
    Archive,
    Event,
    HitLog,
    InstrumentBook,
    Opened,
    Payload,
    QuestionAnswered,
    Session,
    SessionRecord,
    UsedInstrument,
    reported_record,
)
from core.said import Name, Part, said
from ui.state import Answer, DownloadWay, Settings, SettingsFile


class Begun(Answer, frozen=True, kw_only=True):
    """A session is on the disk with its first event; or was found unfinished (`resumed`) or finished (`seen`), with all
    its events."""

    session: str
    events: tuple[Event, ...]
    resumed: bool = False
    seen: bool = False
    book: InstrumentBook | None = None


class NothingOpen(Answer, frozen=True, kw_only=True):
    """There is no session to go on with; the instruments on record all the same."""

    book: InstrumentBook | None = None


class Committed(Answer, frozen=True, kw_only=True):
    """An event of a session is on the disk; `book` where it changed what is on record of the instruments."""

    session: str
    event: Event
    book: InstrumentBook | None = None


class MachinesLoaded(Answer, frozen=True, kw_only=True):
    """Every machine's profile, the last one used first, and the log of each."""

    profiles: tuple[MachineProfile, ...]
    logs: tuple[tuple[LogEntry, ...], ...]
    saved: str = ""  # the name of a profile that was just stored


class MachineLogged(Answer, frozen=True, kw_only=True):
    """An entry of a machine's log is on the disk."""

    machine: str
    entry: LogEntry


class NotStored(Answer, frozen=True, kw_only=True):
    """A task could not be done and nothing of it counts; `text` says why."""

    text: Part


class LookedUp(Answer, frozen=True, kw_only=True, eq=False):
    """What was found in the archive, for the field of this name in the records slice."""

    name: str
    found: object


class LookUpStopped(Answer, frozen=True, kw_only=True):
    """The person did not want to wait for it."""


class RecordForDownload(Answer, frozen=True, kw_only=True, eq=False):
    """One session with its judgement, to be given away."""

    record: SessionRecord
    way: DownloadWay


class HeadsMended(Answer, frozen=True, kw_only=True):
    """What an inspection found and could be written again is."""


class SettingsKept(Answer, frozen=True, kw_only=True):
    """The settings are on the disk."""


ArchiveTask = Callable[[Archive], Answer]


def begin(opened: Opened, identities: Mapping[str, str]) -> ArchiveTask:
    """Store a new session's first event, with what earlier coupons taught of the hand and today's checks of zeros."""

    def task(archive: Archive) -> Answer:
        carried = archive.carried_on(operator=opened.operator, simulated=opened.simulated)
        carried = carried.for_bench(opened.instruments, identities)
        setup = replace(opened.setup, hands=carried.hands)
        session = archive.begin(replace(opened, setup=setup, checks=carried.checks))
        book = archive.instrument_book(simulated=opened.simulated, on_bench=True)
        return Begun(session=session, events=archive.events(session), book=book)

    return task


def append(
    session: str, payload: Payload, *, used: UsedInstrument | None = None, simulated: bool | None = None
) -> ArchiveTask:
    """Store one event of a session, before it what the instrument is that was `used` for it; with `simulated` given,
    look up what is on record of instruments then."""

    def task(archive: Archive) -> Answer:
        if used is not None:
            archive.note_instrument(used)
        event = archive.append(session, payload)
        book = None if simulated is None else archive.instrument_book(simulated=simulated, on_bench=True)
        return Committed(session=session, event=event, book=book)

    return task


def append_change(change: QuestionAnswered, *, simulated: bool) -> ArchiveTask:
    """Store what happened to an instrument while no coupon was open, with the newest one of this bench."""

    def task(archive: Archive) -> Answer:
        session = archive.newest_of_bench(simulated=simulated)
        book = archive.instrument_book(simulated=simulated, on_bench=False)
        if session is None:
            return NothingOpen(book=book)  # nothing was checked yet: no zero is known anyhow
        return Committed(session=session, event=archive.append(session, change), book=book)

    return task


def resume(archive: Archive) -> Answer:
    """Look for a session that was not closed."""
    session = archive.unfinished()
    if session is None:
        hands = archive.carried_on(operator="", simulated=False).hands
        return NothingOpen(book=replace(archive.instrument_book(simulated=False, on_bench=False), hands=hands))
    events = archive.events(session)
    simulated = Session.from_events(events).opened.simulated
    book = archive.instrument_book(simulated=simulated, on_bench=True)
    return Begun(session=session, events=events, resumed=True, book=book)


def see(session: str) -> ArchiveTask:
    """Look a finished coupon up, to be seen again; raises BadInputError where there is none."""

    def task(archive: Archive) -> Answer:
        events = archive.events(session)
        found = Session.from_events(events) if events else None
        if found is None or found.closed is None:
            raise BadInputError(said("there is no finished coupon {session} in the archive", session=Name(session)))
        book = archive.instrument_book(simulated=found.opened.simulated, on_bench=True)
        return Begun(session=session, events=events, seen=True, book=book)

    return task


def load_machines(archive: Archive, saved: str = "") -> MachinesLoaded:
    """Look up all machine profiles and their logs; `saved` is the name of one that was just stored."""
    profiles = archive.machines()
    logs = tuple(archive.machine_events(profile.name) for profile in profiles)
    return MachinesLoaded(profiles=profiles, logs=logs, saved=saved)


def save_machine(profile: MachineProfile) -> ArchiveTask:
    """Store a machine profile, new or changed."""

    def task(archive: Archive) -> Answer:
        archive.save_machine(profile)
        return load_machines(archive, saved=profile.name)

    return task


def log_on_machine(machine: str, payload: LogPayload) -> ArchiveTask:
    """Store one entry of a machine's log."""
    return lambda archive: MachineLogged(machine=machine, entry=archive.append_machine_event(machine, payload))


def keep_settings(file: SettingsFile, settings: Settings) -> ArchiveTask:
    """Store the settings: beside the archive, by the thread that may wait for the disk."""

    def task(_archive: Archive) -> Answer:
        file.save(settings)
        return SettingsKept()

    return task


def mend_heads(hit: tuple[HitLog, ...]) -> ArchiveTask:
    """Write again what an inspection has found hit without loss; a card that refuses it will be told of again."""

    def task(archive: Archive) -> Answer:
        with suppress(StorageError):
            archive.mend_heads(hit)
        return HeadsMended()

    return task


def load_for_download(session: str, way: DownloadWay) -> ArchiveTask:
    """Look up one session to download it."""
    return lambda archive: RecordForDownload(record=reported_record(archive, session), way=way)
