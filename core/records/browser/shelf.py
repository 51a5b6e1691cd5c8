"""What lies on the shelf: the newest sessions of an archive and what they say of their machines.

Input: the archive. Output: a Shelf, for the page that leads to all of them.
"""

from collections.abc import Mapping

from msgspec import Struct

from core.machine import MachineHistory
from core.records.archive import Archive
from core.records.history import SHOWN_SESSIONS, history_of
from core.records.session_tables import SessionSummary


class ChartedMachine(Struct, frozen=True, kw_only=True):
    """A machine of the page: its history, and the limit of its newest coupon's skew (None without one)."""

    name: str
    history: MachineHistory
    limit_deg: float | None


class Shelf(Struct, frozen=True, kw_only=True):
    """The sessions of an archive, newest first, and its machines; `benches` are those that measured sessions which this
    one did not."""

    sessions: tuple[SessionSummary, ...]
    machines: tuple[ChartedMachine, ...]
    benches: Mapping[str, str]


def shelf_of(archive: Archive) -> Shelf:
    """Look the newest sessions and their machines up."""
    sessions = archive.sessions(limit=SHOWN_SESSIONS)
    machines = []
    for name in dict.fromkeys(one.machine for one in sessions):
        found = history_of(archive, name)
        if found.history is not None:
            machines.append(ChartedMachine(name=name, history=found.history, limit_deg=found.no_go.skew_deg))
    benches = archive.shop.measured_at([one.id for one in sessions])
    return Shelf(sessions=sessions, machines=tuple(machines), benches=benches)
