"""One function makes the limits of a session for command line, text bench and screen; what was chosen is read back."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, strategies as st

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.metrology.tolerances import limits_for_class, own_limits
from tests.ui.scenes import COUPON
from ui.bench.opening import OwnLimits, chosen_limits, limits_of, opening

CLASSES = [part_1 + part_2 for part_1, part_2 in itertools.product("fmcv", ("", "H", "K", "L"))]
LIMIT = st.none() | st.floats(0.001, 10.0)
OWN = st.builds(OwnLimits, edge_mm=LIMIT, perpendicularity_mm=LIMIT, corner_deg=LIMIT, diagonal_mm=LIMIT)


def test_nothing_said_is_the_house_class() -> None:
    assert limits_of(COUPON) == limits_for_class(COUPON, "mK")


def test_own_limits_go_before_those_of_a_class_and_serve_alone_without_one() -> None:
    own = OwnLimits(edge_mm=0.2, diagonal_mm=0.5)
    assert limits_of(COUPON, None, own) == limits_of(COUPON, "", own) == own_limits(edge_mm=0.2, diagonal_mm=0.5)
    both = limits_of(COUPON, "mK", own)
    assert (both.width_edge_mm, both.height_edge_mm, both.diagonal_mm) == (0.2, 0.2, 0.5)
    assert both.perpendicularity_mm == limits_for_class(COUPON, "mK").perpendicularity_mm
    assert both.source == "ISO 2768-mK with own limits"


def test_no_class_and_no_limit_is_refused() -> None:
    with pytest.raises(BadInputError, match="at least one limit must be given"):
        limits_of(COUPON, "")


@pytest.mark.parametrize(
    ("own", "said"),
    [
        (OwnLimits(corner_deg=0.0), "limit of the corners, 0°"),
        (OwnLimits(perpendicularity_mm=2000.0), "limit of the perpendicularity, 2000 mm"),
    ],
)
def test_a_limit_there_is_not_is_refused_in_words(own: OwnLimits, said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        limits_of(COUPON, "mK", own)


@given(tolerance_class=st.sampled_from(["", *CLASSES]), own=OWN, width=st.floats(10, 900), height=st.floats(10, 900))
def test_what_was_chosen_gives_the_same_limits_again(
    tolerance_class: str, own: OwnLimits, width: float, height: float
) -> None:
    coupon = Coupon(width_mm=width, height_mm=height)
    if not tolerance_class and own == OwnLimits():
        return
    opened = opening(coupon, tolerance_class, own=own)
    again = limits_of(coupon, *chosen_limits(opened))
    fields = ("width_edge_mm", "height_edge_mm", "perpendicularity_mm", "corner_deg", "diagonal_mm")
    assert [getattr(again, name) for name in fields] == [getattr(opened.limits, name) for name in fields]
    assert chosen_limits(opened)[0] == tolerance_class
