"""What a coupon is judged by, chosen before it is opened: class or own limits, inner window, warmth; a page each."""

from kivy.properties import NumericProperty, ObjectProperty
from msgspec.structs import replace

from core.said import said
from ui.pages.coupon import (
    MATERIAL_CHOICES,
    NONE,
    OWN_LIMITS,
    PART_1_CLASSES,
    PART_2_CLASSES,
    SEATS_CHOICES,
    WINDOW_SIDES,
    CouponDraft,
    Field,
    SeatsKind,
    opened_by,
    with_active,
    with_key,
)
from ui.pages.limits import FIELD_WORDS, PAGE_WORDS, Page, page_text
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Circle, Role, box, line
from ui.touch.screen import BenchScreen
from ui.touch.widgets.entry import EntryField

FIELDS: dict[Page, tuple[Field, ...]] = {
    Page.CLASS: (),
    Page.OWN: OWN_LIMITS,
    Page.WINDOW: WINDOW_SIDES,
    Page.WARMTH: (Field.TEMPERATURE,),
}


class LimitField(EntryField):
    """An entry of which four stand below each other."""


class LimitsScreen(BenchScreen):
    """Keeps the page in sight; the draft is the new-coupon screen's and goes back to it with every change."""

    screen_name = "limits"
    heading = said("Limits")
    parent_screen = "coupon"
    help = Help(
        (
            box(40, 12, 20, 76, Role.GOOD),
            line((50, 6), (50, 94), role=Role.QUIET, width=2.0),
            line((40, 6), (40, 94), width=3.0),
            line((60, 6), (60, 94), width=3.0),
            Circle(centre=(54, 66), radius=4.0),
            Circle(centre=(74, 34), radius=4.0, role=Role.DANGER),
        ),
        (
            said("A class of ISO 2768, or limits of your own."),
            said("An inner window tells kerf from scale."),
            said("Material and temperature bring sizes to 20 °C."),
        ),
    )
    text = ObjectProperty("")
    columns = NumericProperty(5)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._page = Page.CLASS
        self._draft = CouponDraft()
        self._pad = self.ids.pad.__self__
        self._fields = {name: LimitField(name=words) for name, words in FIELD_WORDS.items()}
        for name, field in self._fields.items():
            field.fbind("on_release", lambda _field, name=name: self.choose_field(name))
        self.ids.tabs.choices = list(PAGE_WORDS)

    def on_pre_enter(self) -> None:
        """Go on with the draft of the new-coupon screen."""
        self._draft = self.drafted()
        self.turn_to(self._page)

    def turn_to(self, page: str) -> None:
        """Bring a page into sight; its first number is the one the keys go to."""
        self._page = Page(page)
        names = FIELDS[self._page]
        self.ids.tabs.chosen = self._page
        self.ids.fields.clear_widgets()
        for name in names:
            self.ids.fields.add_widget(self._fields[name])
        self.ids.pads.clear_widgets()
        if names:
            self.ids.pads.add_widget(self._pad)
        self._edit(with_active(self._draft, names[0]) if names else self._draft)

    def choose_field(self, name: Field) -> None:
        """The keys go to this number."""
        self._edit(with_active(self._draft, name))

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._edit(with_key(self._draft, key))

    def choose_first(self, name: str) -> None:
        """Another class for the sizes, other seats, or another material."""
        match self._page:
            case Page.WARMTH:
                self._edit(replace(self._draft, material=name))
            case Page.WINDOW:
                self._edit(replace(self._draft, seats=SeatsKind(name)))
            case _:
                self._edit(replace(self._draft, part_1=name))

    def choose_second(self, name: str) -> None:
        """Another class for the squareness."""
        self._edit(replace(self._draft, part_2=name))

    def _edit(self, draft: CouponDraft) -> None:
        self._draft = draft
        self.hand_draft(draft)
        notation = self.snapshot.settings.notation
        for name, field in self._fields.items():
            field.text, field.active = draft.text(name), name is draft.active
            field.unit = notation.length_sign if name.is_length else "°C" if name is Field.TEMPERATURE else "°"
        first, second = self.ids.first, self.ids.second
        match self._page:
            case Page.CLASS:
                first.choices, first.chosen = list(PART_1_CLASSES), draft.part_1
                # Without a class for the sizes there is none for the squareness: own limits serve alone.
                second.choices = [] if draft.part_1 == NONE else list(PART_2_CLASSES)
                second.chosen = draft.part_2
            case Page.WARMTH:
                first.choices, first.chosen, second.choices = list(MATERIAL_CHOICES), draft.material, []
            case Page.WINDOW:
                first.choices, first.chosen, second.choices = list(SEATS_CHOICES), draft.seats, []
            case _:
                first.choices, second.choices = [], []
        self.columns = 5 if self._page is Page.CLASS else 3
        opened = opened_by(draft, self.snapshot.machines.current)
        self.text = page_text(self._page, opened, carried_over=draft.carried_over)
