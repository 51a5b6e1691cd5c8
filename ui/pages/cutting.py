"""What comes before cutting a coupon: its cautions, one at a time.

Stage: screen. Input: Snapshot, how many were read. Output: CuttingPage. No widget in here.
"""

from msgspec import Struct

from core.machine import Caution, cautions_of_cutting
from core.said import Part, Said, said
from ui.state import Snapshot

# Through leaves or steps, one at a time.
BEFORE, NEXT = TURNS = ("before", "next")
READ = "read"


class CuttingPage(Struct, frozen=True, kw_only=True):
    """One caution, which of how many it is, and where to go from it as (name, words)."""

    caution: Caution
    which: Said
    choices: tuple[tuple[str, Part], ...]


def cutting_page(snapshot: Snapshot, read: int = 0) -> CuttingPage:
    """The caution that comes after so many; all of them in turn are what is said before cutting on this machine."""
    cautions = cautions_of_cutting(snapshot.machines.current)
    return CuttingPage(
        caution=cautions[read],
        which=said("{number} of {total}", number=read + 1, total=len(cautions)),
        choices=turning(read, len(cautions), READ),
    )


def turning(leaf: int, total: int, done: str) -> tuple[tuple[str, Part], ...]:
    """What may be touched at this leaf of so many that are read in turn; `done` names the way on after the last."""
    back: tuple[tuple[str, Part], ...] = ((BEFORE, said("Step back")),) if leaf else ()
    on: tuple[str, Part] = (NEXT, said("Next")) if leaf + 1 < total else (done, said("All read"))
    return (*back, on)
