"""The shell around every screen: back at the left, the verdict at the right; below, the message line and the bench."""

from __future__ import annotations

import time
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.input.motionevent import MotionEvent
from kivy.lang import Builder
from kivy.properties import BooleanProperty, ObjectProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.screenmanager import NoTransition, ScreenManager
from kivy.uix.widget import Widget

from core.said import NOTHING, Part, Series, said
from ui.bench import ChangeSettings, StopHand, StopWork
from ui.pages.bench import lost_instruments, standing
from ui.pages.setup import LANGUAGE_NAMES, in_other_language, other_language
from ui.pages.theme import Shape
from ui.state import InstrumentStatus, Snapshot
from ui.touch.screen import SCREENS, BenchScreen
from ui.touch.widgets import Ink
from ui.touch.widgets.basics import Framed, seen_for

if TYPE_CHECKING:
    from ui.touch.around_screens import Footer, HelpSheet

FIRST_SCREEN = "bench"
TOO_EARLY = said("That touch came before this screen was up: it does not count.")


class Sight:
    """Since when the screen has been on the panel. A touch counts only `guard_s` after that: what stands where
    something was touched a moment ago must have been seen first."""

    def __init__(self, guard_s: float) -> None:
        self._guard_s = guard_s
        self._since_s: float | None = None
        # A frame later: only then has the panel taken over what was drawn.
        self._shown = Clock.create_trigger(self._begin)

    def changes(self) -> None:
        """Another screen comes; nobody sees it until it is drawn."""
        self._since_s = None
        self._shown.cancel()
        Window.bind(on_flip=self._drawn)

    def was_there_for(self, touch: MotionEvent) -> bool:
        """True for a touch whose finger came down when this screen had been on the panel long enough to be seen."""
        return self._since_s is not None and seen_for(touch, self._since_s, self._guard_s)

    def _drawn(self, *_event: object) -> None:
        Window.unbind(on_flip=self._drawn)
        self._shown()

    def _begin(self, _elapsed_s: float) -> None:
        self._since_s = time.monotonic()


class Stamp(BoxLayout):
    """SIMULATED, as a rubber stamp."""


class Heading(ButtonBehavior, Ink):
    """What the screen in sight is called; on the bench the machine and the coupon, which a touch changes."""


class VerdictChip(ButtonBehavior, Framed, BoxLayout):
    """The coupon's headline, always in sight; touched, it opens the verdict."""

    shape = ObjectProperty(Shape.RING)
    word = ObjectProperty(NOTHING)


class AtOnce(NoTransition):
    """Takes the old screen away in the same frame; Kivy's own would draw both over each other for one frame."""

    def start(self, manager: object) -> None:
        """Begin, and be done."""
        super().start(manager)
        self._anim.cancel(self)
        self._on_complete()


class Stage(ScreenManager):
    """Where the screen in sight is."""


class Shell(BoxLayout):
    """Holds one screen in sight and gives it every new snapshot."""

    heading = ObjectProperty(NOTHING)
    links = ObjectProperty(NOTHING)
    message = ObjectProperty("")
    hand = ObjectProperty("")
    side_text = ObjectProperty(said("no verdict"))
    verdict_shape = ObjectProperty(Shape.RING)
    alarm = BooleanProperty(False)
    simulated = BooleanProperty(False)
    at_bench = BooleanProperty(True)
    undoable = BooleanProperty(False)
    work = ObjectProperty(None, allownone=True)
    helping = BooleanProperty(False)
    other_language = ObjectProperty(NOTHING)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._session = App.get_running_app().snapshot.session
        self._closed = App.get_running_app().snapshot.closed
        self._sight = Sight(App.get_running_app().guard_s)
        self._came_from: list[str] = []
        self._shown: tuple[Snapshot, BenchScreen] | None = None
        # Held here: while one is in sight the other belongs to nobody else, and a screen keeps what was typed on it.
        self._screens = self.ids.screens.__self__
        self.ids.screens.transition = AtOnce()
        self.go(FIRST_SCREEN)

    def on_at_bench(self, *_changed: object) -> None:
        """The bench has no line below it; unseen, it would still be a sixth of what is drawn for every number."""
        if self.at_bench:
            self.remove_widget(self._footer)
        else:
            self.add_widget(self._footer)

    # Nobody sees either while the power comes on.

    @cached_property
    def _footer(self) -> Footer:
        from ui.touch.around_screens import Footer

        return Footer(shell=self)

    @cached_property
    def _help(self) -> HelpSheet:
        from ui.touch.around_screens import HelpSheet

        sheet = HelpSheet()
        sheet.bind(on_release=lambda _sheet: self.close_help())
        return sheet

    @property
    def screen(self) -> BenchScreen:
        """The screen in sight."""
        return self._screens.current_screen

    def go(self, name: str) -> None:
        """Bring a screen into sight; back leads to where the person was. Going to where one came from is going back:
        there are no circles, and from the bench no way leads back."""
        before = self.ids.screens.current
        if name == FIRST_SCREEN:
            self._came_from.clear()
        elif before and before != name and name not in self._came_from:
            self._came_from.append(before)
        self._bring(name)

    def _bring(self, name: str) -> None:
        """By itself or back: how one came to what was in sight is how one came here."""
        manager = self.ids.screens
        self.close_help()
        if name in self._came_from:
            del self._came_from[self._came_from.index(name) :]
        if name != manager.current:
            self._sight.changes()
        if not manager.has_screen(name):
            manager.add_widget(SCREENS[name]())
        manager.current = name
        self.show(App.get_running_app().snapshot)

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot: the lines of the shell, then the screen in sight."""
        screen = self.screen
        before, self._shown = self._shown, (snapshot, screen)
        if before is not None and before[1] is screen and snapshot.differs_in_indications_only(before[0]):
            screen.move(snapshot)  # fifty times a second while jaws move: the shell's own lines say nothing else then
            return
        if snapshot.session != self._session:
            # A coupon was begun: from its form the way leads to measuring, from elsewhere it does not.
            self._session = snapshot.session
            if screen.name in ("coupon", "practice"):
                self._bring(FIRST_SCREEN)
                return
        if snapshot.closed and not self._closed and screen.name == FIRST_SCREEN:
            # The coupon is finished: what it says comes into sight by itself.
            self._closed = True
            self._bring("practice" if snapshot.exercise_asks else "verdict")
            return
        self._closed = snapshot.closed
        self._say_lines(snapshot)
        screen.show(snapshot)
        self.heading = screen.heading

    def _say_lines(self, snapshot: Snapshot) -> None:
        self.simulated = snapshot.simulated
        self.work = snapshot.work
        self.message = snapshot.message.text if snapshot.message else ""
        if snapshot.work is not None:
            # An upright panel has no room for more beside the keys; what it does the person knows by now.
            short = App.get_running_app().portrait and snapshot.work.can_stop
            self.message = snapshot.work.share if short else snapshot.work.words
        # What works now is not told in the colour of what went wrong before.
        self.alarm = snapshot.work is None and snapshot.message is not None and snapshot.message.alarm
        self.hand = snapshot.hand
        self.undoable = snapshot.undo is not None
        self.at_bench = self.screen.name == FIRST_SCREEN
        self.links = links_text(snapshot.instruments, self.at_bench)
        if snapshot.records.last_closed is not None or snapshot.simulated:
            App.get_running_app().asks_language = False
        self.other_language = LANGUAGE_NAMES[other_language(snapshot.settings.language)]
        self.verdict_shape, self.side_text = standing(snapshot)

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Press what was seen to be there; a touch that was made before is told of, and presses nothing."""
        if self._sight.was_there_for(touch):
            return super().on_touch_down(touch)
        self.too_early()
        return True

    def too_early(self) -> None:
        """A touch was made before what it met could be seen; an alarm is not covered by it."""
        if not self.alarm:
            self.screen.says(TOO_EARLY)

    def choose_language(self) -> None:
        """The first start's question: the key names the other language in its own words."""
        app = App.get_running_app()
        app.asks_language = False
        app.bench.send(ChangeSettings(settings=in_other_language(app.snapshot.settings)))

    def open_help(self) -> None:
        """`?`: what the screen in sight is for; the screen itself is left as it is."""
        if self.helping:
            self.close_help()
            return
        told = self.screen.help
        self._help.picture, self._help.sentences = told.picture, told.sentences
        self._swap(self._help)
        self.helping = True

    def close_help(self) -> None:
        """The screen comes back as it was left."""
        if self.helping:
            self._swap(self._screens)
            self.helping = False

    def _swap(self, shown: Widget) -> None:
        self._sight.changes()
        self.ids.stage.clear_widgets()
        self.ids.stage.add_widget(shown)

    def back(self) -> None:
        """Back to where one came from; to the screen it belongs to, for one that nobody came to from elsewhere."""
        if self.helping:
            self.close_help()
            return
        self._bring(self._came_from.pop() if self._came_from else self.screen.parent_screen or FIRST_SCREEN)

    def panel_changed(self) -> None:
        """What is touched on the screen in sight has changed under the finger: look first, then touch."""
        self._sight.changes()

    def to_bench(self) -> None:
        """The bench, from anywhere."""
        self.go(FIRST_SCREEN)

    def undo(self) -> None:
        """Take back what was done last, while that can be done."""
        undo = App.get_running_app().snapshot.undo
        if undo is not None:
            App.get_running_app().bench.send(undo.command)

    def stop_work(self) -> None:
        """Wait no longer for what is under way."""
        if self.work is not None:
            App.get_running_app().bench.send(StopWork(key=self.work.key))

    def open_side(self) -> None:
        """The verdict from anywhere; from the verdict back to measuring."""
        self.go(FIRST_SCREEN if self.screen.name == "verdict" else "verdict")

    def take_over(self) -> None:
        """The person takes over from the simulated hand."""
        App.get_running_app().bench.send(StopHand())


def links_text(instruments: tuple[InstrumentStatus, ...], at_bench: bool) -> Part:
    """Which cables are up, in short; away from the bench only what is missing."""
    if lost := lost_instruments(instruments):
        return said("lost: {instruments}", instruments=Series(lost, joint=", "))
    if not instruments:
        return said("no instrument")
    return said("{count} connected", count=len(instruments)) if at_bench else NOTHING


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
