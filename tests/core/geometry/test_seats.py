"""Seats across the corners: their rule, their key, and the distance between them against polygons that are cut."""

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.geometry.seated_diagonals import seated_diagonals
from core.geometry.seats import Seats, are_keyed, equal_seats, key_deg, keyed_seats, seat_legs, seat_to_seat_mm
from core.geometry.shape import Number, OfTwo, corners_mm, edges_of

KEYED = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
SHAPES = np.random.default_rng(5).normal(0.0, 0.02, (20, 5))


def readings(coupon: Coupon, shape: np.ndarray) -> list[float]:
    a, b, g, tx, ty = shape.tolist()
    return seat_to_seat(coupon, (a, b, g, tx, ty), math.hypot)[0]


def seat_to_seat(
    coupon: Coupon, shape: tuple[Number, Number, Number, Number, Number], hypot: OfTwo[Number]
) -> tuple[list[Number], list[list[Number]]]:
    assert coupon.seats is not None
    return seated_diagonals(coupon, coupon.seats, shape, edges_of(coupon, shape, hypot), hypot)


def closed_jaws(coupon: Coupon, shape: np.ndarray, diagonal: Feature) -> float:
    """A caliper closed on the polygon without its four corners, its beam square to the chords' mean direction."""
    polygon = corners_mm(coupon, shape)
    chords = {}
    for place, corner in enumerate((Feature.NL, Feature.NR, Feature.FR, Feature.FL)):
        legs = coupon.legs(corner)
        way = (legs.along_x_mm, legs.along_y_mm) if place % 2 == 0 else (legs.along_y_mm, legs.along_x_mm)
        ends = [
            LineString([polygon[place], polygon[(place + step) % 4]]).interpolate(leg)
            for step, leg in zip((1, -1), way, strict=True)
        ]
        chords[corner] = LineString(ends)
    first, second = (
        (chords[Feature.NL], chords[Feature.FR])
        if diagonal is Feature.NL_FR
        else (chords[Feature.NR], chords[Feature.FL])
    )
    across = [np.subtract(chord.coords[1], chord.coords[0]) for chord in (first, second)]
    if np.dot(*across) < 0.0:
        across[1] = -across[1]
    turn_deg = math.degrees(math.atan2(*(across[0] + across[1])[::-1]))
    flat = [rotate(chord.centroid, -turn_deg, origin=Point(0.0, 0.0)) for chord in (first, second)]
    return abs(flat[1].y - flat[0].y)


def test_legs_and_distance_of_the_usual_coupon() -> None:
    legs = seat_legs(120.0, 80.0, 5.0)
    assert (legs.along_x_mm, legs.along_y_mm) == pytest.approx((2.714, 4.199), abs=5e-4)
    assert seat_to_seat_mm(120.0, 80.0, 5.0) == pytest.approx(139.649, abs=5e-4)
    assert seat_to_seat_mm(120.0, 80.0, 8.0) == pytest.approx(136.951, abs=5e-4)


@given(st.floats(20.0, 4000.0), st.floats(0.3, 1.0), st.floats(0.01, 0.2))
def test_a_seat_is_square_to_the_line_that_joins_it_with_its_opposite(
    width: float, slender: float, share: float
) -> None:
    height = width * slender
    legs = seat_legs(width, height, share * height)
    assert math.hypot(legs.along_x_mm, legs.along_y_mm) == pytest.approx(share * height)
    along, up = width - legs.along_x_mm, height - legs.along_y_mm
    assert (along * -legs.along_x_mm + up * legs.along_y_mm) / math.hypot(along, up) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("size", "seat_mm"), [((120.0, 80.0), 5), ((300.0, 200.0), 6), ((300.0, 100.0), 8)])
def test_the_width_leaves_room_for_jaws_a_degree_askew(size: tuple[float, float], seat_mm: float) -> None:
    assert equal_seats(*size) == Seats(nl_fr_mm=seat_mm, nr_fl_mm=seat_mm)
    assert equal_seats(*size[::-1]) == equal_seats(*size)


def test_a_small_coupon_gets_small_seats() -> None:
    assert equal_seats(40.0, 30.0).nl_fr_mm == pytest.approx(3.6)


def test_the_usual_keys_are_8_and_5_mm_and_look_like_more_than_two_degrees() -> None:
    assert KEYED.seats == Seats(nl_fr_mm=8.0, nr_fl_mm=5.0)
    assert key_deg(120.0, 80.0, Seats(nl_fr_mm=8.0, nr_fl_mm=5.0)) == pytest.approx(2.32, abs=0.005)
    assert not are_keyed(120.0, 80.0, Seats(nl_fr_mm=7.0, nr_fl_mm=5.0))


@given(st.floats(10.0, 4000.0), st.floats(0.2, 5.0))
def test_every_coupon_of_usual_proportions_is_keyed(width: float, slender: float) -> None:
    height = min(4000.0, max(10.0, width * slender))
    seats = keyed_seats(width, height)
    assert are_keyed(width, height, seats)
    Coupon(width_mm=width, height_mm=height, seats=seats)


def test_a_strip_without_room_for_keys_gets_equal_seats_and_says_so() -> None:
    seats = keyed_seats(4000.0, 100.0)
    assert seats == equal_seats(4000.0, 100.0)
    assert not are_keyed(4000.0, 100.0, seats)


def test_diagonals_taken_for_one_another_look_like_no_less_than_the_key() -> None:
    """From the shape itself: the readings of a square coupon, exchanged, are those of the key's skew or a little more.

    The seats turn with the skew, so their distance grows a little slower than the diagonal from corner to corner.
    """

    def difference_mm(skew: float) -> float:
        nl_fr_mm, nr_fl_mm = readings(KEYED, np.array([0.0, 0.0, math.tan(math.radians(skew)), 0.0, 0.0]))
        return nl_fr_mm - nr_fl_mm

    assert KEYED.seats is not None
    key = key_deg(120.0, 80.0, KEYED.seats)
    assert difference_mm(key) <= -difference_mm(0.0) <= difference_mm(1.1 * key)


def test_the_nominal_value_of_a_diagonal_is_seat_to_seat() -> None:
    assert KEYED.nominal(Feature.NL_FR) == pytest.approx(136.951, abs=5e-4)
    assert KEYED.nominal(Feature.NR_FL) == pytest.approx(139.649, abs=5e-4)
    assert readings(KEYED, np.zeros(5)) == pytest.approx([KEYED.nominal(Feature.NL_FR), KEYED.nominal(Feature.NR_FL)])
    assert replace(KEYED, seats=None).nominal(Feature.NL_FR) == KEYED.diagonal_mm
    assert replace(KEYED, seats=None).legs(Feature.NL).along_x_mm == 0.0


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("place", [0, 1])
def test_the_reading_is_that_of_jaws_closed_on_the_cut_polygon(shape: np.ndarray, place: int) -> None:
    diagonal = (Feature.NL_FR, Feature.NR_FL)[place]
    assert readings(KEYED, shape)[place] == pytest.approx(closed_jaws(KEYED, shape, diagonal), abs=1e-9)


def test_without_skew_the_distance_is_the_extent_of_the_polygon_along_the_diagonal() -> None:
    """shapely cuts the corners off and measures: square seats close on the whole flat, so the hull's extent is it."""
    width, height = KEYED.width_mm, KEYED.height_mm
    for corner, opposite in ((Feature.NL, Feature.FR), (Feature.NR, Feature.FL)):
        legs = KEYED.legs(corner)
        sides = Polygon([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
        left = corner is Feature.NL
        triangles = [
            Polygon([(x, y), (x + sx * legs.along_x_mm, y), (x, y + sy * legs.along_y_mm)])
            for x, y, sx, sy in (
                (0.0 if left else width, 0.0, 1.0 if left else -1.0, 1.0),
                (width if left else 0.0, height, -1.0 if left else 1.0, -1.0),
            )
        ]
        body = sides.difference(triangles[0]).difference(triangles[1])
        angle_deg = math.degrees(math.atan2(height - legs.along_y_mm, width - legs.along_x_mm))
        low, _, high, _ = rotate(body, -angle_deg if left else angle_deg, origin=(0.0, 0.0)).bounds
        assert high - low == pytest.approx(KEYED.nominal(Feature.NL_FR if opposite is Feature.FR else Feature.NR_FL))


@pytest.mark.parametrize("shape", SHAPES)
def test_derivatives_agree_with_central_differences(shape: np.ndarray) -> None:
    a, b, g, tx, ty = shape.tolist()
    _, rows = seat_to_seat(KEYED, (a, b, g, tx, ty), math.hypot)
    h = 1e-6
    for k, unit in enumerate(np.eye(5)):
        numeric = np.subtract(readings(KEYED, shape + h * unit), readings(KEYED, shape - h * unit)) / (2.0 * h)
        assert [row[k] for row in rows] == pytest.approx(numeric, abs=1e-5)


def test_many_shapes_at_once_are_each_their_own() -> None:
    a, b, g, tx, ty = np.ascontiguousarray(SHAPES.T)
    values, rows = seat_to_seat(KEYED, (a, b, g, tx, ty), np.hypot)
    for at, shape in enumerate(SHAPES):
        one, row = seat_to_seat(KEYED, tuple(shape.tolist()), math.hypot)
        assert [column[at] for column in values] == pytest.approx(one)
        assert np.array([[by[at] for by in by_shape] for by_shape in rows]) == pytest.approx(np.array(row))


def test_seats_that_fit_no_coupon_are_refused_with_the_reason() -> None:
    for seats in ((0.0, 0.0), (math.nan, 5.0), (5.0, 8.0)):
        with pytest.raises(BadInputError, match="seat"):
            Seats(nl_fr_mm=seats[0], nr_fl_mm=seats[1])
    with pytest.raises(BadInputError, match="third of a side"):
        Coupon(width_mm=120.0, height_mm=80.0, seats=Seats(nl_fr_mm=60.0, nr_fl_mm=5.0))
