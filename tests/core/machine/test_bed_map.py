"""Bed maps of simulated beds: a bowed gantry, one bent rail, a twist, one bad coupon, and nothing at all."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.machine.bed_map import BedMap, Pattern, Place, bed_map
from core.machine.directions import Axis
from core.metrology.adjustment import Estimate

U_DEG = 0.02


def bed(skew_at, seed: int | None = None, nx: int = 4, ny: int = 3) -> list[Place]:
    """A grid over 900 x 600 mm; `skew_at` gives the true skew at (x, y) in mm."""
    rng = np.random.default_rng(seed)
    places = []
    for x in np.linspace(60.0, 840.0, nx):
        for y in np.linspace(40.0, 560.0, ny):
            noise = U_DEG * rng.standard_normal() if seed is not None else 0.0
            value = Estimate(value=float(skew_at(x, y)) + noise, u=U_DEG)
            places.append(Place(name=f"{x:.0f}/{y:.0f}", x_mm=float(x), y_mm=float(y), skew_deg=value))
    return places


def proven(found: BedMap) -> set[Pattern]:
    return {finding.pattern for finding in found.patterns if finding.proven}


@pytest.mark.parametrize(
    ("skew_at", "patterns", "words"),
    [
        (lambda x, y: 0.1, set(), "No change over the bed is proven"),
        # A beam bowed as a parabola turns its direction in proportion to x: 0.2 degrees from end to end of the grid.
        (lambda x, y: 0.1 + 0.2 * (x - 450.0) / 780.0, {Pattern.ALONG_X}, "the gantry is bowed"),
        # One rail's drive gains on the other: the yaw grows with the travel.
        (lambda x, y: 0.1 - 0.15 * (y - 300.0) / 520.0, {Pattern.ALONG_Y}, "the gantry turns as it travels"),
        (lambda x, y: 0.1 + 0.3 * (x - 450.0) / 780.0 * (y - 300.0) / 520.0 * 2.0, {Pattern.TWIST}, "a twist"),
    ],
)
def test_patterns_by_geometry(skew_at, patterns: set[Pattern], words: str) -> None:
    found = bed_map(bed(skew_at))
    assert proven(found) == patterns
    assert found.common_deg.value == pytest.approx(0.1, abs=1e-9)
    assert words in str(found.text)
    assert np.max(np.abs(found.left_deg)) < 1e-9
    assert not found.outstanding


def test_amounts_are_from_edge_to_edge_of_the_grid() -> None:
    found = bed_map(bed(lambda x, y: 0.2 * (x - 450.0) / 780.0))
    along_x = found.patterns[0].change_deg
    assert along_x is not None
    assert along_x.value == pytest.approx(0.2)


def test_on_a_gantry_along_y_bow_and_turning_change_places() -> None:
    found = bed_map(bed(lambda x, y: 0.2 * (x - 450.0) / 780.0), Axis.Y)
    assert "the gantry turns as it travels" in str(found.text)
    found = bed_map(bed(lambda x, y: 0.2 * (y - 300.0) / 520.0), Axis.Y)
    assert "the gantry is bowed" in str(found.text)


def test_one_bad_coupon_stands_out() -> None:
    places = bed(lambda x, y: 0.1, seed=11)
    places[5] = replace(places[5], skew_deg=Estimate(value=0.35, u=U_DEG))
    found = bed_map(places)
    assert found.outstanding == (5,)
    assert f"Coupon {places[5].name} stands out, +0.2" in str(found.text)


def test_scatter_without_a_pattern_is_said() -> None:
    rng = np.random.default_rng(8)
    places = bed(lambda x, y: 0.1 + 0.045 * rng.choice([-1.0, 1.0]), seed=2, nx=5, ny=4)
    found = bed_map(places)
    assert found.scatter_proven
    assert "in no simple pattern" in str(found.text) or found.outstanding


def test_significance_is_what_it_is_said_to_be() -> None:
    alarms = [len(proven(bed_map(bed(lambda x, y: 0.1, seed=seed)))) for seed in range(700)]
    assert np.mean(alarms) == pytest.approx(3 * 0.05, abs=0.04)


def test_a_row_of_coupons_cannot_tell_the_other_direction() -> None:
    found = bed_map(bed(lambda x, y: 0.1, ny=1))
    assert [finding.change_deg is None for finding in found.patterns] == [False, True, True]
    assert "cannot tell" in str(found.patterns[1].text)
    with pytest.raises(BadInputError, match="needs 4 coupons"):
        bed_map(bed(lambda x, y: 0.1, nx=3, ny=1))
