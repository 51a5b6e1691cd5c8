"""The gauge study: how much of what an instrument says is the instrument, the hand and the part.

Stage: now and then, apart from any coupon. In: readings of operators x parts x trials, every cell filled. Out: standard
deviations of repeatability, reproducibility and parts by average and range and by analysis of variance, the share of a
tolerance, and an accuracy with the repeatability found. Source: AIAG, Measurement Systems Analysis, 4th edition.
"""

import math
from collections.abc import Sequence
from enum import StrEnum
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology.accuracy import InstrumentAccuracy
from core.metrology.distributions import f_cdf, normal_cdf
from core.numeric import FloatArray, np
from core.said import Number, Said, said

# What turns ranges into standard deviations is computed by integration (L. H. C. Tippett, Biometrika 17, 1925;
# A. J. Duncan for d2*), not tabled. Beyond this reach the normal distribution's share is below 1e-18; the step leaves
# errors below 1e-7 of the result.
_REACH, _POINTS = 8.8, 801


@lru_cache(maxsize=64)
def range_moments(n: int) -> tuple[float, float]:
    """d2 and d3 of samples of `n`, n >= 2: mean and standard deviation of their range in units of one sd."""
    x = np.linspace(-_REACH, _REACH, _POINTS)
    step = x[1] - x[0]
    phi = np.array([normal_cdf(float(point)) for point in x])
    mean = float(np.sum(1.0 - phi**n - (1.0 - phi) ** n) * step)
    # E[R^2] = 2 x the integral over low < high of P(smallest <= low, largest > high).
    low, high = phi[:, np.newaxis], phi[np.newaxis, :]
    both = 1.0 - high**n - (1.0 - low) ** n + np.clip(high - low, 0.0, None) ** n
    weights = np.triu(np.ones((_POINTS, _POINTS)), 1) + 0.5 * np.eye(_POINTS)
    square = 2.0 * float(np.sum(both * weights)) * step**2
    return mean, math.sqrt(square - mean**2)


def d2_star(n: int, samples: int) -> float:
    """Divisor for the mean of `samples` ranges of `n` that makes its square unbiased; d2 itself above 15 samples."""
    d2, d3 = range_moments(n)
    return d2 if samples > 15 else math.sqrt(d2**2 + d3**2 / samples)


# An interaction less significant than this is taken for repeatability (AIAG).
POOLING_LEVEL = 0.25
# The width of a distribution that people compare with a tolerance (AIAG: 99.73 %).
SIGMAS = 6.0
# AIAG: below 10 % good, above 30 % not acceptable.
GOOD_SHARE, LARGEST_SHARE = 0.10, 0.30


class StudyMethod(StrEnum):
    """How the standard deviations were found."""

    AVERAGE_AND_RANGE = "average-and-range"
    ANOVA = "anova"


class StudyResult(Struct, frozen=True, kw_only=True):
    """Standard deviations in the unit of the readings.

    `repeatability` is the instrument in one hand, `reproducibility` from hand to hand (with the interaction of hand and
    part, where it is significant), `gauge` both together, `parts` from part to part, `total` everything.
    """

    method: StudyMethod
    repeatability: float
    reproducibility: float
    parts: float

    @property
    def gauge(self) -> float:
        """Repeatability and reproducibility together."""
        return math.hypot(self.repeatability, self.reproducibility)

    @property
    def total(self) -> float:
        """Gauge and parts together."""
        return math.hypot(self.gauge, self.parts)

    @property
    def distinct_categories(self) -> int | None:
        """How many groups of parts the instrument can tell apart; None where the gauge shows no spread."""
        return int(math.sqrt(2.0) * self.parts / self.gauge) if self.gauge > 0.0 else None

    def share_of_tolerance(self, tolerance: float) -> float:
        """Six sd of the gauge over the width of a plus-minus tolerance."""
        return SIGMAS * self.gauge / (2.0 * tolerance)

    def text(self, tolerance: float, unit: str) -> Said:
        """What it means for a plus-minus tolerance, in a workshop's words."""
        share = self.share_of_tolerance(tolerance)
        if share <= GOOD_SHARE:
            meaning = said("good for it")
        elif share <= LARGEST_SHARE:
            meaning = said("usable where a wrong verdict is cheap")
        else:
            meaning = said("too coarse for it: repeat readings, a better hold, or a better instrument")
        return said(
            "Repeatability {repeatability}, from hand to hand {reproducibility}: {share} of a tolerance of "
            "±{tolerance}, {meaning}.",
            repeatability=Number(float(f"{self.repeatability:.3g}"), sign=unit),
            reproducibility=Number(float(f"{self.reproducibility:.3g}"), sign=unit),
            share=Number(100.0 * share, 0, "%"),
            tolerance=Number(tolerance, sign=unit),
            meaning=meaning,
        )

    def applied_to(self, accuracy: InstrumentAccuracy) -> InstrumentAccuracy:
        """The accuracy with the repeatability found; what the resolution alone explains is not counted twice."""
        variance = self.repeatability**2 - accuracy.resolution**2 / 12.0
        return replace(accuracy, repeatability=math.sqrt(max(variance, 0.0)))


def average_and_range(readings: Sequence[Sequence[Sequence[float]]]) -> StudyResult:
    """The study by averages and ranges; `readings` are operators x parts x trials. Raises BadInputError."""
    cells = _cells(readings)
    operators, parts, trials = cells.shape
    mean_range = float(np.ptp(cells, axis=2).mean())
    repeatability = mean_range / d2_star(trials, operators * parts)
    reproducibility = 0.0
    if operators > 1:
        spread = float(np.ptp(cells.mean(axis=(1, 2)))) / d2_star(operators, 1)
        # What repeatability alone makes of the operators' means is taken off.
        reproducibility = math.sqrt(max(spread**2 - repeatability**2 / (parts * trials), 0.0))
    between_parts = float(np.ptp(cells.mean(axis=(0, 2)))) / d2_star(parts, 1)
    return StudyResult(
        method=StudyMethod.AVERAGE_AND_RANGE,
        repeatability=repeatability,
        reproducibility=reproducibility,
        parts=between_parts,
    )


def analysis_of_variance(readings: Sequence[Sequence[Sequence[float]]]) -> StudyResult:
    """The study by two-way analysis of variance with interaction; `readings` are operators x parts x trials.

    The interaction is pooled with repeatability where it is not significant at 25 %. Raises BadInputError.
    """
    cells = _cells(readings)
    operators, parts, trials = cells.shape
    grand = float(cells.mean())
    of_operators, of_parts, of_cells = cells.mean(axis=(1, 2)), cells.mean(axis=(0, 2)), cells.mean(axis=2)
    squares_operators = parts * trials * float(np.sum((of_operators - grand) ** 2))
    squares_parts = operators * trials * float(np.sum((of_parts - grand) ** 2))
    squares_cells = trials * float(np.sum((of_cells - grand) ** 2))
    squares_interaction = max(squares_cells - squares_operators - squares_parts, 0.0)
    squares_error = float(np.sum((cells - of_cells[:, :, np.newaxis]) ** 2))
    df_interaction, df_error = (operators - 1) * (parts - 1), operators * parts * (trials - 1)
    error = squares_error / df_error
    interaction = squares_interaction / df_interaction if df_interaction else 0.0
    if not _is_significant(interaction, error, df_interaction, df_error):
        error = pooled_variance((squares_error, squares_interaction), (df_error, df_interaction))
        interaction = error
    between_operators = squares_operators / (operators - 1) if operators > 1 else interaction
    between_parts = squares_parts / (parts - 1)
    reproducibility = max(between_operators - interaction, 0.0) / (parts * trials)
    reproducibility += max(interaction - error, 0.0) / trials
    return StudyResult(
        method=StudyMethod.ANOVA,
        repeatability=math.sqrt(error),
        reproducibility=math.sqrt(reproducibility),
        parts=math.sqrt(max(between_parts - interaction, 0.0) / (operators * trials)),
    )


def pooled_variance(sums_of_squares: Sequence[float], degrees_of_freedom: Sequence[int]) -> float:
    """One variance from several sums of squares that share it."""
    return sum(sums_of_squares) / sum(degrees_of_freedom)


def _is_significant(interaction: float, error: float, df_interaction: int, df_error: int) -> bool:
    """Whether the mean square of the interaction stands out from that of the repeats (F test)."""
    if error == 0.0 or df_interaction == 0:
        return interaction > 0.0
    return 1.0 - f_cdf(interaction / error, df_interaction, df_error) < POOLING_LEVEL


def _cells(readings: Sequence[Sequence[Sequence[float]]]) -> FloatArray:
    """Readings as an array (operators, parts, trials)."""
    try:
        cells = np.array(readings, dtype=np.float64)
    except ValueError as exc:
        raise BadInputError(said("gauge study: every operator must read every part equally often")) from exc
    if cells.ndim != 3 or cells.shape[0] < 1 or cells.shape[1] < 2 or cells.shape[2] < 2:
        raise BadInputError(said("gauge study: at least one operator, two parts and two trials of each are needed"))
    if not np.all(np.isfinite(cells)):
        raise BadInputError(said("gauge study: every reading must be a number"))
    return cells
