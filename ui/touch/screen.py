"""What every screen is: it shows a snapshot, sends commands, knows where back leads."""

import inspect
import pkgutil
import threading
from collections.abc import Callable, Iterator, Mapping
from enum import StrEnum
from functools import cache
from importlib import import_module
from pathlib import Path

from kivy.app import App
from kivy.clock import Clock
from kivy.lang import Builder
from kivy.properties import ListProperty, ObjectProperty
from kivy.uix.screenmanager import Screen
from msgspec import Struct

import ui.touch.screens
import ui.touch.widgets  # what stands in kv files is known by name
from core.said import NOTHING, Part
from ui.bench import guarded
from ui.pages.coupon import CouponDraft, draft_of
from ui.pages.cutting import NEXT
from ui.pages.errand import ErrandPage
from ui.state import Command, Snapshot
from ui.touch.in_hand import InHand
from ui.touch.pictures.help import Help


class Group(StrEnum):
    """What a door of the menu leads to, in the order of the groups."""

    MACHINE = "machine"
    RECORDS = "records"
    BENCH = "bench"


class Door(Struct, frozen=True, kw_only=True):
    """How a screen is entered from the menu: its group, its place among that group's doors, and the words on it."""

    place: int
    words: Part
    group: Group = Group.MACHINE


class BenchScreen(Screen):
    """Base of all screens; the layout lies beside each, in a .kv of the same name. `help` is what `?` shows;
    `heading` stands in the top bar; `parent_screen` is where back leads when nobody came from anywhere; `door` is None
    where the menu has none."""

    screen_name = ""
    help: Help
    heading: Part = NOTHING
    parent_screen = ""
    door: Door | None = None
    # Of a text, or of steps, that are leafed through: which is up; None while nothing is read.
    leaf = ObjectProperty(0, allownone=True)

    def __init__(self, **kwargs: object) -> None:
        _read_layout(inspect.getfile(type(self)))
        super().__init__(name=self.screen_name, **kwargs)

    @classmethod
    def is_open_on(cls, _snapshot: Snapshot) -> bool:
        """Whether this bench has what the screen is for: else there is no door to it."""
        return True

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot; called for the screen in sight only."""

    def move(self, snapshot: Snapshot) -> None:
        """Draw a snapshot that differs from the one drawn last in nothing but what the instruments say."""
        self.show(snapshot)

    def send(self, command: Command) -> None:
        """Tell the bench."""
        App.get_running_app().bench.send(command)

    def go(self, name: str) -> None:
        """Change to another screen."""
        App.get_running_app().root.go(name)

    @property
    def snapshot(self) -> Snapshot:
        """The newest snapshot that the application has seen."""
        return App.get_running_app().snapshot

    @property
    def in_hand(self) -> InHand:
        """Which instrument is in the person's hand."""
        return App.get_running_app().in_hand

    def look_at(self, what: str) -> None:
        """Hand a session of the archive, or a port, on to the screen that is opened next."""
        App.get_running_app().looked_at = what

    def looked_at(self) -> str:
        """What was handed on, once; empty when nothing was."""
        app = App.get_running_app()
        what, app.looked_at = app.looked_at, ""
        return what

    def hand_draft(self, draft: CouponDraft) -> None:
        """Hand a coupon that is being chosen on to the other screen it is chosen on."""
        App.get_running_app().coupon_draft = draft

    def drafted(self) -> CouponDraft:
        """The coupon that was being chosen, once; else one begun with what was chosen last on this machine."""
        app = App.get_running_app()
        draft, app.coupon_draft = app.coupon_draft, None
        notation = self.snapshot.settings.notation
        if draft is not None and draft.is_in(notation):
            return draft
        return draft_of(self.snapshot.records.last_opened, notation)

    def in_background(self, work: Callable[[], Part], then: Callable[[Part], None]) -> None:
        """Do what may take seconds in a thread of its own; `then` gets what came of it, on the screen's thread."""

        def told(outcome: Part) -> None:
            Clock.schedule_once(lambda _elapsed_s: then(outcome))

        def run() -> None:
            guarded("screen errand", lambda: told(work()), told)

        threading.Thread(target=run, name="screen errand", daemon=True).start()

    def panel_changed(self) -> None:
        """Other buttons stand where some stood: touches count only once they have been seen."""
        App.get_running_app().root.panel_changed()

    def turn(self, name: str) -> None:
        """To the next leaf, or back to the one before."""
        self.open_leaf(self.leaf + (1 if name == NEXT else -1))

    def open_leaf(self, leaf: int | None) -> None:
        """Another leaf: its buttons often stand where those of the last stood, and are seen before they count."""
        self.leaf = leaf
        self.panel_changed()
        self.refresh()

    def says(self, text: Part) -> None:
        """Tell the person at once what did not come from the bench."""
        App.get_running_app().root.message = text

    def refresh(self) -> None:
        """Draw again after a touch that changed only the screen itself."""
        self.show(self.snapshot)


class SidedScreen(BenchScreen):
    """Base of the screens of which only some parts, `shown`, stand side by side at a time (one below the other on an
    upright panel); `parts` names the ids of all."""

    parts: tuple[str, ...]
    shown = ListProperty()

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        # Held here: what is out of sight belongs to nobody else.
        self._sides = {name: self.ids[name].__self__ for name in self.parts}
        self.ids.sides.clear_widgets()

    def on_shown(self, *_changed: object) -> None:
        """Other parts come into sight."""
        self.ids.sides.clear_widgets()
        for name in self.shown:
            self.ids.sides.add_widget(self._sides[name])


class ErrandScreen(BenchScreen):
    """Base of the screens that do something with a stick: a lamp, what there is to say, and what may be touched."""

    page = ObjectProperty(ErrandPage(), rebind=True)

    def page_of(self, snapshot: Snapshot) -> ErrandPage:
        """What the screen says of this snapshot."""
        raise NotImplementedError

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        page = self.page_of(snapshot)
        if page.choices != self.page.choices:
            self.panel_changed()
        self.page = page


@cache
def _read_layout(module: str) -> None:
    """Once, and only for a screen that is made: the layouts of all would be a seventh of the start."""
    Builder.load_file(str(Path(module).with_suffix(".kv")))


class Screens(Mapping[str, type[BenchScreen]]):
    """Every screen of the program by its name, which is its module's; its module is loaded when it is asked for."""

    def __init__(self) -> None:
        self._names = tuple(module.name for module in pkgutil.iter_modules(ui.touch.screens.__path__))
        self._loaded: dict[str, type[BenchScreen]] = {}

    def __getitem__(self, name: str) -> type[BenchScreen]:
        if name not in self._loaded:
            if name not in self._names:
                raise KeyError(name)
            self._loaded[name] = _screen_in(f"{ui.touch.screens.__name__}.{name}")
        return self._loaded[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


def _screen_in(module: str) -> type[BenchScreen]:
    """The one screen that this module holds."""
    found = (kind for kind in vars(import_module(module)).values() if inspect.isclass(kind))
    return next(kind for kind in found if issubclass(kind, BenchScreen) and kind.__module__ == module)


SCREENS = Screens()


def doors(snapshot: Snapshot) -> dict[Group, list[tuple[str, Part]]]:
    """The doors of the menu on this bench, by group, in their places: the name of the screen, and the words."""
    found = [(screen.door, name) for name, screen in SCREENS.items() if screen.door and screen.is_open_on(snapshot)]
    found.sort(key=lambda pair: pair[0].place)
    return {group: [(name, door.words) for door, name in found if door.group is group] for group in Group}
