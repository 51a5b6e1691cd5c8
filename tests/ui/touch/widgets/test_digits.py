"""Figures that another number was written over stand as if they had been written first."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, example, given, settings, strategies as st

from ui.touch.widgets.digits import Digits

_NUMBERS = st.lists(st.text("0189.,–−+", max_size=7), min_size=2, max_size=5)


def standing(digits: Digits) -> list[tuple[object, ...]]:
    return [(cell.texture, tuple(cell.size), tuple(cell.pos)) for cell in digits._cells]


def written(number: str, align: str) -> Digits:
    digits = Digits()
    digits.text, digits.align, digits.digit_px, digits.figures, digits.narrowest = number, align, 40, 5, 0.82
    digits.pos, digits.size = (31, 17), (180, 60)
    return digits


@pytest.mark.parametrize("align", ["left", "right"])
@given(numbers=_NUMBERS)
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_number_written_over_another_stands_as_one_written_first(screen, align: str, numbers: list[str]) -> None:
    over = written(numbers[0], align)
    for number in numbers[1:]:
        over.text = number
    assert standing(over) == standing(written(numbers[-1], align))


@pytest.mark.parametrize("align", ["left", "right"])
@given(numbers=_NUMBERS)
@example(numbers=["88888.18", "888881.8"])  # the first ones stand out of the box, and stay
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_figures_draw_within_their_bounds(screen, align: str, numbers: list[str]) -> None:
    """Those that stay where they stood as well: what is drawn anew next to them ends at what is said here."""
    digits = written(numbers[0], align)
    for number in numbers[1:]:
        digits.text = number
        left, low, right, high = digits.bounds
        for _texture, (wide, tall), (x, y) in standing(digits):
            assert left <= x
            assert low <= y
            assert x + wide <= right
            assert y + tall <= high
