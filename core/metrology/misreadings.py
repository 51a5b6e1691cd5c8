"""Contradictory readings explained: which slip, at which feature, and what is expected there.

Input: coupon, readings, setup and their inconsistent adjustment. Output: `Explanation`s that restore consistency, best
first. Each candidate slip is undone and adjusted on its own; the rank is the full objective (readings, instrument and
shape priors) plus a penalty for how far-fetched the slip is (tuned on simulated coupons, tests/benchmarks).
"""

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from core.geometry import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Coupon, Feature, equal_seats, keyed_seats
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment, adjust
from core.metrology.findings import Explanation, ExplanationKind
from core.metrology.groups import flagged
from core.metrology.least_squares import Solution
from core.metrology.measuring_model import PARAMETERS, predicted_readings, trust
from core.metrology.misreading_candidates import candidates
from core.metrology.readings import Reading
from core.metrology.trials import HOPELESS, solutions_that_fit
from core.said import NOTHING, Angle, Length, Said, Series, paragraph, said

PENALTY = {
    ExplanationKind.INCH_FOR_MM: 0.0,
    ExplanationKind.DEVIATION_FROM_90: 0.0,
    ExplanationKind.NEIGHBOURS_EXCHANGED: 0.0,
    ExplanationKind.POINT_MISPLACED: 0.0,
    ExplanationKind.ALL_LENGTHS_INCH: 0.0,
    ExplanationKind.ALL_LENGTHS_MM: 0.0,
    ExplanationKind.ALL_LENGTHS_CM: 0.0,
    ExplanationKind.ALL_LENGTHS_M: 0.0,
    ExplanationKind.RADIANS: 0.0,
    ExplanationKind.GON: 0.0,
    ExplanationKind.MINUTES: 8.0,  # rounded to tenths, honest corners look like it
    ExplanationKind.QUARTER_TURN: 0.0,
    ExplanationKind.OTHER_SEATS: 1.0,  # as a bit of 2.4 mm does that was not allowed for, on a quick check
    ExplanationKind.DIAGONALS_EXCHANGED_OR_TURNED_OVER: 3.0,
    ExplanationKind.CORNERS_EXCHANGED: 6.0,
    ExplanationKind.SUPPLEMENT: 5.0,  # below a misreading's, which always fits better: it drops the reading
    ExplanationKind.MISREAD: 7.0,
    ExplanationKind.GAUGE_ZERO: 9.0,
    ExplanationKind.CALIPER_ZERO: 9.0,
    ExplanationKind.DIGITS_TRANSPOSED: 10.0,
}
MOST_SHOWN = 3  # nobody reads a fourth
EXTRA_REPEAT_PENALTY = 3.0  # the same misreading made once more
FORGOTTEN_ZERO_SD_DEG = 10.0  # of a gauge taken as it was found
FORGOTTEN_ZERO_SD_MM = 100.0  # of a caliper left at zero on a master
_OFF_WITH_ALL_LENGTHS = ("scale_a", "scale_b", "caliper_zero_mm", "corner_loss_mm")
_LENGTHS_FOR_A_ZERO = 3  # a zero and one of the sizes explain any two
# One cause behind all readings, whichever of them stands out.
_OF_ALL = frozenset({
    ExplanationKind.ALL_LENGTHS_INCH,
    ExplanationKind.ALL_LENGTHS_MM,
    ExplanationKind.ALL_LENGTHS_CM,
    ExplanationKind.ALL_LENGTHS_M,
    ExplanationKind.QUARTER_TURN,
    ExplanationKind.GAUGE_ZERO,
    ExplanationKind.CALIPER_ZERO,
    ExplanationKind.OTHER_SEATS,
})  # fmt: skip
# The same of a scale or a unit of the gauge, where it touched all corners that were read.
_OF_ALL_CORNERS = frozenset({
    ExplanationKind.DEVIATION_FROM_90,
    ExplanationKind.RADIANS,
    ExplanationKind.GON,
    ExplanationKind.MINUTES,
})  # fmt: skip


def explain(
    coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup, adjustment: Adjustment
) -> tuple[Explanation, ...]:
    """Explanations that would make the readings consistent, best first, three at most.

    Where they are consistent already, only readings that stick out among the repeats of their feature are named, and
    before them what explains all lengths better than any machine does: other seats, or the caliper's zero.
    """
    if adjustment.consistent:
        likelier = _likelier_cause(coupon, readings, setup, adjustment)
        return (*likelier, *_sticking_out(coupon, readings, setup, adjustment))[:MOST_SHOWN]
    read = sum(reading.feature in TEN_FEATURES for reading in readings)
    best: dict[tuple[ExplanationKind, tuple[Feature, ...]], tuple[float, Solution]] = {}
    tried = list(candidates(coupon, readings))
    trials = solutions_that_fit(coupon, [candidate.readings for candidate in tried], setup)
    for candidate, trial in zip(tried, trials, strict=True):
        if trial is None:
            continue
        cost = trial.objective + PENALTY[candidate.kind]
        if candidate.kind is ExplanationKind.MISREAD:
            cost += EXTRA_REPEAT_PENALTY * (read - len(candidate.readings) - 1)
        name = (candidate.kind, candidate.features)
        if name not in best or cost < best[name][0]:
            best[name] = (cost, trial)
    explanations = [
        *_gauge_zero(coupon, readings, setup),
        *_caliper_zero(coupon, readings, setup),
        *_other_seats(coupon, readings, setup),
    ]
    known = trust(coupon, setup)
    for (kind, features), (cost, trial) in best.items():
        expected = None
        if len(features) == 1:
            values, _ = predicted_readings(coupon, known.prior_mean + known.prior_sd * trial.parameters, setup)
            expected = float(values[TEN_FEATURES.index(features[0])])
        explanations.append(_explanation(kind, features, expected, cost, readings))
    return tuple(sorted(explanations, key=lambda explanation: explanation.cost)[:MOST_SHOWN])


def _sticking_out(
    coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup, adjustment: Adjustment
) -> Iterator[Explanation]:
    """Repeats that lie farther from their fellows than chance explains, each offered for voiding."""
    for read in adjustment.learned.features:
        if read.outlier is None:
            continue
        kept = list(readings)
        kept.remove(next(r for r in readings if r.feature is read.feature and r.value == read.outlier))
        trial = adjust(coupon, kept, setup)
        values, _ = predicted_readings(coupon, trial.parameters, setup)
        expected = float(values[TEN_FEATURES.index(read.feature)])
        text = sentence(ExplanationKind.MISREAD, (read.feature,), expected)
        yield Explanation(
            kind=ExplanationKind.MISREAD,
            features=(read.feature,),
            expected=expected,
            text=text,
            cost=trial.objective + PENALTY[ExplanationKind.MISREAD],
        )


def _explanation(
    kind: ExplanationKind,
    features: tuple[Feature, ...],
    expected: float | None,
    cost: float,
    readings: Sequence[Reading],
) -> Explanation:
    corners = {reading.feature for reading in readings if reading.feature in CORNERS}
    all_corners = kind in _OF_ALL_CORNERS and len(corners) > 1 and corners <= set(features)
    of_all = kind in _OF_ALL or all_corners
    return Explanation(
        kind=kind,
        features=features,
        expected=expected,
        text=sentence(kind, features, expected),
        cost=cost,
        of_all=of_all,
        first=FIRST[kind] if of_all else NOTHING,
    )


def _caliper_zero(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup) -> list[Explanation]:
    """A caliper that was not at zero, or left at zero on a master: all lengths off by one amount, far beyond its zero's
    own uncertainty. By less the corner loss hides it, and the sizes show it."""
    lengths = {reading.feature for reading in readings if reading.feature in (*EDGES, *DIAGONALS)}
    if len(lengths) < _LENGTHS_FOR_A_ZERO:
        return []
    free = replace(setup, caliper=replace(setup.caliper, zero_sd=FORGOTTEN_ZERO_SD_MM))
    trial = adjust(coupon, readings, free, hopeless=HOPELESS)
    if not trial.consistent or not trial.caliper_zero_mm.sign_is_sure:
        return []
    return [_zero(ExplanationKind.CALIPER_ZERO, (), trial.caliper_zero_mm.value, trial)]


def _likelier_cause(
    coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup, adjustment: Adjustment
) -> list[Explanation]:
    """One cause behind all lengths where nothing contradicts, because the sizes and the skew take it up.

    Edges alone cannot tell a coupon cut 5 mm too small from a caliper left at zero on a master of 5 mm. Diagonals can:
    they lack more than an edge on the one, as much on the other. Diagonals alone cannot tell a coupon of another size
    from one with other seats, which feign a skew as well; edges can.
    """
    z = adjustment.solution.parameters.tolist()
    far_fetched = sum(z[PARAMETERS.index(name)] ** 2 for name in _OFF_WITH_ALL_LENGTHS)
    found = [
        one
        for kind, cause in ((ExplanationKind.CALIPER_ZERO, _caliper_zero), (ExplanationKind.OTHER_SEATS, _other_seats))
        if far_fetched > PENALTY[kind]
        for one in cause(coupon, readings, setup)
    ]
    return sorted((one for one in found if one.cost < adjustment.objective), key=lambda one: one.cost)


def _other_seats(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup) -> list[Explanation]:
    """A coupon whose corners are not as was said: with seats, without, or with others than it was opened with."""
    if not set(DIAGONALS) <= {reading.feature for reading in readings}:
        return []
    usual = {None, *(kind(coupon.width_mm, coupon.height_mm) for kind in (equal_seats, keyed_seats))}
    others = [replace(coupon, seats=seats) for seats in usual - {coupon.seats}]
    trials = [adjust(other, readings, setup, hopeless=HOPELESS) for other in others]
    objectives = [trial.objective for trial in trials if trial.consistent]
    if not objectives:
        return []
    kind = ExplanationKind.OTHER_SEATS
    cost = min(objectives) + PENALTY[kind]
    return [_explanation(kind, (), None, cost, readings)]


def _gauge_zero(coupon: Coupon, readings: Sequence[Reading], setup: MeasuringSetup) -> list[Explanation]:
    """An angle gauge that was not zeroed: all corners off by the same amount, which their sum of 360 degrees shows."""
    free = replace(setup, gauge=replace(setup.gauge, zero_sd=FORGOTTEN_ZERO_SD_DEG))
    trial = adjust(coupon, readings, free, hopeless=HOPELESS)
    if not trial.consistent:
        return []
    corners = tuple(reading.feature for reading in trial.readings if reading.feature in CORNERS)
    return [_zero(ExplanationKind.GAUGE_ZERO, corners, trial.gauge_zero_deg.value, trial)]


def _zero(kind: ExplanationKind, features: tuple[Feature, ...], zero: float, trial: Adjustment) -> Explanation:
    """An instrument that was not at zero, by the fit that was left free to find its zero."""
    return Explanation(
        kind=kind,
        features=features,
        expected=None,
        text=sentence(kind, features, zero),
        cost=trial.objective + PENALTY[kind],
        of_all=True,
        first=FIRST[kind],
    )


def sign_open(explanations: Sequence[Explanation]) -> bool:
    """True when the direction of the skew cannot be told: diagonals exchanged, or the coupon turned over half-way."""
    return any(e.kind is ExplanationKind.DIAGONALS_EXCHANGED_OR_TURNED_OVER for e in explanations)


def suspects(adjustment: Adjustment, explanations: Sequence[Explanation] = ()) -> tuple[Feature, ...]:
    """Features to be read again, the most suspect first: those of the best explanation, then by the tests.

    Repeats of one feature that differ by more than chance, and standardised residuals above 3.29 (both 0.1 %). Where
    the readings contradict each other and neither flags any, it is the largest standardised residual. None where one
    cause lies behind all: read again with the same unit or the same zero, any feature comes out as before.
    """
    if explanations and explanations[0].of_all:
        return ()
    named = explanations[0].features if explanations else ()
    disagreeing, beyond = adjustment.learned.disagreeing, flagged(adjustment)
    if not adjustment.consistent and not (named or disagreeing or beyond):
        beyond = tuple(r.feature for r in sorted(adjustment.readings, key=lambda r: -abs(r.standardised_residual))[:1])
    return tuple(dict.fromkeys([*named, *disagreeing, *beyond]))


def sentence(kind: ExplanationKind, features: tuple[Feature, ...], expected: float | None) -> Series:
    """The explanation in the words of a workshop, with what to do next; `expected` there, or the zero error found."""
    names = _named(features)
    again = said("Read them again.")
    if expected is not None and features:
        there = Length(expected) if features[0].is_length else Angle(expected, 1)
        again = said("About {value} is expected there: read it again.", value=there)
    match kind:
        case ExplanationKind.INCH_FOR_MM:
            return paragraph(said("Inches and millimetres mixed up at {features}.", features=names), again)
        case ExplanationKind.DEVIATION_FROM_90:
            return paragraph(
                said(
                    "At {features} the gauge seems to show the deviation from {square}, not the corner itself.",
                    features=names,
                    square=Angle(90.0, None),
                ),
                again if expected is not None else FIRST[kind],
            )
        case ExplanationKind.POINT_MISPLACED:
            point = said("At {features} the decimal point looks misplaced, or the unit is another.", features=names)
            return paragraph(point, again)
        case ExplanationKind.RADIANS:
            return paragraph(said("At {features} the gauge seems to show radians.", features=names), FIRST[kind])
        case ExplanationKind.GON:
            return paragraph(said("At {features} the gauge seems to show gon.", features=names), FIRST[kind])
        case ExplanationKind.MINUTES:
            typed = said("The corners look like degrees and minutes typed as one decimal number.")
            return paragraph(typed, FIRST[kind])
        case ExplanationKind.SUPPLEMENT:
            return paragraph(
                said(
                    "At {features} the gauge seems to be read on its other scale, {straight} less the corner.",
                    features=names,
                    straight=Angle(180.0, None),
                ),
                again,
            )
        case ExplanationKind.NEIGHBOURS_EXCHANGED | ExplanationKind.CORNERS_EXCHANGED:
            return paragraph(said("{features:capital} look exchanged.", features=names), _READ_BOTH)
        case ExplanationKind.MISREAD:
            return paragraph(said("{features:capital} does not fit the other readings.", features=names), again)
        case ExplanationKind.DIGITS_TRANSPOSED:
            return paragraph(said("At {features} two digits look exchanged.", features=names), again)
        case ExplanationKind.GAUGE_ZERO:
            return paragraph(_not_zeroed(expected or 0.0), FIRST[kind])
        case ExplanationKind.CALIPER_ZERO:
            return paragraph(_ALL_TOO_LONG if (expected or 0.0) > 0.0 else _ALL_TOO_SHORT, FIRST[kind])
        case (
            ExplanationKind.ALL_LENGTHS_INCH
            | ExplanationKind.ALL_LENGTHS_MM
            | ExplanationKind.ALL_LENGTHS_CM
            | ExplanationKind.ALL_LENGTHS_M
        ):
            return paragraph(_ALL_IN[kind], FIRST[kind])
        case ExplanationKind.QUARTER_TURN:
            return paragraph(_QUARTER_TURN, FIRST[kind])
        case ExplanationKind.OTHER_SEATS:
            return paragraph(_NOT_SUCH_SEATS, FIRST[kind])
        case ExplanationKind.DIAGONALS_EXCHANGED_OR_TURNED_OVER:
            return _TURNED_OVER


_READ_BOTH = said("Find the orientation mark and read both again.")
_ALL_IN = {
    ExplanationKind.ALL_LENGTHS_INCH: said("All lengths look like inches taken as millimetres."),
    ExplanationKind.ALL_LENGTHS_MM: said("All lengths look like millimetres taken as inches."),
    ExplanationKind.ALL_LENGTHS_CM: said("All lengths look like centimetres taken as millimetres."),
    ExplanationKind.ALL_LENGTHS_M: said("All lengths look like metres taken as millimetres."),
}
_QUARTER_TURN = said(
    "Width and height look exchanged: the coupon lay a quarter turn round, or its sizes were entered the wrong way "
    "round."
)
_NOT_SUCH_SEATS = said("The diagonals do not suit the corners as they were said to be: with seats, or without.")
_ALL_TOO_SHORT = said("All lengths are too short by one amount: a caliper not at zero, or left at zero on a master.")
_ALL_TOO_LONG = said("All lengths are too long by one amount: a caliper not at zero, or left at zero on a master.")
_SET_UNIT = said("Set the unit and read the lengths again.")
_SET_DEGREES = said("Set the gauge to degrees and read the corners again.")
# What to do where one cause lies behind all readings of a kind.
FIRST = {
    **dict.fromkeys(_ALL_IN, _SET_UNIT),
    ExplanationKind.QUARTER_TURN: said("Find the orientation mark: it sits at the near-left corner."),
    ExplanationKind.GAUGE_ZERO: said("Zero the gauge and read the corners again."),
    ExplanationKind.CALIPER_ZERO: said("Close the jaws, set zero, and read the lengths again."),
    ExplanationKind.OTHER_SEATS: said("Look at its corners, and begin it anew with the seats that it has."),
    ExplanationKind.RADIANS: _SET_DEGREES,
    ExplanationKind.GON: _SET_DEGREES,
    ExplanationKind.MINUTES: said("Type minutes as minutes, or a decimal share of a degree."),
    ExplanationKind.DEVIATION_FROM_90: said("Read the corners themselves, not what they are off by."),
}
_TURNED_OVER = paragraph(
    said(
        "Lengths and angles disagree on which way the coupon leans: the two diagonals were exchanged, or the coupon "
        "was turned over between lengths and angles."
    ),
    said("Find the orientation mark and read the diagonals again."),
)


def _named(features: tuple[Feature, ...]) -> Said:
    """'near edge', 'near edge and far edge', or nothing where no one feature is meant."""
    named = NOTHING
    for feature in features:
        named = said("{features} and {other}", features=named, other=feature.label) if named else feature.label
    return named


def _not_zeroed(zero_deg: float) -> Said:
    size = Angle(abs(zero_deg), 1)
    if zero_deg > 0.0:
        return said("The angle gauge looks not zeroed: all corners read about {size} too large.", size=size)
    return said("The angle gauge looks not zeroed: all corners read about {size} too small.", size=size)
