"""The coupons of one grid: sessions that name the same grid on the same machine, one for each place on the bed.

Input: the archive and the grid's name. Output: what they have in common and what is local. A place measured again
counts with its newest coupon.
"""

import re
from collections.abc import Sequence

from msgspec import Struct

from core.errors import BadInputError
from core.geometry import LETTERS, Coupon, Feature
from core.machine import FEWEST_PLACES, BedMap, Place
from core.machine.bed_map import bed_map
from core.metrology import Estimate, held_by_readings, live_limit
from core.records.archive import Archive
from core.records.session import Session
from core.records.session_tables import SessionSummary
from core.said import Name, Part, Said, said

_NONE_YET = said("No grid was measured on this machine yet: cut coupons over the bed, and begin one in New coupon.")
_PLACE = re.compile(rf"^([{LETTERS}])([1-9][0-9]?)$")


class GridMap(Struct, frozen=True, kw_only=True):
    """A grid: its machine, its coupon, the sessions behind its places (in the order of `places`), and the map;
    `limit_deg` is what is no-go of a skew on its newest coupon, None without a limit."""

    grid: str
    machine: str
    coupon: Coupon
    sessions: tuple[str, ...]
    places: tuple[Place, ...]
    bed: BedMap
    simulated: bool
    limit_deg: float | None = None


class GridState(Struct, frozen=True, kw_only=True):
    """A grid being measured. `known` are the machine's grids, the last measured first, `fresh` a name for a new one;
    `measured` the newest closed session of each place; `map` is None while too few can be used, and `text` says why."""

    machine: str
    grid: str
    known: tuple[str, ...]
    fresh: str
    measured: dict[str, SessionSummary]
    map: GridMap | None
    text: Part


def cell_of(place: str) -> tuple[int, int]:
    """Column from the left and row from the operator, from 0, of a place such as B3; raises BadInputError."""
    found = _PLACE.match(place)
    if not found:
        raise BadInputError(
            said(
                "place {place}: it must be a letter from A to {letters} and a number, such as B3",
                place=Name(repr(place)),
                letters=Name(LETTERS[-1]),
            )
        )
    return LETTERS.index(found[1]), int(found[2]) - 1


def too_few_places(grid: str, places: int) -> Said:
    """Why a grid has no map yet."""
    return said(
        "grid {grid}: {places} coupons can be used and {fewest_places} are needed; they must be closed, with both "
        "diagonals read twice, and their mark confirmed",
        grid=Name(repr(grid)),
        places=places,
        fewest_places=FEWEST_PLACES,
    )


def grid_map(archive: Archive, grid: str) -> GridMap:
    """Map the newest machine's grid of this name; raises BadInputError when too few of its coupons are closed."""
    found = newest_at_places(archive, grid)
    if not found:
        raise BadInputError(said("there is no grid {grid} among the closed sessions", grid=Name(repr(grid))))
    usable = {}
    for place, summary in found.items():
        name = summary.id
        if archive.opened(name) is None:
            continue  # damaged on the card
        session = Session.from_events(archive.events(name))
        if session.mark_confirmed:
            evaluation = session.evaluation()
            if evaluation is None or held_by_readings(evaluation) is not None:
                continue
            if (skew_deg := evaluation.told_skew_deg) is not None:
                usable[place] = (name, skew_deg)
    one = max(found.values(), key=lambda summary: summary.id)
    opened = archive.opened(one.id)
    places = tuple(_place(place, one.coupon, skew_deg) for place, (_, skew_deg) in usable.items())
    if len(places) < FEWEST_PLACES:
        raise BadInputError(too_few_places(grid, len(places)))
    profiles = {profile.name: profile for profile in archive.machines()}
    axis = {"gantry_axis": profiles[one.machine].gantry_axis} if one.machine in profiles else {}
    return GridMap(
        grid=grid,
        machine=one.machine,
        coupon=one.coupon,
        sessions=tuple(name for name, _ in usable.values()),
        places=places,
        bed=bed_map(places, **axis),
        simulated=one.simulated,
        limit_deg=None if opened is None else live_limit(opened.coupon, opened.limits, Feature.NL),
    )


def newest_at_places(archive: Archive, grid: str) -> dict[str, SessionSummary]:
    """The newest closed session of every place, of the machine and the coupon that the grid was measured on last."""
    closed = [summary for summary in reversed(archive.grid(grid)) if summary.closed]
    found: dict[str, SessionSummary] = {}
    for summary in closed:
        if (summary.machine, summary.coupon) == (closed[0].machine, closed[0].coupon):
            found.setdefault(summary.place, summary)
    return {place: found[place] for place in sorted(found, key=cell_of)}


def grid_state(archive: Archive, machine: str, grid: str = "") -> GridState:
    """How far a machine's grid has come; without a name the one that was measured last."""
    known = archive.grids()
    mine = tuple(name for name, of in known if of == machine)
    fresh = fresh_name([name for name, _machine in known])
    grid = grid or next(iter(mine), "")
    if not grid:
        return GridState(machine=machine, grid="", known=mine, fresh=fresh, measured={}, map=None, text=_NONE_YET)
    measured = newest_at_places(archive, grid)
    try:
        found = grid_map(archive, grid)
    except BadInputError as error:
        return GridState(
            machine=machine, grid=grid, known=mine, fresh=fresh, measured=measured, map=None, text=error.what
        )
    return GridState(
        machine=machine, grid=grid, known=mine, fresh=fresh, measured=measured, map=found, text=found.bed.text
    )


def fresh_name(known: Sequence[str]) -> str:
    """A name that no grid has yet: G and the next number."""
    numbers = [int(name[1:]) for name in known if re.fullmatch(r"G[0-9]{1,6}", name)]
    return f"G{max(numbers, default=0) + 1}"


def _place(name: str, coupon: Coupon, skew_deg: Estimate) -> Place:
    """Cells stand a coupon apart; how far exactly does not matter to what the map says."""
    column, row = cell_of(name)
    return Place(name=name, x_mm=column * coupon.width_mm, y_mm=row * coupon.height_mm, skew_deg=skew_deg)
