"""What takes the place of the bench's right half: the coupon's word, a question, the keypad that stays."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ListProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING
from ui.pages.bench import Answer, Asked
from ui.pages.live_cursor import LiveCursor
from ui.pages.theme import Shape


class AnswerFace(BoxLayout):
    """The coupon's word, as large as it is important, and the way on from it."""

    __events__ = ("on_see", "on_more")
    shape = ObjectProperty(Shape.RING)
    word = ObjectProperty(NOTHING)
    about = ObjectProperty(NOTHING)
    see_words = ObjectProperty(NOTHING)
    more_words = ObjectProperty(NOTHING)

    def show(self, answer: Answer) -> None:
        """Show what changed."""
        self.shape, self.word, self.about = answer.shape, answer.word, answer.about
        self.see_words, self.more_words = answer.go_on, answer.more

    def on_see(self) -> None:
        """See what to do."""

    def on_more(self) -> None:
        """Go on measuring."""


class QuestionFace(BoxLayout):
    """A question in place, the indication still in sight; dispatches `on_answer` with the choice's stable name. Yes
    stands left wherever it is, and none is the main one: the person decides."""

    __events__ = ("on_answer",)
    caption = ObjectProperty(NOTHING)
    digits = StringProperty("")
    title = ObjectProperty(NOTHING)
    text = ObjectProperty(NOTHING)
    choices = ListProperty()

    def show(self, asked: Asked, live: LiveCursor) -> None:
        """Show what changed."""
        self.title, self.text, self.choices = asked.title, asked.text, list(asked.choices)
        self.digits = live.digits + live.unit

    def on_answer(self, name: str) -> None:
        """A choice was touched."""


class KeypadFace(BoxLayout):
    """The keypad that stays: every number goes to the next feature. `starts` are what its two keys begin a number
    with: the whole millimetres below and above nominal."""

    __events__ = ("on_key", "on_start", "on_unit")
    caption = ObjectProperty(NOTHING)
    entry = StringProperty("")
    unit_words = ObjectProperty(NOTHING)
    unit_can_change = BooleanProperty(True)
    starts = ListProperty(["", ""])
    band_shape = ObjectProperty(Shape.RING)
    band_head = ObjectProperty(NOTHING)

    def on_key(self, key: str) -> None:
        """A key was pressed."""

    def on_start(self, text: str) -> None:
        """A key that begins a number was pressed."""

    def on_unit(self) -> None:
        """The unit was touched."""


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
