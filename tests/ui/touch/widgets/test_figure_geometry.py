"""The instrument is drawn where it has to be held, and every feature is a target for a gloved finger."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from shapely.geometry import LineString, Polygon

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.seats import keyed_seats
from ui.touch.widgets.figure_geometry import ENDS, Figure, place_figure

SIZES = [(120.0, 80.0), (300.0, 200.0), (80.0, 120.0), (300.0, 100.0), (60.0, 60.0)]
AREA = (420.0, 330.0)


def figure(width_mm: float, height_mm: float, *, seats: bool = True) -> Figure:
    given = keyed_seats(width_mm, height_mm) if seats else None
    coupon = Coupon(width_mm=width_mm, height_mm=height_mm, seats=given)
    return place_figure(coupon, AREA, depth_mm=8.0, scale=1.0, target_px=51.0)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("diagonal", DIAGONALS)
def test_the_jaws_of_a_diagonal_lie_flat_on_both_seats(size: tuple[float, float], diagonal: Feature) -> None:
    drawn = figure(*size)
    body = Polygon(drawn.outline)
    for jaw in drawn.jaws(diagonal):
        assert body.intersection(Polygon(jaw)).area < 0.02 * Polygon(jaw).area, "the jaw lies outside the coupon"
    start, end = drawn.span(diagonal)
    for corner, jaw in zip(ENDS[diagonal], drawn.jaws(diagonal), strict=True):
        middle = LineString(drawn.seat(corner)).centroid
        assert Polygon(jaw).distance(middle) < 0.01, "the jaw touches the middle of its seat"
        long_side = max(pairwise(jaw), key=lambda side: math.dist(*side))
        along = complex(*end) - complex(*start)
        side = complex(*long_side[1]) - complex(*long_side[0])
        assert abs((along * side.conjugate()).real) < 1e-6 * abs(along) * abs(side), "square to the diagonal"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("edge", EDGES)
def test_the_jaws_of_an_edge_touch_both_neighbours_beyond_the_seats(size: tuple[float, float], edge: Feature) -> None:
    drawn = figure(*size)
    body = Polygon(drawn.outline)
    first, second, _beam = (Polygon(jaw) for jaw in drawn.jaws(edge))
    for jaw in (first, second):
        assert body.intersection(jaw).area < 0.02 * jaw.area
        touching = body.exterior.intersection(jaw.buffer(0.05))
        assert touching.length >= drawn.depth * 0.95, "the jaw lies along the edge as deep as it is held"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("corner", CORNERS)
def test_the_blades_lie_on_both_edges_of_the_corner(size: tuple[float, float], corner: Feature) -> None:
    drawn = figure(*size, seats=False)
    body = Polygon(drawn.outline)
    for blade in drawn.jaws(corner):
        assert body.intersection(Polygon(blade)).area < 1e-6
        assert body.exterior.intersection(Polygon(blade).buffer(0.05)).length > 20.0


@pytest.mark.parametrize("size", SIZES)
def test_the_wider_pair_of_seats_is_seen_to_be_wider(size: tuple[float, float]) -> None:
    drawn = figure(*size)
    wide, narrow = (math.dist(*drawn.seat(corner)) for corner in (Feature.NL, Feature.NR))
    coupon = Coupon(width_mm=size[0], height_mm=size[1], seats=keyed_seats(*size))
    assert coupon.seats is not None
    assert wide / narrow == pytest.approx(coupon.seats.nl_fr_mm / coupon.seats.nr_fl_mm, rel=0.1)
    assert narrow >= 11.0


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("feature", TEN_FEATURES)
def test_a_finger_on_the_middle_of_a_feature_means_it(size: tuple[float, float], feature: Feature) -> None:
    drawn = figure(*size)
    if feature in CORNERS:
        place = drawn.corner(feature)
    elif feature in EDGES:
        start, end = drawn.span(feature)
        place = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    else:  # both diagonals cross in the middle
        start, end = drawn.span(feature)
        place = (start[0] + 0.7 * (end[0] - start[0]), start[1] + 0.7 * (end[1] - start[1]))
    assert drawn.target_at(place) is feature


def test_without_seats_the_corners_are_sharp() -> None:
    assert len(figure(120.0, 80.0, seats=False).outline) == 4
    assert len(figure(120.0, 80.0).outline) == 8


@pytest.mark.parametrize("edge", [Feature.LEFT, Feature.RIGHT])
def test_the_value_of_an_edge_stands_clear_of_the_jaws_on_it(edge: Feature) -> None:
    figure = place_figure(Coupon(width_mm=120.0, height_mm=80.0), (392.0, 300.0), depth_mm=8.0, scale=1.0, target_px=51)
    x, y = figure.value_at(edge, worn=True)
    half_width, half_height = 28.0, 12.0
    for bar in figure.jaws(edge):
        left, right = min(point[0] for point in bar), max(point[0] for point in bar)
        low, high = min(point[1] for point in bar), max(point[1] for point in bar)
        apart_x = x + half_width < left or right < x - half_width
        assert apart_x or y + half_height < low or high < y - half_height
