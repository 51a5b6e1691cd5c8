"""What of a bench's logs its shop has not confirmed yet, and the form in which it goes there.

The outbox is no second copy: a log and its head are committed in one transaction (chained_tables.py), and beside them
stands how far the shop has confirmed that log. Whatever lies between is waiting. So nothing can be committed and be
missed, nothing is written while the bench is alone, and a mark that is lost means sent twice, never not at all.

Stage: between the archive and the sending service. Input: a log's entries as stored, and its mark. Output: a Parcel, in
order, each entry with the link of what is sent. Pure: no file, no table, no network.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from core.records import value_json
from core.records.chain import FIRST, Belief, Findings, next_link
from core.said import Name, Part, Said, said

# Taking back that a coupon was finished is offered until the next one begins; who wants it does it within this.
UNDO_PASSED = timedelta(minutes=5)
_FORKED = said("{log}: the shop has another end of it, as after an older card was put in; nothing was overwritten")
# Events that carry what people are called. Free text (notes, reasons) is sent as it was written.
_NAMING_KINDS = ("opened", "labelled")
_NAMES = ("operator", "customer")


class LogKind(StrEnum):
    """What is sent; the name is that of the archive's table."""

    SESSION = "event"
    MACHINE = "machine_event"


class Entry(Struct, frozen=True, kw_only=True):
    """One entry of a log as it is sent: the fields that its link covers, and the link (chain.py)."""

    sequence: int
    time_utc: str | None
    kind: str
    version: int
    payload: str
    chain: str


class Parcel(Struct, frozen=True, kw_only=True):
    """A log up to the entry that goes to the shop now. `log` is what the archive calls it; `confirmed` how many entries
    the shop has told of already; `damaged` that entries behind the last one cannot be read here any more."""

    kind: LogKind
    log: str
    entries: tuple[Entry, ...]
    confirmed: int = 0
    damaged: bool = False


def proven_part(entries: Sequence[Entry], found: Findings) -> tuple[Entry, ...]:
    """The entries before the first that is not what was written, or is gone: what a shop can hold against its chain."""
    proven: list[Entry] = []
    for entry, belief in zip(entries, found.beliefs, strict=True):
        if belief is not Belief.PROVEN or entry.sequence != len(proven) + 1:
            break
        proven.append(entry)
    return tuple(proven)


def as_sent(entries: Sequence[Entry], *, names: bool) -> tuple[Entry, ...]:
    """A whole log in the form in which it is sent: with the names of people, or without them and chained anew."""
    before = FIRST
    sent = []
    for entry in entries:
        kept = entry if names or entry.kind not in _NAMING_KINDS else replace(entry, payload=_unnamed(entry.payload))
        before = link_of(before, kept)
        sent.append(replace(kept, chain=before))
    return tuple(sent)


def link_of(before: str, entry: Entry) -> str:
    """The link that an entry must have behind one whose link is `before`."""
    return next_link(before, (entry.sequence, entry.time_utc, entry.kind, entry.version, entry.payload))


def first_unproven(entries: Sequence[Entry]) -> int | None:
    """The number of the first entry of a whole log that its chain does not prove; None where all of it is proven."""
    before = FIRST
    for place, entry in enumerate(entries, start=1):
        if entry.sequence != place or entry.chain != link_of(before, entry):
            return place
        before = entry.chain
    return None


def forked(log: str) -> Said:
    """What is said of a log of which the shop has another end than this bench."""
    return replace(_FORKED, parts=(("log", Name(log)),))


def is_forked(reason: Part) -> bool:
    """Whether that is, or is told in, what is said here."""
    if not isinstance(reason, Said):
        return False
    return reason.message == _FORKED.message or any(is_forked(part) for _slot, part in reason.parts)


def undo_has_passed(closed_utc: datetime | None, now: datetime | None, *, newer_session: bool) -> bool:
    """Whether a finished coupon goes to the shop. One that was finished without a clock goes once there is one, as one
    does that a wrong clock finished in the future: what is taken back later follows in order."""
    if newer_session:
        return True
    if now is None:
        return False
    return closed_utc is None or abs(now - closed_utc) >= UNDO_PASSED


def _unnamed(payload: str) -> str:
    data = value_json.load(payload)
    if not isinstance(data, dict):
        return payload
    return value_json.dump({name: "" if name in _NAMES and name in data else value for name, value in data.items()})
