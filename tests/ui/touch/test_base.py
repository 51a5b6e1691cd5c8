"""The rules of Kivy's own widgets, read in place of its book: word for word as there, and all that our widgets need."""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages

import kivy
from kivy.lang import Builder
from kivy.uix.scrollview import ScrollView
from kivy.uix.widget import Widget

import ui.touch
import ui.touch.base
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES

RULES = re.compile(r"^<-?([\w,-]+)>:?\n((?:[ \t]+.*\n|\n)*)", re.MULTILINE)
# A widget that a layout makes, or that a rule of a layout begins with.
MADE = re.compile(r"^ *<?-?(?:\w+@)?([A-Z]\w+)>?:", re.MULTILINE)
TAKEN = re.compile(r"^ *from kivy\.uix\.\w+ import (.+)$", re.MULTILINE)
# Overridden whole (`<-`) by the house's own rule.
OVERRIDDEN = {"ScreenManager": "Stage"}


def rules_of(file: Path) -> dict[str, str]:
    """The rules of a book by the widget they are for."""
    text = file.read_text(encoding="utf-8") + "\n"
    return {name.lstrip("-"): body.strip() for names, body in RULES.findall(text) for name in names.split(",")}


THEIRS = rules_of(Path(kivy.kivy_data_dir) / "style.kv")
OURS = rules_of(Path(ui.touch.base.__file__).with_name("style.kv"))


def made_of(kind: type) -> set[str]:
    """A widget and what it is made of."""
    return {base.__name__ for base in kind.__mro__}


def all_of(kind: type) -> set[type]:
    return {kind}.union(*(all_of(under) for under in kind.__subclasses__()))


def test_every_rule_is_kivys() -> None:
    assert OURS
    assert {name: THEIRS.get(name) for name in OURS} == OURS


def test_no_widget_of_ours_lacks_a_rule_of_kivys() -> None:
    for module in walk_packages(ui.touch.__path__, "ui.touch."):
        import_module(module.name)
    folder = Path(ui.touch.__file__).parent
    named = {name for file in folder.rglob("*.kv") for name in MADE.findall(file.read_text(encoding="utf-8"))}
    for file in folder.rglob("*.py"):
        named.update(name for names in TAKEN.findall(file.read_text(encoding="utf-8")) for name in names.split(", "))
    ours = {kind for kind in all_of(Widget) if kind.__module__.startswith("ui.") or kind.__name__ in named}
    assert {"ScrollView", "BenchItself", "ChoiceRow"} <= {kind.__name__ for kind in ours}
    wanted = {name for kind in ours for name in made_of(kind) & set(THEIRS)}
    assert wanted - set(OVERRIDDEN) == set(OURS)
    text = (folder / "shell.kv").read_text(encoding="utf-8")
    for name, by in OVERRIDDEN.items():
        assert f"<-{by}>:" in text
        made = [kind for kind in ours if name in made_of(kind) and kind.__module__.startswith("ui.")]
        assert made
        assert all(by in made_of(kind) for kind in made)


def test_kivys_own_book_is_not_read() -> None:
    files = {rule.ctx.filename for _selector, rule in Builder.rules}
    assert str(Path(ui.touch.base.__file__).with_name("style.kv")) in files
    assert str(Path(kivy.kivy_data_dir) / "style.kv") not in files


def test_a_list_that_scrolls_ends_where_it_ends(screen: Offscreen) -> None:
    """Kivy cuts it off by a rule of its own; without that its rows stood across the line of words below it."""
    screen.show(SCENES["stranger"]())
    screen.go("instruments")
    screen.frames()
    (view,) = (one for one in screen.app.root.walk() if isinstance(one, ScrollView))
    assert view.viewport_size[1] > view.height
    x, y = view.to_window(*view.pos)
    shown = []
    for scrolled in (0.0, 0.35, 1.0):
        view.scroll_y = scrolled
        screen.frames()
        shown.append(screen.pixels())
    height = len(shown[0])
    below, inside = slice(height - int(y), height), slice(height - int(y + view.height), height - int(y))
    assert y > 20
    for other in shown[1:]:
        assert (other[below] == shown[0][below]).all()
        assert (other[inside] != shown[0][inside]).any()
    bar = [pixels[inside, int(x + view.width) - 4] for pixels in shown]
    assert (bar[0] != bar[2]).any(), "a bar says how far it is"
