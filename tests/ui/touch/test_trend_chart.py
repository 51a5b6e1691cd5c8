"""The trend of years of coupons costs no more graphics instructions than that of a few."""

from __future__ import annotations

from msgspec.structs import replace

from ui.pages.history import Chart, TrendPoint
from ui.touch.widgets.polygons import disc


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


def test_what_another_bench_measured_is_a_ring(screen) -> None:
    own = Chart(points=tuple(TrendPoint(place=number / 10, value=0.1, u95=0.05) for number in range(10)))
    shared = Chart(points=(*own.points[:5], *(replace(point, elsewhere=True) for point in own.points[5:])))
    assert drawn(screen, shared) == drawn(screen, own) + 5 * len(disc((0.0, 0.0), 1.0))


def drawn(screen, chart: Chart) -> int:
    """Corners of all that is drawn as polygons."""
    from kivy.graphics import Mesh

    from ui.touch.widgets.trend_chart import TrendChart

    widget = TrendChart()
    widget.size, widget.chart = (400, 200), chart
    screen.frames(2)
    meshes = [one for one in every(widget.canvas) if isinstance(one, Mesh)]
    return sum(len(mesh.vertices) // 4 for mesh in meshes)


def every(group):
    for child in group.children:
        yield child
        if hasattr(child, "children"):
            yield from every(child)
