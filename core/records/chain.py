"""The chain of checksums through a log: every entry vouches for all before it, so that none changes or goes unseen.

Stage: under the archive and session.json. Input: the entries of one log in their order, and its head (how many there
are and the last link, kept elsewhere). Output: what is to be believed of each. Pure: no file, no table.

A link is SHA-256 over the link before it and the entry's own fields, cut to 128 bits: it tells damage, not forgery.
"""

import json
from collections.abc import Sequence
from enum import StrEnum

from msgspec import Struct

from core.records.digest import sha256

FIRST = ""
_LINK_LETTERS = 32

Field = str | int | float | None


class Belief(StrEnum):
    """What the chain says of one entry."""

    PROVEN = "proven"
    UNPROVEN = "unproven"  # by software that knew no chain, or behind a gap: nothing speaks against it
    DAMAGED = "damaged"


class Link(Struct, frozen=True, kw_only=True):
    """An entry as stored: its number in the log, counted from 1, its fields, and its link; None where it has none."""

    number: int
    fields: tuple[Field, ...]
    chain: str | None


class Head(Struct, frozen=True, kw_only=True):
    """The end of a log, kept apart from it."""

    entries: int
    chain: str


class Findings(Struct, frozen=True, kw_only=True):
    """What a whole log amounts to: a belief for each entry that is there, in its order, the numbers of those that are
    missing, and whether a checksum alone was hit, of an entry or of the head, so that nothing was lost."""

    beliefs: tuple[Belief, ...]
    missing: tuple[int, ...] = ()
    checksum_hit: bool = False

    @property
    def whole(self) -> bool:
        """Nothing is damaged, missing, or hit."""
        return not self.missing and not self.checksum_hit and Belief.DAMAGED not in self.beliefs


def next_link(before: str, fields: Sequence[Field]) -> str:
    """The link of an entry behind one whose link is `before` (FIRST for the first of a log)."""
    plain = [int(field) if isinstance(field, bool) else field for field in fields]  # as SQLite keeps it
    text = json.dumps([before, *plain], ensure_ascii=True, separators=(",", ":"))
    return sha256(text.encode("ascii")).hexdigest()[:_LINK_LETTERS]


def examine(links: Sequence[Link], head: Head | None) -> Findings:
    """Hold every entry against the chain; `links` are in the order of their numbers, `head` None where it is lost."""
    beliefs: list[Belief] = []
    missing: list[int] = []
    hit = head is None and bool(links)
    before, expected = FIRST, 1
    for place, link in enumerate(links):
        gap = link.number > expected
        missing += range(expected, min(link.number, expected + _LONGEST_GAP))
        expected = link.number + 1
        if link.chain is None or gap:
            # Without a link it stands outside of the chain. Behind a gap, what follows is held against the stored one.
            beliefs.append(Belief.UNPROVEN)
            before = link.chain or before
            continue
        own = next_link(before, link.fields)
        if own == link.chain:
            beliefs.append(Belief.PROVEN)
        elif _vouched_for(own, links, place, head):
            # The next link is right for these fields, so the flipped bit is in the checksum.
            beliefs.append(Belief.PROVEN)
            hit = True
        else:
            beliefs.append(Belief.DAMAGED)
            own = link.chain
        before = own
    if head is not None and before != head.chain:
        lost = range(expected, min(head.entries + 1, expected + _LONGEST_GAP))
        missing += lost
        hit = hit or not lost
    elif head is not None and head.entries != expected - 1:
        hit = hit or all(link.chain is not None for link in links)
    return Findings(beliefs=tuple(beliefs), missing=tuple(missing), checksum_hit=hit)


# A flipped bit in a number makes no list of millions.
_LONGEST_GAP = 1_000


def _vouched_for(own: str, links: Sequence[Link], place: int, head: Head | None) -> bool:
    if place + 1 < len(links):
        following = links[place + 1]
        return following.number == links[place].number + 1 and next_link(own, following.fields) == following.chain
    return head is not None and head.chain == own
