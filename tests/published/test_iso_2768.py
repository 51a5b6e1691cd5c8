"""ISO 2768-1:1989 and ISO 2768-2:1989, every cell (read in a public copy).

Part 2 was withdrawn in favour of ISO 22081:2021 and is still what drawings say; part 1 is in force.
"""

import pytest

from core.errors import OutsideTableError
from core.metrology.tolerances import angular_tolerance_deg, linear_tolerance_mm, perpendicularity_tolerance_mm

# One size inside each range of table 1: 0.5-3, >3-6, >6-30, >30-120, >120-400, >400-1000, >1000-2000, >2000-4000.
LINEAR_SIZES_MM = (0.5, 6.0, 30.0, 31.0, 400.0, 401.0, 1500.0, 4000.0)
LINEAR_MM = {
    "f": (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, None),
    "m": (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2),
    "c": (0.2, 0.3, 0.5, 0.8, 1.2, 2, 3, 4),
    "v": (None, 0.5, 1, 1.5, 2.5, 4, 6, 8),
}
# Table 3, shorter side: up to 10, >10-50, >50-120, >120-400, above 400.
ANGULAR_SIZES_MM = (10.0, 50.0, 51.0, 400.0, 401.0)
ANGULAR_MINUTES = {
    "f": (60, 30, 20, 10, 5),
    "m": (60, 30, 20, 10, 5),
    "c": (90, 60, 30, 15, 10),
    "v": (180, 120, 60, 30, 20),
}
# Part 2 table 2, shorter side: up to 100, >100-300, >300-1000, >1000-3000.
PERPENDICULARITY_SIZES_MM = (100.0, 101.0, 1000.0, 3000.0)
PERPENDICULARITY_MM = {"H": (0.2, 0.3, 0.4, 0.5), "K": (0.4, 0.6, 0.8, 1), "L": (0.6, 1, 1.5, 2)}


def _cells(sizes_mm, table):
    return [
        (letter, size_mm, value) for letter, row in table.items() for size_mm, value in zip(sizes_mm, row, strict=True)
    ]


@pytest.mark.parametrize(("letter", "size_mm", "expected"), _cells(LINEAR_SIZES_MM, LINEAR_MM))
def test_linear_dimensions(letter, size_mm, expected):
    if expected is None:
        with pytest.raises(OutsideTableError):
            linear_tolerance_mm(size_mm, letter)
    else:
        assert linear_tolerance_mm(size_mm, letter) == expected


@pytest.mark.parametrize(("letter", "size_mm", "minutes"), _cells(ANGULAR_SIZES_MM, ANGULAR_MINUTES))
def test_angular_dimensions(letter, size_mm, minutes):
    assert angular_tolerance_deg(size_mm, letter) == pytest.approx(minutes / 60, abs=1e-12)


@pytest.mark.parametrize(("letter", "size_mm", "expected"), _cells(PERPENDICULARITY_SIZES_MM, PERPENDICULARITY_MM))
def test_perpendicularity(letter, size_mm, expected):
    assert perpendicularity_tolerance_mm(size_mm, letter) == expected
