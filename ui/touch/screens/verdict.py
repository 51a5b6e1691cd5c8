"""The verdict screen: the true shape, the headline, what it means on a part, and the table of characteristics."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from core.geometry.features import Feature
from ui.bench.desks.measuring import CloseSession, SeeCoupon, SelectFeature
from ui.pages.home import next_step
from ui.pages.theme import Shape
from ui.pages.verdict import EMPTY, Row, VerdictPage, verdict_page
from ui.pages.wording import below
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen, Door


class CharacteristicRow(BoxLayout):
    """One characteristic: name, value with uncertainty, limits, verdict."""

    label = StringProperty("")
    value = StringProperty("")
    limits = StringProperty("")
    shape = ObjectProperty(Shape.RING)


class VerdictScreen(BenchScreen):
    """Shows a VerdictPage; a touched feature or the next-reading button leads back to measuring it."""

    screen_name = "verdict"
    heading = "Verdict"
    door = Door(place=3, words="Verdict")
    parent_screen = "measure"
    shape = ObjectProperty(Shape.RING)
    word = StringProperty("")
    caption = StringProperty("")
    size_shape = ObjectProperty(Shape.RING)
    size_text = StringProperty("")
    sentences = ObjectProperty("")
    notes = StringProperty("")
    count_text = StringProperty("")
    next_text = StringProperty("")
    settled = BooleanProperty(False)
    can_finish = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._view: VerdictPage = EMPTY
        self._rows: tuple[Row, ...] = ()
        self._next_screen = "measure"

    def on_pre_enter(self) -> None:
        """With no coupon on the bench, the one that was finished last is seen again."""
        last = self.snapshot.records.last_closed
        if self.snapshot.session is None and last is not None:
            self.send(SeeCoupon(session=last.id))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        self.ids.sheet.show(snapshot, None)
        view = self._view = verdict_page(snapshot)
        self.shape, self.word, self.caption = view.shape, view.word, view.caption
        self.size_shape, self.size_text, self.count_text = view.size_shape, view.size_text, view.count_text
        self.sentences = below(*view.sentences)
        self.notes = "\n".join(view.explanations or view.notes)
        self.settled = view.settled
        if snapshot.closed:
            self.next_text, self._next_screen = next_step(snapshot)
        else:
            self.next_text = f"Measure {view.next_feature.label}" if view.next_feature else "Back to measuring"
            self._next_screen = "measure"
        self.can_finish = snapshot.session is not None and not snapshot.closed and bool(snapshot.readings)
        if view.rows != self._rows:
            self._rows = view.rows
            self._fill_table(view.rows)

    def _fill_table(self, rows: tuple[Row, ...]) -> None:
        table = self.ids.rows
        for widget in table.children[len(rows) :]:
            table.remove_widget(widget)
        while len(table.children) < len(rows):
            table.add_widget(CharacteristicRow())
        for widget, row in zip(reversed(table.children), rows, strict=True):
            widget.label, widget.value, widget.limits, widget.shape = row.label, row.value, row.limits, row.shape

    def choose(self, feature: Feature) -> None:
        """Measure the touched feature; a finished coupon takes no reading."""
        if self.snapshot.session is not None and not self.snapshot.closed:
            self.send(SelectFeature(feature=feature))
            self.go("measure")

    def measure_next(self) -> None:
        """Measure what would best settle the verdict; of a finished coupon, go on with the job."""
        if self._view.next_feature is not None and not self.snapshot.closed:
            self.send(SelectFeature(feature=self._view.next_feature))
        self.go(self._next_screen)

    def finish(self) -> None:
        """The coupon is done."""
        self.send(CloseSession())
