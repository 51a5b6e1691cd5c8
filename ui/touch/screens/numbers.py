"""All numbers: the coupon as it was read, skew by lengths beside skew by corners, and the table, failing rows first."""

from kivy.properties import ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from core.geometry import Feature
from core.said import NOTHING, lines, said
from ui.bench import SelectFeature
from ui.pages.bench import figured_result
from ui.pages.numbers import Row, numbers_page
from ui.pages.theme import Shape
from ui.state import Snapshot
from ui.touch.pictures.help import SHEET, Help, written
from ui.touch.pictures.strokes import Role, line
from ui.touch.screen import BenchScreen


class CharacteristicRow(BoxLayout):
    """One characteristic: name, value with uncertainty, limits, verdict."""

    label = ObjectProperty(NOTHING)
    value = ObjectProperty(NOTHING)
    limits = ObjectProperty(NOTHING)
    shape = ObjectProperty(Shape.RING)


class NumbersScreen(BenchScreen):
    """Shows a NumbersPage; a touched feature leads back to measuring it."""

    screen_name = "numbers"
    heading = said("All numbers")
    parent_screen = "verdict"
    help = Help(
        (
            *SHEET,
            *written(24, 48, 78, 64, 50, 36, 22),
            *written(56, 76, 64, 50, 36, 22, role=Role.QUIET),
            line((56, 78), (76, 78), role=Role.DANGER, width=5.0),
        ),
        (
            said("Failing rows come first."),
            said("Each value with its U, 95 %, beside its limits."),
            said("Skew by lengths stands beside skew by corners."),
        ),
    )
    sentences = ObjectProperty("")
    notes = ObjectProperty("")
    count_text = ObjectProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._rows: tuple[Row, ...] = ()

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        self.ids.figure.shown = figured_result(snapshot)
        page = numbers_page(snapshot)
        self.count_text = page.count_text
        self.sentences = lines(page.skews, *page.sentences)
        self.notes = lines(*(page.explanations or page.notes))
        if page.rows != self._rows:
            self._rows = page.rows
            self._fill_table(page.rows)

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
            self.go("bench")
