"""What people and instruments get wrong at the bench: for given readings, every slip worth trying, undone.

Input: coupon and readings. Output: `Candidate`s, each the readings as they would be without one slip. Which of them
make sense is not decided here. The kinds are common practice in surveying and workshops; no outside source.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Coupon, Feature
from core.metrology.findings import ExplanationKind
from core.metrology.readings import MM_PER_INCH, Reading, Unit

_PLAUSIBLE = 0.2  # a length further than this share from nominal is not what a slip undone would give
_LARGEST_DEVIATION_DEG = 45.0
_DEG_PER_GON = 0.9


class Candidate(Struct, frozen=True, kw_only=True):
    """One slip undone: `features` are those it touched, `readings` all readings without it."""

    kind: ExplanationKind
    features: tuple[Feature, ...]
    readings: tuple[Reading, ...]


def candidates(coupon: Coupon, readings: Sequence[Reading]) -> Iterator[Candidate]:
    """Every slip worth trying on these readings, one at a time."""
    read = tuple(reading for reading in readings if reading.feature in TEN_FEATURES)
    yield from _length_units(coupon, read)
    yield from _corner_units(coupon, read)
    yield from _deviations(read)
    yield from _supplements(read)
    yield from _exchanges(read)
    yield from _quarter_turns(read)
    yield from _transpositions(coupon, read)
    yield from _omissions(read)


def _changed(
    kind: ExplanationKind, readings: tuple[Reading, ...], values: dict[int, float], *, name_all: bool = False
) -> Candidate:
    """A candidate with new values at some places."""
    touched = dict.fromkeys(readings[place].feature for place in values)
    return Candidate(
        kind=kind,
        features=() if name_all else tuple(touched),
        readings=tuple(
            replace(reading, value=values[place]) if place in values else reading
            for place, reading in enumerate(readings)
        ),
    )


def _groups(readings: Sequence[Reading], places: Iterable[int]) -> Iterator[tuple[int, ...]]:
    """The smallest and the largest of each feature alone, then its repeats together, then all: every group once.

    A single slip among repeats sticks out at one end; so thousands of readings do not make thousands of candidates.
    """
    places = tuple(places)
    by_feature: dict[Feature, list[int]] = {}
    for place in places:
        by_feature.setdefault(readings[place].feature, []).append(place)
    ends = [_ends(readings, repeats) for repeats in by_feature.values()]
    singles = [(place,) for pair in ends for place in pair]
    yield from dict.fromkeys(group for group in (*singles, *map(tuple, by_feature.values()), places) if group)


def _ends(readings: Sequence[Reading], repeats: Sequence[int]) -> tuple[int, int]:
    """Places of the smallest and the largest reading."""
    return min(repeats, key=lambda place: readings[place].value), max(repeats, key=lambda place: readings[place].value)


def _plausible(coupon: Coupon, feature: Feature, value: float) -> bool:
    nominal = coupon.nominal(feature)
    return abs(value - nominal) <= _PLAUSIBLE * nominal


_FACTORS = (
    (MM_PER_INCH, ExplanationKind.INCH_FOR_MM, ExplanationKind.ALL_LENGTHS_INCH),
    (1.0 / MM_PER_INCH, ExplanationKind.INCH_FOR_MM, ExplanationKind.ALL_LENGTHS_MM),
    (10.0, ExplanationKind.POINT_MISPLACED, ExplanationKind.ALL_LENGTHS_CM),
    (0.1, ExplanationKind.POINT_MISPLACED, ExplanationKind.POINT_MISPLACED),
    (1000.0, ExplanationKind.POINT_MISPLACED, ExplanationKind.ALL_LENGTHS_M),
)  # what undoes it, its kind at some lengths, its kind where all are off by it


def _length_units(coupon: Coupon, readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """Another unit taken as millimetres, or millimetres as inches; the decimal point of a typed length misplaced."""
    lengths = [place for place, reading in enumerate(readings) if reading.feature.is_length]
    for factor, of_some, of_all in _FACTORS:
        undone = {place: readings[place].value * factor for place in lengths}
        fitting = [place for place in lengths if _plausible(coupon, readings[place].feature, undone[place])]
        for group in _groups(readings, fitting):
            everything = len(group) == len(lengths) and len({readings[place].feature for place in group}) > 1
            kind = of_all if everything else of_some
            yield _changed(kind, readings, {place: undone[place] for place in group}, name_all=kind is not of_some)


def _corner_units(coupon: Coupon, readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """Radians taken as degrees, in some corners or in all; gon, or degrees and minutes typed as a decimal, in all: one
    alone is as well a corner misread."""
    corners = [place for place, reading in enumerate(readings) if reading.feature in CORNERS]
    radians = {place: math.degrees(readings[place].value) for place in corners}
    fitting = [place for place in corners if _plausible(coupon, readings[place].feature, radians[place])]
    for group in _groups(readings, fitting):
        yield _changed(ExplanationKind.RADIANS, readings, {place: radians[place] for place in group})
    if corners:
        gon = {place: _DEG_PER_GON * readings[place].value for place in corners}
        yield _changed(ExplanationKind.GON, readings, gon)
    minutes = {place: _from_minutes(readings[place].value) for place in corners}
    if corners and all(value is not None for value in minutes.values()):
        values = {place: value for place, value in minutes.items() if value is not None}
        yield _changed(ExplanationKind.MINUTES, readings, values)


def _from_minutes(typed: float) -> float | None:
    """89.45 typed for 89 degrees 45 minutes; None where the digits after the point are no minutes."""
    degrees, minutes = divmod(round(100.0 * typed, 6), 100.0)
    return degrees + minutes / 60.0 if minutes < 60.0 else None


def _deviations(readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """A gauge that showed the corner's deviation from 90 degrees, of either sign."""
    small = [
        place
        for place, reading in enumerate(readings)
        if reading.feature in CORNERS and abs(reading.value) < _LARGEST_DEVIATION_DEG
    ]
    for group in _groups(readings, small):
        for sign in (1.0, -1.0):
            values = {place: 90.0 + sign * readings[place].value for place in group}
            yield _changed(ExplanationKind.DEVIATION_FROM_90, readings, values)


def _supplements(readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """A gauge read on its other scale: 180 degrees less the corner."""
    corners = [place for place, reading in enumerate(readings) if reading.feature in CORNERS]
    for group in _groups(readings, corners):
        if len({readings[place].feature for place in group}) == 1:
            values = {place: 180.0 - readings[place].value for place in group}
            yield _changed(ExplanationKind.SUPPLEMENT, readings, values)


def _renamed(
    kind: ExplanationKind, readings: tuple[Reading, ...], features: tuple[Feature, ...], names: dict[Feature, Feature]
) -> Iterator[Candidate]:
    if any(reading.feature in names for reading in readings):
        renamed = tuple(replace(r, feature=names.get(r.feature, r.feature)) for r in readings)
        yield Candidate(kind=kind, features=features, readings=renamed)


def _exchanges(readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """Two readings entered for one another, or the coupon turned over between lengths and angles."""
    for kind, ring in ((ExplanationKind.NEIGHBOURS_EXCHANGED, EDGES), (ExplanationKind.CORNERS_EXCHANGED, CORNERS)):
        for first, second in zip(ring, ring[1:] + ring[:1], strict=True):
            yield from _renamed(kind, readings, (first, second), {first: second, second: first})
    for first, opposite in zip(EDGES[:2], EDGES[2:], strict=True):
        names = {first: opposite, opposite: first}
        yield from _renamed(ExplanationKind.NEIGHBOURS_EXCHANGED, readings, (first, opposite), names)
    NL, NR, FR, FL = CORNERS
    for names in (
        dict(zip(DIAGONALS, reversed(DIAGONALS), strict=True)),
        {NL: NR, NR: NL, FR: FL, FL: FR},
        {NL: FL, FL: NL, NR: FR, FR: NR},
    ):
        kind = ExplanationKind.DIAGONALS_EXCHANGED_OR_TURNED_OVER
        yield from _renamed(kind, readings, DIAGONALS, names)


def _quarter_turns(readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """The coupon measured a quarter turn round, either way (or its width and height entered for one another)."""
    for step in (1, -1):
        names = dict(zip(DIAGONALS, reversed(DIAGONALS), strict=True))
        for ring in (EDGES, CORNERS):
            names |= {feature: ring[(place + step) % 4] for place, feature in enumerate(ring)}
        yield from _renamed(ExplanationKind.QUARTER_TURN, readings, (), names)


def _transpositions(coupon: Coupon, readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """Two neighbouring digits of one reading exchanged."""
    for group in _groups(readings, range(len(readings))):
        for value in dict.fromkeys(_transposed(readings[group[0]])):
            if len(group) == 1 and _plausible(coupon, readings[group[0]].feature, value):
                yield _changed(ExplanationKind.DIGITS_TRANSPOSED, readings, {group[0]: value})


def _transposed(reading: Reading) -> Iterator[float]:
    decimals = 4 if reading.unit is Unit.INCH else 2
    factor = MM_PER_INCH if reading.unit is Unit.INCH else 1.0
    text = f"{abs(reading.value) / factor:.{decimals}f}"
    digits = [place for place, character in enumerate(text) if character.isdigit()]
    for left, right in pairwise(digits):
        if text[left] != text[right]:
            swapped = text[:left] + text[right] + text[left + 1 : right] + text[left] + text[right + 1 :]
            yield math.copysign(float(swapped) * factor, reading.value)


def _omissions(readings: tuple[Reading, ...]) -> Iterator[Candidate]:
    """One reading, or all repeats of one feature, simply wrong."""
    for group in _groups(readings, range(len(readings))):
        features = tuple(dict.fromkeys(readings[place].feature for place in group))
        if len(features) == 1:
            dropped = set(group)
            kept = tuple(reading for place, reading in enumerate(readings) if place not in dropped)
            yield Candidate(kind=ExplanationKind.MISREAD, features=features, readings=kept)
