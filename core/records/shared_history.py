"""What other benches of the shop recorded of a machine: checked, and put where this bench's own history is.

Input: entries as the shop has them. Output: sessions in the archive, marked as measured elsewhere, in the history of
the machine that they were measured on; lines of other benches' machine logs beside this bench's own. A profile, kept
gaps and a hand are never made of them.
"""

from collections.abc import Sequence
from itertools import groupby

from core.errors import BadInputError
from core.records import events_json
from core.records.archive import Archive
from core.records.events import Event
from core.records.foreign_session import check_session
from core.records.machine_tables import is_readable
from core.records.outbox import Entry, LogKind, first_unproven
from core.records.payload_kinds import EncodedPayload
from core.records.session_json import MAX_EVENTS
from core.records.shop_records import SharedEntry
from core.records.value_json import parse_time
from core.said import said

TOO_LARGE_TO_READ = said("it is too large to be read from the shop")


def take_session(
    archive: Archive, session_id: str, entries: Sequence[Entry], machine: str | None, *, bench: str
) -> bool:
    """Store a session that `bench` (its id in the shop) measured on `machine`, as it is called here (None: as it is
    called there); False when all of it is here.

    Raises BadInputError for what was not fetched (no entries), does not verify, is no session, or contradicts one that
    is here."""
    if not entries:
        raise BadInputError(TOO_LARGE_TO_READ)
    if len(entries) > MAX_EVENTS:
        raise BadInputError(said("a session of more than {limit} events is not read", limit=MAX_EVENTS))
    wrong = first_unproven(entries)
    if wrong is not None:
        raise BadInputError(said("event {number}: it is not what was written", number=wrong))
    # Held against its chain above as it came; written again by this version, its fields may be more.
    foreign = check_session(session_id, tuple(_event(entry) for entry in entries))
    taken = archive.take_over(foreign.id, foreign.events, machine=machine)
    archive.shop.keep_measured_at(foreign.id, bench)
    return taken


def keep_logs(archive: Archive, machine: str, entries: Sequence[SharedEntry]) -> None:
    """Keep what other benches logged of a machine, each log as far as it verifies and can be read.

    Equal links stand for equal logs up to there: what this bench logged itself, under an id before, is not kept again.
    """
    own = archive.shop.parcel(LogKind.MACHINE, machine, names=True).entries
    known = {entry.chain for entry in own}
    kept: list[SharedEntry] = []
    for _log, group in groupby(entries, key=lambda one: (one.bench, one.log)):
        log = list(group)
        wrong = first_unproven([one.entry for one in log])
        proven = log if wrong is None else log[: wrong - 1]
        for one in proven:
            if one.entry.chain not in known and is_readable(one.entry.kind, one.entry.version, one.entry.payload):
                known.add(one.entry.chain)
                kept.append(one)
    archive.shop.keep_shared(machine, kept)


def _event(entry: Entry) -> Event:
    encoded = EncodedPayload(kind=entry.kind, version=entry.version, text=entry.payload)
    time = parse_time(entry.time_utc) if entry.time_utc else None
    payload = events_json.decode(encoded)
    return Event(sequence=entry.sequence, time_utc=time, payload=payload, written=encoded)
