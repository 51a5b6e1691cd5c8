"""The coupons of one grid: sessions that name the same grid on the same machine, one for each place on the bed.

Input: the archive and the grid's name. Output: what they have in common and what is local. A place measured again
counts with its newest coupon.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.geometry.stroke_digits import LETTERS
from core.machine.bed_map import FEWEST_PLACES, BedMap, Place, bed_map
from core.metrology.adjustment import Estimate
from core.metrology.evaluation import Evaluation
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.session import Session

_PLACE = re.compile(rf"^([{LETTERS}])([1-9][0-9]?)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class GridMap:
    """A grid: its machine, its coupon, the sessions behind its places (in the order of `places`), and the map."""

    grid: str
    machine: str
    coupon: Coupon
    sessions: tuple[str, ...]
    places: tuple[Place, ...]
    bed: BedMap
    simulated: bool


def cell_of(place: str) -> tuple[int, int]:
    """Column from the left and row from the operator, from 0, of a place such as B3; raises BadInputError."""
    found = _PLACE.match(place)
    if not found:
        raise BadInputError(f"place {place!r}: it must be a letter from A to {LETTERS[-1]} and a number, such as B3")
    return LETTERS.index(found[1]), int(found[2]) - 1


def grid_map(archive: Archive, grid: str) -> GridMap:
    """Map the newest machine's grid of this name; raises BadInputError when too few of its coupons are closed."""
    found: dict[str, tuple[str, Session]] = {}
    for summary in reversed(archive.grid(grid)):
        if summary.closed:
            session = Session.from_events(archive.events(summary.id))
            opened = session.opened
            newest = next(iter(found.values()), (summary.id, session))[1].opened
            if (opened.machine, opened.coupon) == (newest.machine, newest.coupon):
                found.setdefault(opened.place, (summary.id, session))
    if not found:
        raise BadInputError(f"there is no grid {grid!r} among the closed sessions")
    usable = {}
    for place in sorted(found, key=cell_of):
        name, session = found[place]
        if session.active and session.mark_confirmed:
            evaluation = archived_record(archive, name).evaluation
            if _trustworthy(evaluation):
                usable[place] = (name, evaluation.adjustment.skew_deg)
    opened = next(iter(found.values()))[1].opened
    places = tuple(_place(place, opened.coupon, skew_deg) for place, (_, skew_deg) in usable.items())
    if len(places) < FEWEST_PLACES:
        raise BadInputError(
            f"grid {grid!r}: {len(places)} coupons can be used and {FEWEST_PLACES} are needed; they must be closed, "
            "cross-checked, and their mark confirmed"
        )
    profiles = {profile.name: profile for profile in archive.machines()}
    axis = {"gantry_axis": profiles[opened.machine].gantry_axis} if opened.machine in profiles else {}
    return GridMap(
        grid=grid,
        machine=opened.machine,
        coupon=opened.coupon,
        sessions=tuple(name for name, _ in usable.values()),
        places=places,
        bed=bed_map(places, **axis),
        simulated=opened.simulated,
    )


def _trustworthy(evaluation: Evaluation) -> bool:
    return evaluation.adjustment.consistent and not evaluation.sign_open and evaluation.cross_checked


def _place(name: str, coupon: Coupon, skew_deg: Estimate) -> Place:
    """Cells stand a coupon apart; how far exactly does not matter to what the map says."""
    column, row = cell_of(name)
    return Place(name=name, x_mm=column * coupon.width_mm, y_mm=row * coupon.height_mm, skew_deg=skew_deg)
