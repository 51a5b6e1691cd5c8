"""The bench: where power on lands, where a coupon is measured or typed, and where its word comes up by itself."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from kivy.app import App
from kivy.properties import BooleanProperty, ObjectProperty
from kivy.uix.widget import Widget
from msgspec.structs import replace

from core.geometry import Feature
from core.metrology import Method, Quantity, Unit
from core.said import NOTHING, Part, said
from ui.bench import AnswerQuestion, SelectFeature, TakeReading, TypeReading, VoidReading
from ui.pages.bench import (
    KEEP,
    VOIDING,
    WHICH,
    BenchPage,
    Doing,
    Figured,
    bench_page,
    moved_page,
    readings_of,
    with_coupon,
)
from ui.pages.keypad import Entry, press, remark, starts
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import COUPON_MEASURED
from ui.touch.screen import BenchScreen
from ui.touch.widgets.bench_faces import LiveFace

if TYPE_CHECKING:
    from ui.touch.widgets.later_faces import AnswerFace, KeypadFace, QuestionFace

_UNIT_WORDS = {Unit.MM: said("mm"), Unit.INCH: said("inches"), Unit.DEG: said("degrees")}


class BenchItself(BenchScreen):
    """Keeps what the person is doing on the screen itself: a wish to void, an answer put aside, a number keyed in."""

    screen_name = "bench"
    heading = ObjectProperty(NOTHING)
    help = Help(
        COUPON_MEASURED,
        (
            said("Lay the jaws where they are drawn, and press the data button."),
            said("The value goes to what is blue; touch another to measure that."),
            said("Both diagonals twice give the first word."),
        ),
    )
    hint = ObjectProperty(NOTHING)
    message = ObjectProperty(NOTHING)
    alarm = BooleanProperty(False)
    typing = BooleanProperty(False)
    takeable = BooleanProperty(False)
    undoable = BooleanProperty(False)
    stoppable = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._doing = Doing()
        self._session: str | None = None
        self._count = 0
        self._entry = Entry(unit=Unit.MM)
        self._page: BenchPage = bench_page(self.snapshot, Quantity.LENGTH, self._doing)
        self._page_of = (self.snapshot, Quantity.LENGTH, self._doing)
        self._figured: Figured | None = None
        self._live = LiveFace()
        self._live.bind(on_band=lambda _face: self.go("verdict"))

    # What is not in sight when the power comes on is made when it first comes up: the first screen is there sooner,
    # and a bench that is only read holds less.

    @cached_property
    def _answer(self) -> AnswerFace:
        from ui.touch.widgets.later_faces import AnswerFace

        face = AnswerFace()
        face.bind(on_see=lambda _face: self.see(), on_more=lambda _face: self.measure_more())
        return face

    @cached_property
    def _question(self) -> QuestionFace:
        from ui.touch.widgets.later_faces import QuestionFace

        face = QuestionFace()
        face.bind(on_answer=lambda _face, name: self.answer(name))
        return face

    @cached_property
    def _keypad(self) -> KeypadFace:
        from ui.touch.widgets.later_faces import KeypadFace

        face = KeypadFace()
        face.bind(
            on_key=lambda _face, key: self.press_key(key),
            on_start=lambda _face, text: self.begin_number(text),
            on_unit=lambda _face: self.change_unit(),
        )
        return face

    @property
    def entry_text(self) -> str:
        """What is keyed in so far."""
        return self._entry.text

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        self._follow(snapshot)
        quantity = self._quantity(snapshot)
        self._put(snapshot, quantity, bench_page(snapshot, quantity, self._doing))

    def move(self, snapshot: Snapshot) -> None:
        """Draw what the instruments say now; the rest of the page stays what it is."""
        before, *made_for = self._page_of
        quantity = self._quantity(snapshot)
        same = made_for == [quantity, self._doing]
        page = moved_page(self._page, before, snapshot, quantity) if same else None
        if page is None:
            self.show(snapshot)
        elif self.typing or self._live.parent is None:
            self._put(snapshot, quantity, page)
        else:
            self._page, self._page_of = page, (snapshot, quantity, self._doing)
            self._live.move(page.live, page.missing, page.bar)
            self.takeable = self._is_takeable(page)

    def _put(self, snapshot: Snapshot, quantity: Quantity, page: BenchPage) -> None:
        """Every part of a page where it stands."""
        self._page, self._page_of = page, (snapshot, quantity, self._doing)
        self.heading, self.hint, self.message, self.alarm = page.title, page.hint, page.message, page.alarm
        self.undoable = snapshot.undo is not None
        stoppable = snapshot.work is not None and snapshot.work.can_stop
        if stoppable and not self.stoppable and self.ids.face.children:
            self.panel_changed()  # it comes up by itself, below the drawing that is touched
        self.stoppable = stoppable
        if page.figure is not self._figured:
            self.ids.figure.shown = self._figured = page.figure
        if page.asked is not None:
            self._question.caption = page.caption
            self._question.show(page.asked, page.live)
            self._put_up(self._question)
        elif page.answer is not None:
            self._answer.show(page.answer)
            self._put_up(self._answer)
        elif self.typing:
            self._show_keypad(page)
            self._put_up(self._keypad)
        else:
            self._live.show(page.caption, page.live, page.missing, page.bar, page.band)
            self._put_up(self._live)
        self.takeable = self._is_takeable(page)

    def _is_takeable(self, page: BenchPage) -> bool:
        if page.asked is not None and page.asked.name == (self.snapshot.question and self.snapshot.question.name):
            return False
        if page.asked is None and page.answer is not None:
            return False
        if self.typing:
            return self._entry.value is not None and page.live.feature is not None and self.snapshot.pending is None
        return page.live.takeable

    def _put_up(self, face: Widget) -> None:
        if face.parent is not None:
            return
        before = list(self.ids.face.children)
        self.ids.face.clear_widgets()
        self.ids.face.add_widget(face)
        if before:
            self.panel_changed()

    def _follow(self, snapshot: Snapshot) -> None:
        """Another coupon is begun anew; whoever reads on has put the answer aside; what was typed and taken is gone."""
        shown = self._page.answer
        if snapshot.session != self._session:
            self._session, self._count = snapshot.session, 0
            self._doing, shown = Doing(), None
        count = len(snapshot.readings)
        if count > self._count:
            self._doing = replace(self._doing, voiding=None, dismissed=shown.key if shown else self._doing.dismissed)
            if snapshot.readings[-1].reading.method is Method.TYPED:
                self._entry = replace(self._entry, text="")
        self._count = count

    def says(self, text: Part) -> None:
        """There is no line below the bench: it is said beside the drawing."""
        self.message = text

    # ---- what is touched

    def choose(self, feature: Feature) -> None:
        """A feature was touched on the drawing: it is next, and what was read there may be voided."""
        if self.snapshot.session is None or self.snapshot.closed:
            return
        self.in_hand.touch(Quantity.LENGTH if feature.is_length else Quantity.ANGLE)
        self.send(SelectFeature(feature=feature))
        voiding = feature if readings_of(self.snapshot, feature) else None
        self._doing = replace(self._doing, voiding=voiding)
        self.refresh()

    def take(self) -> None:
        """Take the large indication, or the number that was keyed in."""
        page = self._page
        if not self.typing:
            self.send(TakeReading(quantity=page.live.quantity))
        elif page.live.feature is not None and self._entry.shown is not None:
            self.send(TypeReading(feature=page.live.feature, shown=self._entry.shown, unit=self._entry.unit))

    def change_mode(self) -> None:
        """Between the instruments and the keypad; the number begun stays."""
        self.typing = not self.typing
        answer = self._page.answer
        self._doing = replace(self._doing, voiding=None, dismissed=answer.key if answer else self._doing.dismissed)
        self.panel_changed()
        self.refresh()

    def undo(self) -> None:
        """Take back what was done last."""
        App.get_running_app().root.undo()

    def stop_work(self) -> None:
        """Wait no longer for what is under way."""
        App.get_running_app().root.stop_work()

    def see(self) -> None:
        """The way on."""
        answer = self._page.answer
        if answer is not None:
            self.go(answer.screen)

    def measure_more(self) -> None:
        """Put the answer aside, or go where it leads."""
        answer = self._page.answer
        if answer is None:
            return
        if answer.more_screen:
            self.go(answer.more_screen)
            return
        self._doing = replace(self._doing, dismissed=answer.key)
        self.refresh()

    def answer(self, name: str) -> None:
        """Send what was decided on the panel that is up."""
        asked = self._page.asked
        if asked is None:
            return
        voiding, self._doing = self._doing.voiding, replace(self._doing, voiding=None)
        match asked.name:
            case str() if asked.name == WHICH and name != KEEP:
                self._doing = replace(self._doing, voiding=int(name))
            case str() if asked.name == VOIDING and name != KEEP:
                if isinstance(voiding, Feature):
                    voiding = readings_of(self.snapshot, voiding)[-1].number
                if voiding is not None:
                    self.send(VoidReading(number=voiding, reason=name))
            case str() if asked.name not in (WHICH, VOIDING):
                self.send(AnswerQuestion(question=asked.name, answer=name))
        self.refresh()

    # ---- the keypad

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._entry = press(self._entry, key)
        self.refresh()

    def begin_number(self, text: str) -> None:
        """The whole millimetres below or above nominal; the rest is keyed in."""
        self._entry = replace(self._entry, text=text)
        self.refresh()

    def change_unit(self) -> None:
        """Millimetres or inches."""
        self._entry = Entry(unit=Unit.INCH if self._entry.unit is Unit.MM else Unit.MM, text=self._entry.text)
        self.refresh()

    def _quantity(self, snapshot: Snapshot) -> Quantity:
        """What the page is about: that of the instrument that moved, or of what is typed."""
        in_hand = self.in_hand.follow(snapshot)
        return self._typed_quantity(snapshot) if self.typing else in_hand

    def _typed_quantity(self, snapshot: Snapshot) -> Quantity:
        """What was touched last, as long as any is left of it; then the other."""
        shown = with_coupon(snapshot)
        at_hand = self.in_hand.quantity
        if self.in_hand.cursor(shown) is not None:
            return at_hand
        return Quantity.ANGLE if at_hand is Quantity.LENGTH else Quantity.LENGTH

    def _show_keypad(self, page: BenchPage) -> None:
        feature, coupon, notation = page.live.feature, page.figure.coupon, self.snapshot.settings.notation
        length = feature is None or feature.is_length
        if length is (self._entry.unit is Unit.DEG):
            self._entry = Entry(unit=notation.length_unit if length else Unit.DEG, text="")
        keypad, entry = self._keypad, self._entry
        keypad.caption, keypad.entry, keypad.unit_words = page.caption, entry.text, _UNIT_WORDS[entry.unit]
        keypad.unit_can_change = length
        keypad.starts = starts(coupon, feature, entry.unit) if feature is not None else ("", "")
        keypad.band_shape, keypad.band_head = page.band.shape, page.band.head
        if feature is not None and entry.value is not None and (doubt := remark(entry, coupon, feature)):
            self.hint = doubt
