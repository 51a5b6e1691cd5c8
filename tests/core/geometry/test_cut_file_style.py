"""Cut and mark are told apart by layer, colour and line width, as the person's cutting program wants them."""

from __future__ import annotations

import io
from pathlib import Path

import ezdxf
import pytest

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.geometry.cut_file import CutPlan, draw
from core.geometry.cut_file_text import coupon_text
from core.geometry.line_style import LineStyle

DRAWING = draw(CutPlan(coupon=Coupon(width_mm=120.0, height_mm=80.0)))
STYLE = LineStyle(cut="#ff0000", mark="#00ff00", hairline_mm=0.01)


def test_an_svg_has_the_colours_and_the_line_asked_for() -> None:
    text = coupon_text(Path("a.svg"), DRAWING, "coupon", STYLE)
    assert '<g id="cut" fill="none" stroke="#ff0000" stroke-width="0.01">' in text
    assert '<g id="mark" fill="none" stroke="#00ff00" stroke-width="0.01">' in text


def test_a_dxf_has_them_on_its_layers() -> None:
    document = ezdxf.read(io.StringIO(coupon_text(Path("a.dxf"), DRAWING, "coupon", STYLE)))
    assert document.layers.get("CUT").rgb == (255, 0, 0)
    assert document.layers.get("MARK").rgb == (0, 255, 0)


@pytest.mark.parametrize("wrong", [{"cut": "red"}, {"mark": "#12"}, {"hairline_mm": 0.0}, {"hairline_mm": 2.0}])
def test_what_is_no_colour_or_no_hairline_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(BadInputError):
        LineStyle(**wrong)
