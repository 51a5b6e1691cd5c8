"""The rules of Kivy's own widgets, read in place of its book: word for word as there, and all that our widgets need."""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages

import kivy
from kivy.lang import Builder
from kivy.uix.widget import Widget

import ui.touch
import ui.touch.base

RULES = re.compile(r"^<-?([\w,-]+)>:?\n((?:[ \t]+.*\n|\n)*)", re.MULTILINE)
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
    ours = {kind for kind in all_of(Widget) if kind.__module__.startswith("ui.")}
    assert len(ours) > 50
    wanted = {name: kind for kind in ours for name in made_of(kind) & set(THEIRS)}
    assert set(wanted) - set(OVERRIDDEN) == set(OURS)
    for name, kind in wanted.items():
        if name in OVERRIDDEN:
            assert OVERRIDDEN[name] in made_of(kind)
            text = (Path(ui.touch.__file__).parent / "shell.kv").read_text(encoding="utf-8")
            assert f"<-{OVERRIDDEN[name]}>:" in text


def test_kivys_own_book_is_not_read() -> None:
    files = {rule.ctx.filename for _selector, rule in Builder.rules}
    assert str(Path(ui.touch.base.__file__).with_name("style.kv")) in files
    assert str(Path(kivy.kivy_data_dir) / "style.kv") not in files
