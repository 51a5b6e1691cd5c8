"""Finding things on the screen as a person does: by the words on them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from core.geometry.features import Feature, FeatureKind
from core.said import Part
from tests.ui.offscreen import Offscreen


def shown_widgets(screen: Offscreen) -> list[object]:
    """Every widget in sight, shell first; what stands in an unseen one is not seen."""

    def seen(widget: Any) -> Iterator[Any]:
        if widget.opacity > 0:
            yield widget
            for child in reversed(widget.children):
                yield from seen(child)

    return [*seen(screen.app.root)]


def with_text(screen: Offscreen, text: str) -> list[object]:
    """The widgets with these words."""
    return [
        widget
        for widget in shown_widgets(screen)
        if text in (str(getattr(widget, "text", "")), getattr(widget, "read", "").replace("\u00a0", " "))
    ]


def stands(screen: Offscreen, what: Part | str) -> bool:
    """Whether these words stand on the screen."""
    return bool(with_text(screen, str(what)))


def find_text(screen: Offscreen, what: Part | str) -> object:
    """The one widget with these words."""
    found = with_text(screen, str(what))
    assert len(found) == 1, f"{str(what)!r} stands on the screen {len(found)} times"
    return found[0]


def feature_place(screen: Offscreen, feature: Feature) -> tuple[float, float]:
    """Where a person would put the finger for a feature of the drawing on the bench, px of the window."""
    widget = screen.app.root.screen.ids.figure
    figure = widget.figure
    if feature.kind is FeatureKind.CORNER:
        places = [figure.corner(feature)]
    elif feature.kind is FeatureKind.WINDOW:
        places = [figure.window.label_centre(feature)]
    else:
        (x, y), (to_x, to_y) = figure.span(feature)
        places = [(x + part * (to_x - x), y + part * (to_y - y)) for part in (0.5, 0.3, 0.25, 0.7, 0.2, 0.8)]
    x, y = next(place for place in places if figure.target_at(place) is feature)
    return widget.to_window(widget.x + x, widget.y + y)


def tap_feature(screen: Offscreen, feature: Feature) -> None:
    """Touch a feature on the drawing of the bench."""
    screen.tap(*feature_place(screen, feature))


def tap_text(screen: Offscreen, text: Part | str) -> None:
    """Touch the middle of the widget with these words."""
    widget = find_text(screen, text)
    screen.tap(*widget.to_window(*widget.center))


def double_touch(screen: Offscreen, text: Part | str) -> None:
    """Touch the widget with these words twice, as a bouncing finger does."""
    widget = find_text(screen, text)
    place = widget.to_window(*widget.center)
    screen.tap(*place)
    screen.tap(*place, bounced=True)
