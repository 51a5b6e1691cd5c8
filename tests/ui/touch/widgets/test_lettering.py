"""Where a line of text reaches, before it is drawn."""

from __future__ import annotations

import pytest

from ui.touch.widgets.lettering import half_height, picture


@pytest.mark.parametrize("bold", [True, False])
@pytest.mark.parametrize("font_px", [8.0, 10.0, 11.7, 12.0, 16.0, 17.0, 18.0, 22.4, 30.3, 60.0, 118.1])
def test_a_lines_picture_is_no_higher_than_is_said(screen, font_px: float, bold: bool) -> None:
    # What is written is set to a whole pixel.
    assert picture("Äg−1", font_px, bold).height / 2 + 0.5 <= half_height(font_px)
