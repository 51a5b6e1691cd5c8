"""The measuring model: what the instruments would say of a shape, how far each reading is to be trusted, the priors.

Stage: before the adjustment. In: coupon, parameters, readings, measuring setup. Out: predicted readings with Jacobian,
mean readings with standard deviations. Predicted readings are

    edge      distance of the neighbouring edges half-way down the jaws + c0   (tips: from corner to corner)
    diagonal  from seat to seat, or where there are none from corner to corner, + c0 - cl
    corner    angle + g0

with the caliper's zero c0, the gauge's zero g0, and cl: the common part of what corners lack (burnt, rounded, crushed),
or with seats what they lie too deep for (kerf, jaw tips).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from functools import cache, lru_cache

from msgspec import Struct

from core.geometry import (
    SHAPE_PARAMETERS,
    TEN_FEATURES,
    Coupon,
    FeatureKind,
    Number,
    OfTwo,
    corner_rows,
    diagonal_rows,
    edge_rows,
    edges_of,
)
from core.geometry.seated_diagonals import seated_diagonals
from core.metrology.accuracy import EdgeMethod, MeasuringSetup
from core.metrology.hands import Learned
from core.metrology.jaws import seated_edges
from core.numeric import FloatArray, np

# Order of the parameter vector everywhere.
PARAMETERS = (
    "scale_a",
    "scale_b",
    "shear_g",
    "taper_x",
    "taper_y",
    "caliper_zero_mm",
    "corner_loss_mm",
    "gauge_zero_deg",
)
SHAPE_PRIOR_SD = 0.05  # of shear and tapers; makes a half-measured coupon solvable, no more
# Scales are known better: no machine is off by more than a few hundredths, and what else changes a side is the kerf.
# Two keyed diagonals differ a little in direction, so a wide prior of the scales would pass for skew.
SCALE_PRIOR_SD = 0.02
KERF_PRIOR_SD_MM = 1.6  # on a short side the kerf is more than that
CORNER_LOSS_PRIOR_SD_MM = 0.3
SEAT_OFFSET_PRIOR_SD_MM = 0.5  # kerf and jaw tips, and never burnt corners
_LEAST_VARIANCE = 1e-18  # keeps a perfect instrument's weight finite
_ALL_KINDS = frozenset(feature.kind for feature in TEN_FEATURES)
_ROW = {feature: row for row, feature in enumerate(TEN_FEATURES)}


class Trust(Struct, frozen=True, kw_only=True, eq=False):
    """How far each reading and prior is to be trusted on one coupon, before any repeats have taught more.

    `lasting` (10,) are the variances that repeats do not average out (linearity, form), `single_sds` (10,) the standard
    deviations of one reading as the instruments are set, all in the order of TEN_FEATURES; `prior_mean` and `prior_sd`
    (8,) what is known of the parameters before anything is read; `prior_sd_products` (8, 8) each prior sd times each.
    """

    lasting: tuple[float, ...]
    single_sds: tuple[float, ...]
    prior_mean: FloatArray
    prior_sd: FloatArray
    prior_sd_products: FloatArray


@lru_cache(maxsize=32)
def shape_prior_sds(coupon: Coupon) -> tuple[float, ...]:
    """Prior standard deviations of the five shape parameters."""
    scales = (
        min(SHAPE_PRIOR_SD, max(SCALE_PRIOR_SD, KERF_PRIOR_SD_MM / side_mm))
        for side_mm in (coupon.width_mm, coupon.height_mm)
    )
    return (*scales, *[SHAPE_PRIOR_SD] * (SHAPE_PARAMETERS - 2))


@lru_cache(maxsize=32)
def trust(coupon: Coupon, setup: MeasuringSetup) -> Trust:
    """The weights that follow from a measuring setup and what is measured with it."""
    caliper, gauge = setup.caliper, setup.gauge
    loss_sd = CORNER_LOSS_PRIOR_SD_MM if coupon.seats is None else SEAT_OFFSET_PRIOR_SD_MM
    mean = [0.0] * SHAPE_PARAMETERS + [caliper.zero, 0.0, gauge.zero]
    sd = [*shape_prior_sds(coupon), caliper.zero_sd, loss_sd, gauge.zero_sd]
    forms = {feature: setup.form.of(feature.kind, coupon) for feature in TEN_FEATURES}
    return Trust(
        lasting=tuple(setup.instrument(feature).linearity ** 2 / 3.0 + forms[feature] ** 2 for feature in TEN_FEATURES),
        single_sds=tuple(
            math.sqrt(max(setup.instrument(feature).mean_variance(1, forms[feature]), _LEAST_VARIANCE))
            for feature in TEN_FEATURES
        ),
        prior_mean=np.array(mean),
        prior_sd=np.array(sd),
        prior_sd_products=np.outer(sd, sd),
    )


class Means(Struct, frozen=True, kw_only=True, eq=False):
    """Mean readings per feature: `rows` (n,) index into TEN_FEATURES; `values` and their `sds` (n,).

    `counts` are the readings in each mean. `learned` (n, q) is the part of each mean's variance that comes from hand q,
    known with `nus` (q,) degrees of freedom only; all else is taken as known. Empty `learned` means all is known.
    """

    rows: tuple[int, ...]
    values: FloatArray
    sds: tuple[float, ...]
    counts: tuple[int, ...]
    learned: FloatArray
    nus: FloatArray

    def only(self, places: Sequence[int]) -> Means:
        """Some of them."""
        chosen = list(places)
        return Means(
            rows=tuple(self.rows[place] for place in chosen),
            values=self.values[chosen],
            sds=tuple(self.sds[place] for place in chosen),
            counts=tuple(self.counts[place] for place in chosen),
            learned=self.learned[chosen],
            nus=self.nus,
        )


def mean_readings(learned: Learned, known: Trust) -> Means:
    """Mean and standard deviation of each feature read; repeats shrink all of the variance but linearity and form.

    Repeats by different hands (instruments, cable or typed) are weighted by how repeatable each is.
    """
    nus = [hand.nu for hand in learned.hands]
    rows, values, sds = [], [], []
    parts: list[tuple[int, int, float]] = []  # of a mean's variance: the place of the mean, the hand, and how much
    for place, read in enumerate(learned.features):
        row, count = _ROW[read.feature], read.count
        if read.own_variance is not None:
            # Scatter of its own: as good as one more hand, which read nothing else.
            value, repeat_variance = sum(read.values) / count, read.own_variance / count
            parts.append((place, len(nus), repeat_variance))
            nus.append(count - 1.0)
        elif len(read.repeats) == 1:
            repeats = read.repeats[0]
            value, repeat_variance = repeats.mean, learned.hands[repeats.hand].mean_variance(count)
            parts.append((place, repeats.hand, repeat_variance))
        else:
            variances = [learned.hands[r.hand].mean_variance(r.count) for r in read.repeats]
            total = sum(1.0 / variance for variance in variances)
            value = sum(r.mean / variance for r, variance in zip(read.repeats, variances, strict=True)) / total
            repeat_variance = 1.0 / total
            parts += [
                (place, r.hand, 1.0 / (variance * total * total))
                for r, variance in zip(read.repeats, variances, strict=True)
            ]
        rows.append(row)
        values.append(value)
        sds.append(math.sqrt(repeat_variance + known.lasting[row]))
    of_hands = np.zeros((len(rows), len(nus)))
    for place, hand, variance in parts:
        of_hands[place, hand] = variance
    return Means(
        rows=tuple(rows),
        values=np.array(values),
        sds=tuple(sds),
        counts=tuple(read.count for read in learned.features),
        learned=of_hands,
        nus=np.array(nus),
    )


@cache
def instrument_jacobian() -> FloatArray:
    """Derivatives (10, 3) of the ten readings by c0, cl, g0: calipers' zero on lengths, corner loss off diagonals,
    gauge's zero."""
    return np.array([[1.0, 0.0, 0.0]] * 4 + [[1.0, -1.0, 0.0]] * 2 + [[0.0, 0.0, 1.0]] * 4)


@cache
def _instrument_columns() -> FloatArray:
    return np.hstack([np.zeros((len(TEN_FEATURES), SHAPE_PARAMETERS)), instrument_jacobian()])


@cache
def priors_in_sds() -> tuple[FloatArray, FloatArray]:
    """Mean (8,) and weight (8,) of the priors in units of their own standard deviations: all nothing, all one."""
    return np.zeros(len(PARAMETERS)), np.ones(len(PARAMETERS))


def predicted_readings(
    coupon: Coupon, parameters: FloatArray, setup: MeasuringSetup, kinds: Collection[FeatureKind] = _ALL_KINDS
) -> tuple[FloatArray, FloatArray]:
    """What the instruments would say of a shape: values (10,) and Jacobian (10, 8), in the order of TEN_FEATURES.

    Only the rows of `kinds` are worked out; the others say nothing.
    """
    a, b, g, tx, ty = parameters[:SHAPE_PARAMETERS].tolist()
    values, rows = reading_rows(coupon, (a, b, g, tx, ty), setup, math.hypot, math.atan2, kinds)
    jacobian = _instrument_columns().copy()
    jacobian[:, :SHAPE_PARAMETERS] = rows
    return values + instrument_jacobian() @ parameters[SHAPE_PARAMETERS:], jacobian


def reading_rows(
    coupon: Coupon,
    shape: tuple[Number, Number, Number, Number, Number],
    setup: MeasuringSetup,
    hypot: OfTwo[Number],
    atan2: OfTwo[Number],
    kinds: Collection[FeatureKind] = _ALL_KINDS,
) -> tuple[list[Number], list[list[Number]]]:
    """Ten readings by perfect instruments and their derivatives by the shape; floats or arrays as in feature_rows."""
    zero, edges = 0.0 * shape[0], edges_of(coupon, shape, hypot)
    values, rows = [zero] * len(TEN_FEATURES), [[zero] * SHAPE_PARAMETERS] * len(TEN_FEATURES)
    if FeatureKind.EDGE in kinds:
        values[:4], rows[:4] = (
            seated_edges(coupon, setup.jaw_depth_mm, edges, hypot)
            if setup.edge_method is EdgeMethod.SEATED
            else edge_rows(coupon, edges)
        )
    if FeatureKind.DIAGONAL in kinds:
        values[4:6], rows[4:6] = (
            diagonal_rows(coupon, shape, hypot)
            if coupon.seats is None
            else seated_diagonals(coupon, coupon.seats, shape, edges, hypot)
        )
    if FeatureKind.CORNER in kinds:
        values[6:], rows[6:] = corner_rows(edges, atan2)
    return values, rows


@lru_cache(maxsize=256)
def kinds_of(rows: tuple[int, ...]) -> frozenset[FeatureKind]:
    """The kinds of the features in some rows."""
    return frozenset(TEN_FEATURES[row].kind for row in rows)
