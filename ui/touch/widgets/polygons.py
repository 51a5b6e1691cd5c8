"""Filled convex polygons, any number of them in one graphics instruction: a thousand of its own each cost a Pi
megabytes of buffers, and a moment for every one."""

import math
from collections.abc import Iterable, Sequence

from kivy.graphics import Mesh

Point = tuple[float, float]

# Kivy counts the vertices of one mesh in 16 bits.
_MOST_VERTICES = 65_000


def fill_polygon(points: Sequence[Point]) -> None:
    """Add a filled convex polygon to the canvas that is open."""
    fill_polygons([points])


def fill_polygons(polygons: Iterable[Sequence[Point]]) -> None:
    """Add filled convex polygons, all in the colour that holds, to the canvas that is open."""
    vertices: list[float] = []
    indices: list[int] = []
    for points in polygons:
        first = len(vertices) // 4
        if first + len(points) > _MOST_VERTICES:
            Mesh(vertices=vertices, indices=indices, mode="triangles")
            vertices, indices, first = [], [], 0
        vertices += [part for x, y in points for part in (x, y, 0.0, 0.0)]
        indices += [first + corner for second in range(1, len(points) - 1) for corner in (0, second, second + 1)]
    if indices:
        Mesh(vertices=vertices, indices=indices, mode="triangles")


def disc(centre: Point, radius: float, corners: int = 16) -> list[Point]:
    """A small disc, round enough for its size."""
    x, y = centre
    turns = (2.0 * math.pi * corner / corners for corner in range(corners))
    return [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]


def upright(x: float, lower: float, upper: float, width: float) -> list[Point]:
    """A thin upright bar."""
    half = width / 2
    return [(x - half, lower), (x + half, lower), (x + half, upper), (x - half, upper)]
