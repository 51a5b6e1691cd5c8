"""History: the machine's coupons, whether it drifts, and the way to download one of them."""

from __future__ import annotations

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from ui.commands import LoadHistory
from ui.history_view import Chart, SessionRow, chart_of, history_text, session_rows
from ui.screens.screen import BenchScreen
from ui.snapshot import Snapshot
from ui.theme import Shape
from ui.widgets.basics import KeyButton  # noqa: F401 - named in the kv file
from ui.widgets.lamp import ShapeSign  # noqa: F401 - named in the kv file
from ui.widgets.skew_chart import SkewChart  # noqa: F401 - named in the kv file

PAGE = 5


class SessionButton(ButtonBehavior, BoxLayout):
    """One coupon of the list."""

    shape = ObjectProperty(Shape.RING)
    time = StringProperty("")
    skew = StringProperty("")
    chosen = BooleanProperty(False)


class HistoryScreen(BenchScreen):
    """Keeps the page that is up and the coupon that was touched."""

    heading = "History"
    parent_screen = "home"
    chart = ObjectProperty(Chart())
    text = StringProperty("")
    chosen = StringProperty("")
    first = NumericProperty(0)
    more = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._drawn: tuple[tuple[SessionRow, ...], str] = ((), "")

    def on_pre_enter(self) -> None:
        """Look the history up again: coupons may have been closed since."""
        self.first, self.chosen = 0, ""
        machine = self.snapshot.machines.current
        name = machine.name if machine else self.snapshot.machine
        if name:
            self.send(LoadHistory(machine=name))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        self.chart, self.text = chart_of(snapshot.records.history), history_text(snapshot)
        rows = session_rows(snapshot)
        self.more = self.first + PAGE < len(rows)
        page = rows[self.first : self.first + PAGE]
        if (page, self.chosen) != self._drawn:
            self._drawn = (page, self.chosen)
            self._fill(page)

    def _fill(self, page: tuple[SessionRow, ...]) -> None:
        self.ids.rows.clear_widgets()
        for row in page:
            button = SessionButton(shape=row.shape, time=row.time, skew=row.skew, chosen=row.session == self.chosen)
            button.fbind("on_release", lambda _button, session=row.session: self._choose(session))
            self.ids.rows.add_widget(button)
        self.ids.rows.add_widget(Widget())

    def _choose(self, session: str) -> None:
        self.chosen = session
        self.refresh()

    def turn_page(self, pages: int) -> None:
        """Older or newer coupons."""
        self.first = max(0, self.first + pages * PAGE)
        self.refresh()

    def download(self) -> None:
        """Take the chosen coupon to the download screen."""
        self.look_at(self.chosen)
        self.go("download")


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
