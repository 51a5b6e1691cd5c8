"""Instruments in a hand: errors of scale and zero, scatter with or without heavy tails, drift, a display's digits.

Input: flawless readings (m, 10). Output: what the display showed, (m, 10, repeats), in the order of FEATURES.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct, field

from tests.endurance.world.cutting import Array

LENGTHS = 6  # the first six features are lengths


class Instrument(Struct, frozen=True):
    """Standard deviation of one reading, half-width of the scale's error, standard deviation of the zero, display."""

    scatter: float
    linearity: float
    zero: float
    resolution: float


CALIPER = Instrument(scatter=0.02, linearity=0.02, zero=0.01, resolution=0.01)
GAUGE = Instrument(scatter=0.1, linearity=0.1, zero=0.2, resolution=0.1)


class Hand(Struct, frozen=True):
    """`noisier` times the scatter that is set, `heavy` tails (Student's t with four degrees of freedom), `drift` of
    the caliper's zero from one reading to the next (mm), `wavy` scales: one smooth error of the whole scale instead of
    one for each feature."""

    noisier: float = 1.0
    heavy: bool = False
    drift: float = 0.0
    wavy: bool = False
    caliper: Instrument = field(default=CALIPER)
    gauge: Instrument = field(default=GAUGE)


def shown(rng: np.random.Generator, flawless: Array, hand: Hand, repeats: int) -> Array:
    """What stands on the displays, (m, 10, repeats)."""
    m = len(flawless)
    table = np.empty((m, flawless.shape[1], repeats))
    for instrument, columns in ((hand.caliper, slice(0, LENGTHS)), (hand.gauge, slice(LENGTHS, None))):
        part = flawless[:, columns]
        scale = _wavy(rng, part, instrument) if hand.wavy else rng.uniform(-1.0, 1.0, part.shape) * instrument.linearity
        zero = rng.normal(0.0, instrument.zero, m)
        shape = (*part.shape, repeats)
        normal = rng.normal(0.0, 1.0, shape)
        scatter = rng.standard_t(4.0, shape) / np.sqrt(2.0) if hand.heavy else normal
        drift = np.zeros(shape)
        if hand.drift and instrument is hand.caliper:
            drift = np.cumsum(rng.normal(0.0, hand.drift, shape), axis=-1)
        read = (part + scale + zero[:, None])[..., None] + hand.noisier * instrument.scatter * scatter + drift
        table[:, columns] = np.round(read / instrument.resolution) * instrument.resolution
    return table


def _wavy(rng: np.random.Generator, part: Array, instrument: Instrument) -> Array:
    """A scale's error as three waves of random length, never beyond its half-width."""
    m = len(part)
    error = np.zeros(part.shape)
    for share, shortest, longest in ((0.5, 80.0, 300.0), (0.3, 20.0, 80.0), (0.2, 5.0, 20.0)):
        length = rng.uniform(shortest, longest, (m, 1))
        phase = rng.uniform(0.0, 2.0 * np.pi, (m, 1))
        error += share * instrument.linearity * np.sin(2.0 * np.pi * part / length + phase)
    return error
