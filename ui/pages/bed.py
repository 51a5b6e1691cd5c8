"""What the screens say of a grid of coupons over the bed: its places, its map, and what they mean.

Stage: screen. Input: Snapshot. Output: frozen values. No widget.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from core.geometry import LETTERS
from core.records import GridState, Opened, SessionSummary
from core.said import NOTHING, Angle, Name, Part, Series, paragraph, said
from ui.state import Snapshot

if TYPE_CHECKING:
    from core.records import ShapePicture

# What fits a gloved finger; larger grids are named at the text bench.
COLUMNS, ROWS = 6, 4
SHOWN_GRIDS = 4
BY_ITSELF = ""


def machine_name(snapshot: Snapshot) -> str:
    """The machine whose grids are meant."""
    return snapshot.machines.current.name if snapshot.machines.current else snapshot.machine


def grid_choices(snapshot: Snapshot) -> tuple[tuple[str, Part], ...]:
    """A coupon by itself, one more of the last grid, or the first of a new one, as (grid, words)."""
    state = snapshot.records.grid
    if state is None:
        return ((BY_ITSELF, said("By itself")),)
    going_on = ((state.grid, said("Of grid {grid}", grid=Name(state.grid))),) if state.grid else ()
    new = (state.fresh, said("New grid {grid}", grid=Name(state.fresh)))
    return ((BY_ITSELF, said("By itself")), *going_on, new)


def place_on_bench(snapshot: Snapshot) -> str:
    """Where on the bed the coupon measured last was cut, such as B2; empty for one by itself."""
    return _cell_on_bench(snapshot)[1]


def count_text(snapshot: Snapshot) -> Part:
    """Which coupon of its grid is on the bench, counting places measured before it; nothing for one by itself."""
    grid, place = _cell_on_bench(snapshot)
    state = snapshot.records.grid
    if not grid:
        return NOTHING
    if state is None or grid not in (state.grid, state.fresh):
        return said("of grid {grid}", grid=Name(grid))
    measured = state.measured if state.grid == grid else {}
    number = len(measured.keys() - {place}) + 1
    return said("coupon {number} of grid {grid}", number=number, grid=Name(grid))


def _cell_on_bench(snapshot: Snapshot) -> tuple[str, str]:
    opened = snapshot.log[0].payload if snapshot.log else None
    return (opened.grid, opened.place) if isinstance(opened, Opened) else (BY_ITSELF, "")


def place_rows(state: GridState | None, grid: str) -> tuple[tuple[tuple[str, Part], ...], ...]:
    """Places as (name, words), the far row first; words tell the skew of those measured already."""
    measured = state.measured if state is not None and state.grid == grid else {}
    rows = []
    for row in range(ROWS, 0, -1):
        names = [f"{letter}{row}" for letter in LETTERS[:COLUMNS]]
        rows.append(tuple((name, _place_words(name, measured.get(name))) for name in names))
    return tuple(rows)


def _place_words(name: str, measured: SessionSummary | None) -> Part:
    if measured is None:
        return Name(name)
    skew = Name("–") if measured.skew_deg is None else Angle(measured.skew_deg, signed=True)
    return Series((Name(name), skew), joint="\n")


def known_grids(state: GridState | None) -> tuple[tuple[str, Part], ...]:
    """The machine's last grids, to look at."""
    return tuple((name, Name(name)) for name in state.known[:SHOWN_GRIDS]) if state is not None else ()


def map_picture(state: GridState | None) -> ShapePicture | None:
    """The bed seen from the front, None while it cannot be mapped."""
    from core.records.bed_picture import bed_picture  # with the first map that is looked at

    return bed_picture(state.map) if state is not None and state.map is not None else None


def map_text(snapshot: Snapshot) -> Part:
    """What the coupons have in common, what is local, and how surely; or how far the grid has come."""
    state = snapshot.records.grid
    if state is None:
        return said("Looking it up.")
    if state.map is None:
        places = Series(tuple(map(Name, state.measured)), joint=", ")
        return paragraph(said("Measured: {places}.", places=places) if state.measured else NOTHING, state.text)
    return state.map.bed.text
