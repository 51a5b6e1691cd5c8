"""The measuring screen: the coupon as a drawing, the live indication, the lamp, and the next thing to decide."""

from __future__ import annotations

from kivy.properties import StringProperty

from core.geometry.features import Feature
from core.metrology.readings import Quantity
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import AnswerQuestion, ConfirmMark, SelectFeature, VoidReading
from ui.pages.measure import ELSEWHERE, VOID_REASONS, MeasurePage, measure_page
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen, Door, Group
from ui.touch.widgets.columns import LiveColumn, PanelColumn


class MeasureScreen(BenchScreen):
    """Keeps only what the person is doing on the screen itself: which instrument is in hand, and a wish to void."""

    screen_name = "measure"
    heading = "Measure"
    door = Door(place=2, words="Measure", group=Group.BENCH)
    parent_screen = "home"
    advice = StringProperty("")
    task = StringProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._voiding: int | None = None
        self._mark_put_off = False
        self._session: str | None = None
        self._view: MeasurePage = measure_page(self.snapshot, Quantity.LENGTH)
        self._live_column = LiveColumn()
        self._live_column.bind(on_take=self.take, on_type=self.type_reading, on_void=self.ask_void, on_swap=self.swap)
        self._panel_column = PanelColumn()
        self._panel_column.bind(on_answer=lambda _column, name: self.answer(name))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        if snapshot.session != self._session:
            self._session = snapshot.session
            self._voiding, self._mark_put_off = None, False
        view = measure_page(
            snapshot, self.in_hand.follow(snapshot), voiding=self._voiding, mark_put_off=self._mark_put_off
        )
        self._view = view
        self.heading, self.advice, self.task = view.heading, view.advice, view.task
        self.ids.sheet.show(snapshot, view.large)
        column = self._panel_column if view.panel else self._live_column
        column.large, column.small = view.large, view.small
        if view.panel:
            column.title, column.text, column.choices = view.panel.title, view.panel.text, list(view.panel.choices)
        else:
            column.can_void = view.to_void is not None
            column.lamp_caption = f"{view.large.name} by itself" if view.large.deviation is not None else ""
        if column.parent is None:
            self.ids.column.clear_widgets()
            self.ids.column.add_widget(column)
            self.panel_changed()

    def choose(self, feature: Feature) -> None:
        """The person touched a feature on the drawing."""
        self.in_hand.touch(Quantity.LENGTH if feature.is_length else Quantity.ANGLE)
        self.send(SelectFeature(feature=feature))
        self.refresh()

    def swap(self, *_event: object) -> None:
        """The person touched the small cursor."""
        self.in_hand.touch(self._view.small.quantity)
        self.refresh()

    def take(self, *_event: object) -> None:
        """Take the large indication."""
        self.send(TakeReading(quantity=self._view.large.quantity))

    def type_reading(self, *_event: object) -> None:
        """Go to the keypad for the large cursor's feature."""
        self.go("keypad")

    def ask_void(self, *_event: object) -> None:
        """Ask for the reason first, of the reading that was meant when the button was touched."""
        self._voiding = self._view.to_void
        self.refresh()

    def answer(self, name: str) -> None:
        """Send what was decided on the panel that is up."""
        panel, doubted = self._view.panel, self._voiding
        if panel is None:
            return
        if panel.name == "mark":
            self._mark_put_off = True
            if name == "confirm":
                self.send(ConfirmMark())
        elif panel.name == "void":
            self._voiding = None
            if name in dict(VOID_REASONS) and doubted is not None:
                self.send(VoidReading(number=doubted, reason=name))
        elif panel.name == ELSEWHERE:
            self.go(name)
            return
        else:
            self.send(AnswerQuestion(question=panel.name, answer=name))
        self.refresh()
