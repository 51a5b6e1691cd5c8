"""One scale for every drawing: a limit is as long whatever it is, and a part that is GO never looks worse than one that
is not."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES
from core.geometry.shape import true_features
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import evaluate
from core.metrology.readings import Reading
from core.metrology.tolerances import Limits
from core.metrology.verdict import Verdict
from core.records.bed_picture import bed_picture
from core.records.outline import MOST_LIMITS, place_outline, whole_outline
from core.records.shape_picture import LIMIT_SHARE, StrokeStyle, picture_of
from tests.ui.scenes import GRID_SKEWS, SCENES, with_grid

SIZES = ((120.0, 80.0), (300.0, 100.0), (80.0, 80.0))
LIMITS = (0.1, 0.2, 0.4, 0.8)


def judged(shape: np.ndarray, size: tuple[float, float], edge_mm: float, square_mm: float):
    """A coupon of this shape, read twice without a fault, against these limits."""
    coupon = Coupon(width_mm=size[0], height_mm=size[1])
    values = dict(zip(TEN_FEATURES, true_features(coupon, shape)[0].tolist(), strict=True))
    limits = Limits(source="own limits", width_edge_mm=edge_mm, height_edge_mm=edge_mm, perpendicularity_mm=square_mm)
    readings = [Reading(feature=f, value=values[f]) for f in (*EDGES, *DIAGONALS) * 2]
    return evaluate(coupon, readings, limits, MeasuringSetup())


def farthest_in_limits(evaluation) -> float:
    """How far any corner of the drawing stands from its nominal place, in lengths of a limit, along X or Y."""
    outline = whole_outline(evaluation)
    assert outline is not None
    corners = np.array(place_outline(outline, (0.0, 0.0, 120.0, 80.0), 1.0))
    return float(np.abs(corners - np.array([(0, 0), (120, 0), (120, 80), (0, 80)])).max())


def test_a_go_part_never_looks_worse_than_one_that_is_not() -> None:
    drawn = np.random.default_rng(18)
    words = {Verdict.GO: [], Verdict.NO_GO: []}
    for _ in range(120):
        shape = drawn.normal(0.0, (0.001, 0.001, 0.002, 0.0004, 0.0004))
        edge_mm, square_mm = drawn.choice(LIMITS, 2)
        one = judged(shape, SIZES[drawn.integers(len(SIZES))], edge_mm, square_mm)
        if one.verdict in words and all(abs(c.share) < 1.0 for c in one.characteristics) is (one.verdict is Verdict.GO):
            words[one.verdict].append(farthest_in_limits(one))
    assert min(map(len, words.values())) > 10
    assert max(words[Verdict.GO]) <= 1.0 < min(words[Verdict.NO_GO])


@pytest.mark.parametrize("limit_mm", LIMITS)
@pytest.mark.parametrize("size", SIZES)
def test_a_limit_is_as_long_on_paper_whatever_it_is(limit_mm: float, size: tuple[float, float]) -> None:
    at_limit = judged(np.array((0.0, 0.0, 3.0 * limit_mm / min(size), 0.0, 0.0)), size, limit_mm, limit_mm)
    picture = picture_of(at_limit)
    band = next(stroke for stroke in picture.strokes if stroke.style is StrokeStyle.BAND)
    assert np.ptp(np.array(band.points)[:, 0]) == pytest.approx(2.0 * LIMIT_SHARE * min(size))
    # Three limits off: as far as a drawing goes, and outside of the band.
    (true,) = (stroke for stroke in picture.strokes if stroke.style is StrokeStyle.TRUE)
    assert true.points[0][0] == pytest.approx(-size[0] / 2.0 - MOST_LIMITS * LIMIT_SHARE * min(size), rel=0.01)
    assert f"squareness {limit_mm:.2f} mm" in str(picture.caption)


def test_a_coupon_in_an_unknown_shape_is_drawn_as_nominal() -> None:
    picture = picture_of(SCENES["inconsistent"]().evaluation)
    assert {stroke.style for stroke in picture.strokes} == {StrokeStyle.NOMINAL, StrokeStyle.MARK}
    assert "contradict" in str(picture.caption)


def test_a_coupon_whose_skew_cannot_be_told_is_drawn_as_nominal_and_says_so() -> None:
    """It was said that nothing read has a limit, beside the limit of squareness."""
    picture = picture_of(SCENES["other-seats"]().evaluation)
    assert {stroke.style for stroke in picture.strokes} == {StrokeStyle.NOMINAL, StrokeStyle.MARK}
    assert "skew cannot be told" in str(picture.caption)


@pytest.mark.parametrize("limit_deg", [0.05, 0.29, 1.0])
def test_the_bed_leans_in_limits_too(limit_deg: float) -> None:
    grid = with_grid(
        {name: limit_deg * share for name, share in zip(GRID_SKEWS, (-0.9, 0, 0.9, -5, 0, 2), strict=True)}
    )
    found = grid.records.grid.map
    picture = bed_picture(replace(found, limit_deg=limit_deg))
    drawn = [one for one in picture.strokes if one.style in (StrokeStyle.TRUE, StrokeStyle.FAILING)]
    off = [np.ptp(np.array(one.points)[[0, 3], 0]) for one in drawn]
    limit = 2.0 * LIMIT_SHARE * 80.0
    by_place = dict(zip([place.name for place in found.places], off, strict=True))
    assert [by_place[name] / limit for name in sorted(by_place)] == pytest.approx(
        [2 * 0.9, 2 * MOST_LIMITS, 0, 0, 2 * 0.9, 2 * 2], abs=1e-6
    )
    failing = [place.name for place, one in zip(found.places, drawn, strict=True) if one.style is StrokeStyle.FAILING]
    assert sorted(failing) == ["A2", "C2"]
    assert str(picture.caption) == f"The band is ± {limit_deg:.2f}°"
    assert {one.style for one in bed_picture(replace(found, limit_deg=None)).strokes} == {
        StrokeStyle.NOMINAL,
        StrokeStyle.TRUE,
    }
