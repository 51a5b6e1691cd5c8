"""The verdict: one word read from afar, a lamp for each group, what to do, the outline, and the way on."""

from kivy.properties import BooleanProperty, ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING, said
from ui.bench import CloseSession, SeeCoupon, SelectFeature
from ui.pages.theme import Shape
from ui.pages.verdict import VerdictPage, verdict_page
from ui.state import Snapshot
from ui.touch.pictures.help import LEANING, Help
from ui.touch.pictures.strokes import Circle, Role
from ui.touch.screen import BenchScreen, Door
from ui.touch.widgets.basics import Filled


class GroupSign(Filled, BoxLayout):
    """One group's own lamp with its name, below it or beside it."""

    lamp = ObjectProperty((Shape.RING, NOTHING))


class VerdictScreen(BenchScreen):
    """Shows a VerdictPage."""

    screen_name = "verdict"
    heading = said("Verdict")
    door = Door(place=3, words=said("Verdict"))
    parent_screen = "bench"
    help = Help(
        (*LEANING, Circle(centre=(80, 24), radius=12.0, role=Role.DANGER)),
        (
            said("Large: the coupon's word and what it is about."),
            said("Below it: what to do, and the caution that comes first."),
            said("The outline shows each deviation beside its limit."),
        ),
    )
    shape = ObjectProperty(Shape.RING)
    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    lamps = ObjectProperty(((Shape.RING, NOTHING),) * 3)
    order = ObjectProperty(NOTHING)
    caution = ObjectProperty(NOTHING)
    next_text = ObjectProperty("")
    finishes = BooleanProperty(False)
    can_finish = BooleanProperty(False)
    compares = BooleanProperty(False)
    moves = BooleanProperty(False)
    draws_next = BooleanProperty(False)
    other_way = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._page: VerdictPage | None = None

    def on_pre_enter(self) -> None:
        """With no coupon on the bench, the one that was finished last is seen again."""
        last = self.snapshot.records.last_closed
        if self.snapshot.session is None and last is not None:
            self.send(SeeCoupon(session=last.id))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        page = verdict_page(snapshot)
        if page == self._page:
            return
        self._page = page
        self.shape, self.word, self.caption = page.shape, page.word, page.caption
        self.lamps = tuple((lamp.shape, lamp.text) for lamp in page.lamps)
        self.order, self.caution = page.do.text, page.do.caution
        self.compares, self.moves = page.before is not None, page.do.end is not None
        self.ids.before.outline, self.ids.after.outline = page.before, page.after
        self.ids.move.do, self.ids.figure.shown = page.do, page.figure
        self.draws_next = page.figure is not None
        self.next_text, self.finishes, self.can_finish = page.next_text, page.finishes, page.can_finish
        self.other_way = page.other_way

    def go_on(self) -> None:
        """The one next step."""
        page = self._page
        if page is None:
            return
        if page.finishes:
            self.send(CloseSession())
            return
        if page.do.measure is not None:
            self.send(SelectFeature(feature=page.do.measure))
        self.go(page.next_screen)

    def finish(self) -> None:
        """The coupon is done."""
        self.send(CloseSession())
