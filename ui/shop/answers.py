"""What a shop answers, as values: its word on what was sent, and its sessions."""

from msgspec import Struct

from core.records import Entry
from core.said import Said


class Delivered(Struct, frozen=True, kw_only=True):
    """The shop has a log up to `entries`; `sent` of them were new to it."""

    entries: int
    sent: int


class Refused(Struct, frozen=True, kw_only=True):
    """The shop has a log up to `entries` and does not take what follows; why."""

    entries: int
    reason: Said


class SharedSession(Struct, frozen=True, kw_only=True):
    """A finished session of the shop, whole; `bench` is who measured it, `machine` the id of its machine (may be
    empty)."""

    id: str
    bench: str
    machine: str
    entries: tuple[Entry, ...]
