"""The trend of years of coupons costs no more graphics instructions than that of a few."""

from __future__ import annotations

from ui.pages.history import Chart, TrendPoint


def instructions(screen, count: int) -> int:
    from ui.touch.widgets.trend_chart import TrendChart

    points = tuple(TrendPoint(place=number / count, value=0.1, u95=0.05) for number in range(count))
    widget = TrendChart()
    widget.size, widget.chart = (400, 200), Chart(points=points)
    screen.frames(2)

    def of(group) -> int:
        return sum(of(child) if hasattr(child, "children") else 1 for child in group.children)

    return of(widget.canvas)


def test_a_thousand_coupons_are_drawn_by_as_many_instructions_as_ten(screen) -> None:
    few, many = (instructions(screen, count) for count in (10, 1000))
    assert few > 5
    assert many == few


def test_what_no_mesh_can_hold_is_drawn_by_the_next(screen) -> None:
    assert instructions(screen, 7000) > instructions(screen, 10)
