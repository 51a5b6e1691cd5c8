"""Feeler stacks and paper: every thickness a drawer can make is made, from one set, each leaf once."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from core.machine.feelers import (
    LEAVES_MM,
    block_and_leaves,
    leaves_for,
    paper_sheets,
)


def test_the_set_is_that_of_the_trade() -> None:
    # 20 leaves, 0.05 to 1.00 mm by 0.05 mm (from memory)
    assert len(LEAVES_MM) == 20
    assert (LEAVES_MM[0], LEAVES_MM[-1]) == (0.05, 1.0)


@given(st.floats(min_value=0.0, max_value=10.5))
def test_any_thickness_is_made_to_half_a_leaf(thickness_mm: float) -> None:
    stack = leaves_for(thickness_mm)
    assert stack is not None
    assert abs(stack.left_mm) <= 0.025 + 1e-9
    assert sum(stack.leaves_mm) == pytest.approx(thickness_mm - stack.left_mm)
    assert len(set(stack.leaves_mm)) == len(stack.leaves_mm)
    assert set(stack.leaves_mm) <= set(LEAVES_MM)


def test_more_than_the_whole_set_cannot_be_made() -> None:
    assert leaves_for(10.6) is None
    assert block_and_leaves(90.0) is None


@pytest.mark.parametrize(
    ("gap_mm", "text"),
    [
        (26.75, "block 25.40 mm + leaves 1.00 + 0.35 mm"),
        (25.40, "block 25.40 mm"),
        (25.38, "block 25.40 mm"),
        (51.15, "block 50.80 mm + leaf 0.35 mm"),
        (1.85, "leaves 1.00 + 0.85 mm"),
        (0.0, "no leaf"),
    ],
)
def test_blocks_and_leaves_in_words(gap_mm: float, text: str) -> None:
    stack = block_and_leaves(gap_mm)
    assert stack is not None
    assert str(stack.text) == text


def test_paper_is_a_tenth_of_a_millimetre() -> None:
    assert [paper_sheets(mm) for mm in (0.0, 0.04, 0.12, 1.68)] == [0, 0, 1, 17]
