"""A reading of a download keeps the decimals that its instrument resolves, and no bit of it is lost."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from core.records.readings_csv_export import value_text


@pytest.mark.parametrize(
    ("value", "resolution", "text"),
    [
        (143.8, 0.01, "143.80"),
        (120.0, 0.01, "120.00"),
        (89.9, 0.1, "89.9"),
        (90.0, 0.05, "90.00"),
        (12.345, 0.01, "12.345"),
        (119.9896, 0.01, "119.9896"),  # 4.724 inch
        (5e-05, 0.01, "0.00005"),
        (120.0, 0.0, "120.0"),
    ],
)
def test_decimals_of_the_resolution_stay(value: float, resolution: float, text: str) -> None:
    assert value_text(value, resolution) == text


@given(st.floats(-5000.0, 5000.0), st.sampled_from([0.0, 0.001, 0.01, 0.1, 0.5, 1.0]))
def test_what_is_written_is_read_back_to_the_last_bit(value: float, resolution: float) -> None:
    assert float(value_text(value, resolution)) == value
