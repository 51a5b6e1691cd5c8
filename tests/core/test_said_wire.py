"""What is said comes through a pipe as it went in, and nothing else is taken for it."""

from __future__ import annotations

import json

import pytest

from core.said import Angle, Column, Length, Name, Number, Part, Series, Size, said, said_counted, said_in
from core.said_wire import packed, unpacked


@pytest.mark.parametrize(
    "part",
    [
        Name("Left {of} it"),
        said("{what}: {again}", what=Length(3.9, u_mm=0.7), again=said_in("side", "left")),
        said_counted("{count} coupon", "{count} coupons", count=3),
        Series((Angle(89.6, signed=True), Column(Number(12.5, 1, "%"), 9, right=True), Size(120.0, 80.0)), joint=", "),
    ],
)
def test_it_comes_through_as_it_went_in(part: Part) -> None:
    assert unpacked(json.loads(json.dumps(packed(part)))) == part


@pytest.mark.parametrize("plain", [None, "text", [], {}, {"kind": "Path"}, {"kind": "Name"}, {"kind": "Name", "x": 1}])
def test_nothing_else_is_taken_for_it(plain: object) -> None:
    with pytest.raises(ValueError, match="nothing that is said"):
        unpacked(plain)
