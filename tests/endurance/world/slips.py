"""Slips: readings that are not what they claim to be. Each takes the table of displays (m, 10, repeats) and spoils it.

What a person would do wrong at the bench, never what a formula finds convenient; the sizes are in mm or degrees.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.endurance.world.cutting import Array
from tests.endurance.world.jaws import FEATURES

Slip = Callable[[np.random.Generator, Array], Array]
COLUMN = {name: column for column, name in enumerate(FEATURES)}
_DIAGONALS = (COLUMN["nl-fr"], COLUMN["nr-fl"])


def none(rng: np.random.Generator, table: Array) -> Array:
    """Nothing goes wrong."""
    return table


def misread_diagonal(size_mm: float) -> Slip:
    """One reading of one diagonal, the first or the second, is off by `size_mm` up or down."""

    def slip(rng: np.random.Generator, table: Array) -> Array:
        spoilt, each = table.copy(), np.arange(len(table))
        column, repeat = rng.choice(_DIAGONALS, len(table)), rng.integers(0, 2, len(table))
        spoilt[each, column, repeat] += size_mm * rng.choice([-1.0, 1.0], len(table))
        return spoilt

    return slip


def misread_one(rng: np.random.Generator, table: Array) -> Array:
    """One first or second reading of any feature is off by 0.02 to 20 mm or degrees, log-uniform; half of them hit a
    diagonal, where most is read."""
    spoilt, m = table.copy(), len(table)
    size = np.exp(rng.uniform(np.log(0.02), np.log(20.0), m)) * rng.choice([-1.0, 1.0], m)
    column = np.where(rng.random(m) < 0.5, rng.choice(_DIAGONALS, m), rng.integers(0, 10, m))
    spoilt[np.arange(m), column, rng.integers(0, 2, m)] += size
    return spoilt


def misread_both_diagonals(rng: np.random.Generator, table: Array) -> Array:
    """A whole-millimetre mistake, made alike in every repeat of one diagonal."""
    spoilt, m = table.copy(), len(table)
    spoilt[np.arange(m), rng.choice(_DIAGONALS, m)] += rng.choice([-1.0, 1.0], m)[:, None]
    return spoilt


def transposed_digits(rng: np.random.Generator, table: Array) -> Array:
    """Two neighbouring digits of one length change places, as when a display is typed in."""
    spoilt = table.copy()
    for row in range(len(table)):
        column = int(rng.choice(_DIAGONALS)) if rng.random() < 0.5 else int(rng.integers(0, 6))
        repeat = int(rng.integers(0, 2))
        text = f"{spoilt[row, column, repeat]:.2f}"
        places = [k for k in range(len(text) - 1) if text[k] != text[k + 1] and "." not in text[k : k + 2]]
        if places:
            k = places[int(rng.integers(0, len(places)))]
            spoilt[row, column, repeat] = float(text[:k] + text[k + 1] + text[k] + text[k + 2 :])
    return spoilt


def wrong_feature(rng: np.random.Generator, table: Array) -> Array:
    """One reading is taken of a neighbour: the other diagonal, the next edge, the next corner."""
    spoilt, m = table.copy(), len(table)
    neighbours = np.array([1, 2, 3, 0, 5, 4, 7, 8, 9, 6])
    column = np.where(rng.random(m) < 0.5, rng.choice(_DIAGONALS, m), rng.integers(0, 10, m))
    repeat, each = rng.integers(0, 2, m), np.arange(m)
    spoilt[each, column, repeat] = table[each, neighbours[column], repeat]
    return spoilt


def diagonals_exchanged(rng: np.random.Generator, table: Array) -> Array:
    """The diagonals are taken for one another in every reading."""
    return _renamed(table, {"nl-fr": "nr-fl", "nr-fl": "nl-fr"})


def turned_over(rng: np.random.Generator, table: Array) -> Array:
    """The coupon lies face down, left for right, and everything is read as it lies."""
    return _renamed(
        table,
        {
            **{"left": "right", "right": "left", "nl-fr": "nr-fl", "nr-fl": "nl-fr"},
            **{"nl": "nr", "nr": "nl", "fr": "fl", "fl": "fr"},
        },
    )


def _renamed(table: Array, read: dict[str, str]) -> Array:
    """What is called by a key was in truth the feature behind it."""
    spoilt = table.copy()
    for called, truly in read.items():
        spoilt[:, COLUMN[called]] = table[:, COLUMN[truly]]
    return spoilt
