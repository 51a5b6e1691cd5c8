"""A small sign that was another one before looks as one that was made just now."""

from __future__ import annotations

from kivy.graphics import Color, Ellipse, Line, Rectangle
from kivy.graphics.instructions import Instruction, InstructionGroup

from core.said import said
from tests.ui.instructions import instructions_of
from ui.pages.theme import DARK, LIGHT, Shape
from ui.touch.widgets.lamp import ShapeSign, Word


def drawn(group: InstructionGroup) -> list[tuple[object, ...]]:
    """What stands in a canvas: kinds, places, colours."""
    return [looks(one) for one in instructions_of(group)]


def looks(one: Instruction) -> tuple[object, ...]:
    match one:
        case Color():
            return (Color, *one.rgba)
        case Line():
            return (Line, *one.points)
        case Rectangle() | Ellipse():
            return (type(one), *one.pos, *one.size, one.texture.id if one.texture else None)
    return (type(one),)


def test_a_sign_and_its_word_follow_place_and_theme_whatever_they_were_before(screen) -> None:
    sign, word = ShapeSign(), Word()
    shown = ((Shape.DISC, said("go")), (Shape.CROSSED_SQUARE, said("no-go")), (Shape.DISC, said("go")))
    try:
        for palette in (LIGHT, DARK, LIGHT):
            screen.app.palette = palette
            for pos, size in (((10, 20), (40, 40)), ((10, 20), (60, 30)), ((90, 20), (60, 30))):
                sign.pos = word.pos = pos
                sign.size = word.size = size
                for shape, text in shown:
                    sign.shape, word.word = shape, text
                    other_sign, other_word = ShapeSign(), Word()
                    other_sign.pos = other_word.pos = pos
                    other_sign.size = other_word.size = size
                    other_sign.shape, other_word.word = shape, text
                    assert drawn(sign.canvas) == drawn(other_sign.canvas)
                    assert drawn(word.canvas) == drawn(other_word.canvas)
    finally:
        screen.app.palette = LIGHT
