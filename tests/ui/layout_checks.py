"""What can be wrong with a screen, found from its widgets and its pixels: text cut, text over text, targets too small,
words hard to read."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from kivy.core.window import Window
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.label import Label
from kivy.uix.scrollview import ScrollView
from kivy.uix.widget import Widget

from tests.ui.offscreen import Offscreen
from ui.theme import contrast_ratio

Box = tuple[float, float, float, float]  # left, bottom, right, top; px of the window

MIN_CONTRAST = 4.5  # WCAG 2, 1.4.3
TARGET_PX = 47.0  # 9 mm along a 7-inch panel of 800 px, 154 mm


def faults(screen: Offscreen) -> list[str]:
    """Everything that is wrong with what is in sight, as sentences."""
    return faults_of_place(screen) + _faint(_labels(screen), screen.pixels())


def faults_of_place(screen: Offscreen) -> list[str]:
    """What is wrong with where things stand, found without pixels."""
    labels = _labels(screen)
    return [fault for label in labels for fault in _cut(label)] + _overlaps(labels) + _small_targets(screen)


def _labels(screen: Offscreen) -> list[Label]:
    return [widget for widget in in_sight(screen.app.root) if isinstance(widget, Label) and widget.text.strip()]


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


def _small_targets(screen: Offscreen) -> list[str]:
    wanted = TARGET_PX * screen.app.scale
    return [
        f"target {widget.width:.0f} x {widget.height:.0f} px: {getattr(widget, 'text', type(widget).__name__)!r}"
        for widget in in_sight(screen.app.root)
        if isinstance(widget, ButtonBehavior) and not widget.disabled and min(widget.size) < wanted
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


def strongest_contrast(area: np.ndarray) -> float:
    """Between the commonest colour of an area, which is what the text stands on, and the one farthest from it."""
    colours, counts = np.unique(area, axis=0, return_counts=True)
    ground = colours[counts.argmax()].astype(float)
    ink = colours[np.abs(colours - ground).sum(axis=1).argmax()]
    return contrast_ratio(_colour(ground), _colour(ink))


def _colour(rgb: np.ndarray) -> tuple[float, float, float, float]:
    red, green, blue = (float(part) / 255.0 for part in rgb)
    return red, green, blue, 1.0
