"""What a shop answers, as values: its word on what was sent, and its sessions."""

from dataclasses import dataclass

from core.records import Entry
from core.said import Said


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivered:
    """The shop has a log up to `entries`; `sent` of them were new to it."""

    entries: int
    sent: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """The shop has a log up to `entries` and does not take what follows; why."""

    entries: int
    reason: Said


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedSession:
    """A finished session of the shop, whole; `bench` is who measured it, `machine` the id of its machine (may be
    empty)."""

    id: str
    bench: str
    machine: str
    entries: tuple[Entry, ...]
