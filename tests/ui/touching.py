"""Finding things on the screen as a person does: by the words on them."""

from __future__ import annotations

from core.said import Part
from tests.ui.offscreen import Offscreen


def shown_widgets(screen: Offscreen) -> list[object]:
    """Every widget in sight, shell first."""
    return [widget for widget in screen.app.root.walk() if widget.opacity > 0]


def find_text(screen: Offscreen, what: Part | str) -> object:
    """The one widget with these words."""
    text = str(what)
    found = [
        widget
        for widget in shown_widgets(screen)
        if str(text) in (str(getattr(widget, "text", "")), getattr(widget, "read", "").replace("\u00a0", " "))
    ]
    assert len(found) == 1, f"{text!r} stands on the screen {len(found)} times"
    return found[0]


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
