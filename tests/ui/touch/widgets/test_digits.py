"""Figures that another number was written over stand as if they had been written first."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, strategies as st
from kivy.graphics import Mesh

from tests.examples import some_of_all
from ui.touch.reach import union
from ui.touch.widgets import digits, lettering
from ui.touch.widgets.digits import CELL_CHARACTERS, NO_INK, NUMBERS, Digits
from ui.touch.widgets.lettering import Sheet, picture

_NUMBERS = st.lists(st.text("0189.,–−+", max_size=7), min_size=2, max_size=5)


def standing(digits: Digits) -> list[tuple[object, ...]]:
    """Of each letter its place on the sheet, its size and its place in the window."""
    mesh = next(one for one in digits.canvas.children if isinstance(one, Mesh))
    numbers = list(mesh.vertices)
    quads = [numbers[at : at + NUMBERS] for at in range(0, len(numbers), NUMBERS)]
    found = [((*quad[2:4], *quad[10:12]), (quad[8] - quad[0], quad[9] - quad[1]), (quad[0], quad[1])) for quad in quads]
    if not digits.text:
        assert found == [((0, 0, 0, 0), (0, 0), (0, 0))]
        return []
    assert len(found) == len(digits.text)
    return found


def written(number: str, align: str) -> Digits:
    digits = Digits()
    digits.text, digits.align, digits.digit_px, digits.figures, digits.narrowest = number, align, 40, 5, 0.82
    digits.pos, digits.size = (31, 17), (180, 60)
    return digits


@pytest.mark.parametrize("align", ["left", "right"])
@given(numbers=_NUMBERS)
@some_of_all(40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_number_written_over_another_stands_as_one_written_first(screen, align: str, numbers: list[str]) -> None:
    over = written(numbers[0], align)
    for number in numbers[1:]:
        over.text = number
    assert standing(over) == standing(written(numbers[-1], align))


def test_only_so_many_forms_are_kept_and_each_is_right_when_it_comes_again(screen, monkeypatch) -> None:
    monkeypatch.setattr(digits, "MOST_ROOMS", 3)
    over = written("0", "right")
    for number in ("0.00", "+1.50", "12.5", "0.00", "–", "120.00", "+1.50", "8,8", "0.00"):
        over.text = number
        assert standing(over) == standing(written(number, "right"))
        assert len(over._rooms) <= 3


@pytest.mark.parametrize("align", ["left", "right"])
@given(numbers=_NUMBERS)
@example(numbers=["88888.18", "888881.8"])  # the first ones stand out of the box, and stay
@some_of_all(40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_figures_draw_within_their_bounds(screen, align: str, numbers: list[str]) -> None:
    """Those that stay where they stood as well: what is drawn anew next to them ends at what is said here."""
    digits = written(numbers[0], align)
    for number in numbers[1:]:
        digits.text = number
        left, low, right, high = digits.bounds
        for _texture, (wide, tall), (x, y) in standing(digits):
            assert left <= x
            assert low <= y
            assert x + wide <= right
            assert y + tall <= high


@pytest.mark.parametrize("align", ["left", "right"])
@given(numbers=_NUMBERS)
@example(numbers=["120.00", "121.50", "119.99"])
@example(numbers=["000000", "00000–", "–00000"])  # a dash stands out of its cell
@some_of_all(60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_was_written_over_lies_where_it_is_said_to_have_changed(screen, align: str, numbers: list[str]) -> None:
    digits = written(numbers[0], align)
    digits.take_changed()
    before, bounds = standing(digits), digits.bounds
    for number in numbers[1:]:
        digits.text = number
        after, changed = standing(digits), digits.take_changed()
        left, low, right, high = changed or digits.bounds
        if changed is None and bounds != digits.bounds:
            left, low, right, high = union((bounds, digits.bounds))
        for _texture, (wide, tall), (x, y) in set(before) ^ set(after):
            assert left <= x
            assert low <= y
            assert x + wide <= right
            assert y + tall <= high
        before, bounds = after, digits.bounds


@pytest.mark.parametrize("width", [60, 90, 400])
def test_figures_in_another_width_stand_as_if_they_had_been_written_there(screen, width: int) -> None:
    over, first = written("120.00", "left"), written("", "left")
    over.width = first.width = width
    first.text = "120.00"
    assert standing(over) == standing(first)


def test_only_the_figures_from_the_first_that_changed_are_drawn_anew(screen) -> None:
    digits = written("120.00", "right")
    digits.take_changed()
    digits.text = "120.01"
    changed = digits.take_changed()
    assert changed is not None
    assert changed[2] - changed[0] < (digits.bounds[2] - digits.bounds[0]) / 3
    assert changed[3] - changed[1] < 0.8 * digits.height
    assert digits.take_changed() is None


def test_another_colour_changes_every_figure(screen) -> None:
    digits = written("120.00", "right")
    digits.take_changed()
    digits.text = "120.01"
    digits.color = (1, 0, 0, 1)
    assert digits.take_changed() is None


@pytest.mark.parametrize("font_px", [11.0, 14.0, 21.1, 40.3, 56.3, 84.0, 118.1, 200.0])
@pytest.mark.parametrize("bold", [True, False])
def test_no_figure_has_ink_in_the_rows_that_are_cut_off(screen, font_px: float, bold: bool) -> None:
    cut = int(NO_INK * font_px)
    for letter in CELL_CHARACTERS + ".":
        alpha = lettered(letter, font_px, bold)
        assert not alpha[:cut].any()
        assert not alpha[len(alpha) - cut :].any()


def lettered(letter: str, font_px: float, bold: bool) -> np.ndarray:
    whole = picture(letter, font_px, bold)
    return np.frombuffer(whole.pixels, np.uint8).reshape(whole.height, whole.width, 4)[..., 3]


@pytest.mark.parametrize(("font_px", "bold"), [(11.0, False), (40.3, True), (40.3, False), (265.8, True)])
def test_a_letter_lies_on_its_sheet_as_it_is_lettered_alone_however_many_come(screen, font_px, bold) -> None:
    one = Sheet(font_px, bold)
    first = one.texture
    letters = [*CELL_CHARACTERS, *"., °′″min"]
    for letter in letters:
        one.slot(letter)
    for letter in map(chr, range(0xC0, 0x17F)):
        if one.texture is not first:
            break
        one.slot(letter)
        letters.append(letter)
    assert one.texture.height == 2 * first.height
    assert one.texture.width == first.width <= lettering.WIDEST_PX
    pixels = np.frombuffer(one.texture.pixels, np.uint8).reshape(one.texture.height, one.texture.width, 4)[..., 3]
    for letter in letters:
        slot, alone = one.slot(letter), lettered(letter, font_px, bold)
        on_sheet = pixels[slot.row : slot.row + slot.high, slot.left : slot.left + slot.wide]
        assert (on_sheet == alone).all() or (on_sheet == alone[::-1]).all(), letter


def test_figures_go_on_where_their_sheet_was_full(screen, monkeypatch) -> None:
    monkeypatch.setattr(lettering, "SHEET_HIGH", 1.2)
    lettering.sheet.cache_clear()
    over = written("00.00", "right")
    first = over._sheet.texture
    for number in ("12.34", "+567,8", "––––.–", "−9 mm", "°′″", "10.00"):
        over.text = number
    assert over._sheet.texture is not first
    assert over._mesh.texture is over._sheet.texture
    assert standing(over) == standing(written("10.00", "right"))
    lettering.sheet.cache_clear()
