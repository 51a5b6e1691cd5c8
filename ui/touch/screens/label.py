"""The coupon's label: its name or order, whom it is for, who measured, whose shop, and a note, for the papers."""

from kivy.properties import BooleanProperty, ObjectProperty

from core.said import NOTHING, lines, said
from ui.pages.label import FIELD_WORDS, LONGEST, NOTHING_TO_LABEL, LabelField, given, label_rows, labelling
from ui.state import Snapshot
from ui.touch.pictures.help import SHEET, Help, written
from ui.touch.pictures.strokes import Role, line
from ui.touch.screen import BenchScreen, Door, Group


class LabelScreen(BenchScreen):
    """Keeps the field that is being filled, None while all are shown."""

    screen_name = "label"
    heading = said("Name, order")
    door = Door(place=10, words=said("Name and order"), group=Group.RECORDS)
    parent_screen = "verdict"
    help = Help(
        (*SHEET, *written(26, 74, 76, 62, 48), line((26, 26), (34, 34), (42, 22), (52, 32), role=Role.ACT)),
        (
            said("What stands here is printed on the report."),
            said("Touch a line to write it."),
            said("The next coupon begins with shop, operator and instruments."),
        ),
    )
    title = ObjectProperty(NOTHING)
    naming = BooleanProperty(False)
    keep_words = said("Keep it")
    longest = LONGEST

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._field: LabelField | None = None
        # Held here: what is out of sight belongs to nobody else.
        self._faces = [self.ids.fields.__self__, self.ids.one_field.__self__]
        self.on_naming()

    def on_pre_enter(self) -> None:
        """Begin with all fields."""
        self._field, self.naming = None, False

    def on_naming(self, *_changed: object) -> None:
        """One face at a time."""
        self.ids.faces.clear_widgets()
        self.ids.faces.add_widget(self._faces[int(self.naming)])

    def show(self, snapshot: Snapshot) -> None:
        """Draw all fields, or the one that is being filled."""
        if self._field is not None:
            self.title = FIELD_WORDS[self._field]
        elif snapshot.session is None:
            self.title, self.ids.fields.choices = NOTHING_TO_LABEL, []
        else:
            self.title = said("What the report says of this coupon")
            self.ids.fields.choices = [(field.value, lines(words, text)) for field, words, text in label_rows(snapshot)]

    def fill(self, name: str) -> None:
        """A field was touched: begin with what stands in it."""
        self._field = LabelField(name)
        self.ids.pad.typed = given(self.snapshot, self._field)
        self.naming = True
        self.panel_changed()
        self.refresh()

    def keep(self) -> None:
        """What is typed goes into the field."""
        assert self._field is not None
        self.send(labelling(self.snapshot, self._field, self.ids.pad.typed))
        self._field, self.naming = None, False
        self.panel_changed()
        self.refresh()
