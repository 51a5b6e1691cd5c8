"""What can be wrong with a screen, found from its widgets and its pixels: text cut, text over text, targets or type too
small, words hard to read."""

from __future__ import annotations

import re
from functools import cache
from itertools import combinations, pairwise, product

import numpy as np
from kivy.core.window import Window
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.label import Label
from kivy.uix.scrollview import ScrollView
from kivy.uix.widget import Widget
from scipy.ndimage import distance_transform_edt

from core.geometry.features import TEN_FEATURES, WINDOW, Feature
from tests.ui.contrast import contrast_ratio
from tests.ui.offscreen import Offscreen
from ui.touch.widgets.coupon_figure import CouponFigure
from ui.touch.widgets.digits import Digits
from ui.touch.widgets.figure_geometry import Figure

Box = tuple[float, float, float, float]  # left, bottom, right, top; px of the window

MIN_CONTRAST = 4.5  # WCAG 2, 1.4.3
# Long side and short side of the picture, mm, as data sheets of such panels have it (from memory).
SEVEN_INCHES_MM = (154.0, 86.0)
THREE_AND_A_HALF_INCHES_MM = (73.4, 49.0)
TARGET_MM = 9.0
SMALL_PANEL_TARGET_MM = 5.2  # 480 x 320 on 3.5 inches: what fits
SMALLEST_CAPITALS_MM = 2.0  # on 7 inches: 14 minutes of arc at 500 mm
CAPITAL_HEIGHT = 0.711  # of Roboto, em
FILE_NAME = re.compile(r"/|\w\.[a-z]+$")
GRID_PX = 1.5  # how finely the drawing is searched for what a touch means
LOOKED_AT = ("practice", "verdict")  # there the coupon is shown, and nothing on it is chosen
COARSE = 8  # cells that are passed over where nothing changes: 12 px, a third of the smallest target


def faults(screen: Offscreen) -> list[str]:
    """Everything that is wrong with what is in sight, as sentences."""
    return faults_of_place(screen) + _faint(_labels(screen), screen.pixels())


def faults_of_place(screen: Offscreen) -> list[str]:
    """What is wrong with where things stand, found without pixels."""
    labels = _labels(screen)
    cut = [fault for label in labels for fault in _cut(label)]
    return cut + _overlaps(labels) + _small_targets(screen) + _small_features(screen) + _small_type(labels)


def _labels(screen: Offscreen) -> list[Label]:
    return [widget for widget in in_sight(screen.app.root) if isinstance(widget, Label) and str(widget.text).strip()]


def in_sight(widget: Widget) -> list[Widget]:
    """The widget and its children as far as they are shown."""
    if widget.opacity == 0 or widget.width < 1 or widget.height < 1:
        return []
    return [widget, *(shown for child in widget.children for shown in in_sight(child))]


def text_box(label: Label) -> Box:
    """Where the text itself stands, inside its widget."""
    width, height = label.texture_size
    x, y = label.to_window(label.x, label.y)
    left = {"left": x, "center": x + (label.width - width) / 2, "right": x + label.width - width, "auto": x}[
        label.halign if label.text_size[0] else "center"
    ]
    if label.text_size[0] and label.halign != "left":
        left = x
    bottom = y + (label.height - height) / 2
    if label.valign == "top" and label.text_size[1]:
        bottom = y
    return left, bottom, left + width, bottom + height


def _viewport(widget: Widget) -> Box | None:
    """The window of the list that the widget scrolls in, if it does."""
    parent = widget.parent
    while parent is not None and parent is not Window and not isinstance(parent, ScrollView):
        parent = parent.parent
    if not isinstance(parent, ScrollView):
        return None
    x, y = parent.to_window(parent.x, parent.y)
    return x, y, x + parent.width, y + parent.height


def _seen(label: Label) -> Box | None:
    """The part of the text's box that is in sight."""
    box, view = text_box(label), _viewport(label)
    if view is None:
        return box
    left, bottom = max(box[0], view[0]), max(box[1], view[1])
    right, top = min(box[2], view[2]), min(box[3], view[3])
    return (left, bottom, right, top) if right - left > 1 and top - bottom > 1 else None


def _cut(label: Label) -> list[str]:
    width, height = label.texture_size
    if label.shorten:
        return [f"shortened: {label.text!r}"] if label.is_shortened else []
    found = []
    if label.text_size[0]:
        # As it is drawn, in the person's language and units; a word wider than its line is broken anywhere, which only
        # the name of a file or device may be.
        words = [word for word in re.split("[ \n]", label._label.text) if not FILE_NAME.search(word)] or [""]
        widest = max(words, key=lambda word: label._label.get_extents(word)[0])
        if label._label.get_extents(widest)[0] > label.text_size[0] - label.padding[0] - label.padding[2] + 1:
            found.append(f"broken: {widest!r} of {label.text!r}")
    if width > label.width + 1 or height > label.height + 1:
        found.append(f"cut: {label.text!r} needs {width} x {height}, has {label.width:.0f} x {label.height:.0f}")
    left, bottom, right, top = text_box(label)
    outside = left < -1 or bottom < -1 or right > Window.width + 1 or top > Window.height + 1
    if outside and _viewport(label) is None:
        found.append(f"outside the screen: {label.text!r}")
    # A label with a fixed height lays out more text than it shows without its texture growing.
    if label.text_size[1] and label.valign == "top":
        free = Label(
            text=label._label.text,  # as it is drawn, in the person's language and units
            font_size=label.font_size,
            bold=label.bold,
            text_size=(label.text_size[0], None),
        )
        free.texture_update()
        if free.texture_size[1] > label.height + 1:
            found.append(f"cut below: {label.text!r} needs {free.texture_size[1]}, has {label.height:.0f}")
    return found


def _overlaps(labels: list[Label]) -> list[str]:
    boxes = [(label, box) for label in labels if (box := _seen(label)) is not None]
    return [
        f"{one.text!r} over {other.text!r}"
        for (one, a), (other, b) in combinations(boxes, 2)
        if min(a[2], b[2]) - max(a[0], b[0]) > 2 and min(a[3], b[3]) - max(a[1], b[1]) > 2
    ]


def px_per_mm() -> tuple[float, float]:
    """Across and up, on the panel that has this many px."""
    small = min(Window.size) < 480
    long_mm, short_mm = THREE_AND_A_HALF_INCHES_MM if small else SEVEN_INCHES_MM
    width_mm, height_mm = (long_mm, short_mm) if Window.width > Window.height else (short_mm, long_mm)
    return Window.width / width_mm, Window.height / height_mm


def least_target_px() -> tuple[float, float]:
    """Width and height that every touch target must have on this panel."""
    least_mm = SMALL_PANEL_TARGET_MM if min(Window.size) < 480 else TARGET_MM
    across, up = px_per_mm()
    return least_mm * across, least_mm * up


def target_sizes(screen: Offscreen) -> list[tuple[str, float, float]]:
    """Words, width and height of every button that can be touched, px: as much of it as is not pulled out of sight."""
    sizes = []
    for widget in in_sight(screen.app.root):
        if isinstance(widget, ButtonBehavior) and not widget.disabled:
            width, height = widget.size
            x, y = widget.to_window(widget.x, widget.y)
            if _viewport(widget) is None:
                width = min(x + width, Window.width) - max(x, 0.0)
                height = min(y + height, Window.height) - max(y, 0.0)
            sizes.append((getattr(widget, "text", type(widget).__name__), width, height))
    return sizes


def _small_targets(screen: Offscreen) -> list[str]:
    least = least_target_px()
    small = [
        f"target {width:.0f} x {height:.0f} px: {words!r}"
        for words, width, height in target_sizes(screen)
        if width < least[0] or height < least[1]
    ]
    return small + _squashed_targets(screen.app.root) + _overlapping_targets(screen)


def _squashed_targets(widget: Widget) -> list[str]:
    """A button that is meant to be shown, and has no room at all."""
    if widget.opacity == 0:
        return []
    if widget.width < 1 or widget.height < 1:
        meant = isinstance(widget, ButtonBehavior) and not widget.disabled and bool(getattr(widget, "text", ""))
        return [f"target without room: {widget.text!r}"] if meant else []
    return [fault for child in widget.children for fault in _squashed_targets(child)]


def _overlapping_targets(screen: Offscreen) -> list[str]:
    """A button under another one is not as large as it says."""
    places = []
    for widget in in_sight(screen.app.root):
        if isinstance(widget, ButtonBehavior) and not widget.disabled and _viewport(widget) is None:
            x, y = widget.to_window(widget.x, widget.y)
            places.append((widget, (x, y, x + widget.width, y + widget.height)))
    return [
        f"target {getattr(one, 'text', one)!r} over {getattr(other, 'text', other)!r}"
        for (one, a), (other, b) in combinations(places, 2)
        if min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1
    ]


@cache
def feature_reaches_px(figure: Figure, width_px: float, height_px: float) -> dict[Feature, float]:
    """The diameter of the largest disc that lies in what is touched for each feature, px: a finger is round."""
    rows, columns = int(height_px / GRID_PX), int(width_px / GRID_PX)
    touched = np.full((rows + 2, columns + 2), None, dtype=object)
    touched[1:-1, 1:-1] = _touched(figure, rows, columns)
    features = TEN_FEATURES if figure.window is None else TEN_FEATURES + WINDOW
    return {f: 2.0 * GRID_PX * _reach(touched == f) for f in features}


def _reach(cells: np.ndarray) -> float:
    """The radius of the largest disc among cells that do not touch the rim, in cells: the distance runs from the middle
    of a cell to the middle of the first one outside. All of that lies between the first and the last of them."""
    rows, columns = (np.flatnonzero(cells.any(axis=axis)) for axis in (1, 0))
    if rows.size == 0:
        return -0.5
    around = cells[rows[0] - 1 : rows[-1] + 2, columns[0] - 1 : columns[-1] + 2]
    return float(distance_transform_edt(around).max() - 0.5)


def _touched(figure: Figure, rows: int, columns: int) -> np.ndarray:
    """What every cell of the grid means; a block whose corners and middle mean the same means that everywhere, others
    are looked at by quarters."""
    touched = np.full((rows, columns), None, dtype=object)

    @cache
    def look(row: int, column: int) -> Feature | None:
        return figure.target_at(((column + 0.5) * GRID_PX, (row + 0.5) * GRID_PX))

    def fill(low: int, high: int, left: int, right: int) -> None:
        middle = (low + high) // 2, (left + right) // 2
        seen = {look(row, column) for row, column in (*product((low, high), (left, right)), middle)}
        if len(seen) == 1:
            touched[low : high + 1, left : right + 1] = seen.pop()
        elif high - low <= 1 and right - left <= 1:
            for row, column in product((low, high), (left, right)):
                touched[row, column] = look(row, column)
        else:
            for (bottom, top), (first, last) in product(_halves(low, high), _halves(left, right)):
                fill(bottom, top, first, last)

    marks = [sorted({*range(0, cells, COARSE), cells - 1}) for cells in (rows, columns)]
    for (low, high), (left, right) in product(pairwise(marks[0]), pairwise(marks[1])):
        fill(low, high, left, right)
    return touched


def _halves(first: int, last: int) -> tuple[tuple[int, int], ...]:
    """Both sides of the middle, which belongs to either; a pair of neighbours is not divided."""
    middle = (first + last) // 2
    return ((first, middle), (middle, last)) if last - first > 1 else ((first, last),)


def _small_features(screen: Offscreen) -> list[str]:
    least = max(least_target_px())
    return [
        f"feature {feature.value}: a disc of {reach:.0f} px"
        for widget in in_sight(screen.app.root)
        if (drawn := _touched_drawing(widget)) is not None and screen.app.root.screen.name not in LOOKED_AT
        for feature, reach in feature_reaches_px(drawn, *widget.size).items()
        if reach < least
    ]


def _touched_drawing(widget: Widget) -> Figure | None:
    return widget.figure if isinstance(widget, CouponFigure) else None


def digits_height_px(screen: Offscreen) -> int:
    """How high the large live digits stand in the pixels; they are on the bench only."""
    face = screen.app.root.screen.ids.face.children[0]
    (digits,) = (widget for widget in face.children if isinstance(widget, Digits))
    x, y = digits.to_window(digits.x, digits.y)
    rows = screen.pixels()[round(Window.height - y - digits.height) : round(Window.height - y), round(x) :]
    ink = np.array(screen.app.palette.ink[:3]) * 255.0
    return int((np.abs(rows - ink).max(axis=2) < 40.0).any(axis=1).sum())


def _small_type(labels: list[Label]) -> list[str]:
    """Lettering drawn without a label is held to the same number where it is drawn."""
    if min(Window.size) < 480:
        return []
    _across, up = px_per_mm()
    return [
        f"capitals of {label.font_size * CAPITAL_HEIGHT / up:.2f} mm: {label.text!r}"
        for label in labels
        if label.font_size * CAPITAL_HEIGHT / up < SMALLEST_CAPITALS_MM
    ]


def _faint(labels: list[Label], pixels: np.ndarray) -> list[str]:
    found = []
    for label in labels:
        box = _seen(label)
        # A line that a list shows by a sliver only is read by pulling the list.
        if box is None or box[3] - box[1] < 0.8 * label.texture_size[1]:
            continue
        left, bottom, right, top = (round(part) for part in box)
        area = pixels[Window.height - top : Window.height - bottom, max(left, 0) : right].reshape(-1, 3)
        if area.size == 0:
            continue
        ratio = strongest_contrast(area)
        if ratio < MIN_CONTRAST:
            found.append(f"contrast {ratio:.1f}: {label.text!r}")
    return found


def colours_of(area: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The colours of an area (pixels, 3), and how many pixels have each; sorted as numbers, as rows it takes long."""
    packed = area.astype(np.uint32) @ np.array([1 << 16, 1 << 8, 1], dtype=np.uint32)
    found, counts = np.unique(packed, return_counts=True)
    return np.stack([found >> 16, found >> 8 & 255, found & 255], axis=1).astype(float), counts


def strongest_contrast(area: np.ndarray) -> float:
    """Between the commonest colour of an area, which is what the text stands on, and the one farthest from it."""
    colours, counts = colours_of(area)
    ground = colours[counts.argmax()]
    ink = colours[np.abs(colours - ground).sum(axis=1).argmax()]
    return contrast_ratio(_colour(ground), _colour(ink))


def _colour(rgb: np.ndarray) -> tuple[float, float, float, float]:
    red, green, blue = (float(part) / 255.0 for part in rgb)
    return red, green, blue, 1.0
