"""The check before measuring: closed jaws and setting blocks, or a try square and the same turned over."""

from kivy.properties import BooleanProperty, ObjectProperty, StringProperty
from msgspec.structs import replace

from core.metrology import Block, LiveState, Quantity
from core.said import said
from ui.bench import HoldReadings
from ui.pages.check import (
    BLOCK_CHOICES,
    HOW,
    NEEDS_COUPON,
    QUANTITY_CHOICES,
    CheckDraft,
    command_of,
    places,
    taken_text,
    with_block,
    with_quantity,
    with_value,
)
from ui.pages.live_cursor import decimals_of, digits_text
from ui.state import Live, Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Fill, Role, box
from ui.touch.screen import BenchScreen


class CheckScreen(BenchScreen):
    """Keeps the values taken; the bench judges them and keeps the outcome in the session."""

    screen_name = "check"
    heading = said("Check")
    parent_screen = "instruments"
    help = Help(
        (
            box(8, 72, 84, 8),
            Fill(points=((34, 72), (48, 72), (48, 36))),
            Fill(points=((66, 72), (52, 72), (52, 36))),
            box(20, 14, 8, 20, Role.QUIET),
            box(20, 14, 60, 8, Role.QUIET),
        ),
        (
            said("Close the jaws, then measure a block you know."),
            said("Hold the gauge to a square, then to the same square turned over."),
            said("What passes is the zero of today."),
        ),
    )
    text = ObjectProperty("")
    taken = ObjectProperty("")
    live = StringProperty("")
    unit = StringProperty("mm")
    fresh = BooleanProperty(False)
    complete = BooleanProperty(False)
    with_blocks = BooleanProperty(True)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._draft = CheckDraft()
        self.ids.quantity.choices = list(QUANTITY_CHOICES)
        self.ids.block.choices = list(BLOCK_CHOICES)

    def on_pre_enter(self) -> None:
        """Begin anew. A block of 76 mm must not pass for an edge of the coupon, nor the square for a corner."""
        self._draft = CheckDraft()
        self.send(HoldReadings(held=True))

    def on_pre_leave(self) -> None:
        """What comes down the cables means the coupon again."""
        self.send(HoldReadings(held=False))

    def show(self, snapshot: Snapshot) -> None:
        """Draw what was taken, and the live value beside it."""
        draft, live = self._draft, self._live(snapshot)
        decimals = decimals_of(live, snapshot)
        self.fresh = live.value is not None and live.state not in (LiveState.ABSENT, LiveState.STALE)
        notation = snapshot.settings.notation
        self.live = digits_text(live, decimals, notation) if self.fresh else "–"
        self.unit = notation.length_sign if draft.quantity is Quantity.LENGTH else notation.angle_sign
        self.with_blocks = draft.quantity is Quantity.LENGTH
        open_session = snapshot.session is not None and not snapshot.closed
        self.text = HOW[draft.quantity] if open_session else NEEDS_COUPON
        self.taken = taken_text(draft, decimals)
        self.complete = open_session and command_of(draft) is not None
        self.ids.quantity.chosen, self.ids.block.chosen = draft.quantity.value, draft.block.value
        self.ids.places.choices, self.ids.places.chosen = list(places(draft)), draft.place

    def _live(self, snapshot: Snapshot) -> Live:
        return snapshot.live_length if self._draft.quantity is Quantity.LENGTH else snapshot.live_corner

    def _edit(self, draft: CheckDraft) -> None:
        self._draft = draft
        self.refresh()

    def choose_quantity(self, name: str) -> None:
        """Calipers or angle gauge."""
        self._edit(with_quantity(self._draft, Quantity(name)))

    def choose_block(self, name: str) -> None:
        """Metric or inch blocks."""
        self._edit(with_block(self._draft, Block(name)))

    def choose_place(self, name: str) -> None:
        """Where the next value is taken."""
        self._edit(replace(self._draft, place=name))

    def take(self) -> None:
        """Take the live value at the place that is chosen."""
        value = self._live(self.snapshot).value
        if value is not None:
            self._edit(with_value(self._draft, value))

    def begin_again(self) -> None:
        """Forget what was taken."""
        self._edit(replace(self._draft, taken=()))

    def judge(self) -> None:
        """Let the bench judge it; it answers on the message line."""
        command = command_of(self._draft)
        if command is not None:
            self.send(command)
