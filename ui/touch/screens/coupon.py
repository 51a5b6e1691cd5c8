"""A new coupon: its two sides and its tolerances, always shown as numbers, before measuring starts."""

from kivy.properties import BooleanProperty, ObjectProperty, StringProperty
from msgspec.structs import replace

from core.metrology import Scope
from core.records import Opened
from core.said import NOTHING, Part, said
from ui.bench import OpenSession, look_up_grid
from ui.pages.bed import grid_choices, machine_name, place_rows
from ui.pages.coupon import CouponDraft, Field, opened_by, with_active, with_grid, with_key
from ui.pages.limits import terms_text
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import arrow, frame, line
from ui.touch.screen import BenchScreen, Door, Group


class CouponScreen(BenchScreen):
    """Keeps the draft; sends OpenSession, and the shell goes to measuring when the session is on the disk."""

    screen_name = "coupon"
    heading = said("New coupon")
    door = Door(place=1, words=said("New coupon"), group=Group.BENCH)
    parent_screen = "bench"
    help = Help(
        (
            frame(26, 34, 56, 44, line=4.0),
            line((33, 52), (33, 41), (43, 41), width=4.0),
            *arrow((54, 20), (82, 20), width=3.0),
            *arrow((54, 20), (26, 20), width=3.0),
            *arrow((12, 56), (12, 78), width=3.0),
            *arrow((12, 56), (12, 34), width=3.0),
        ),
        (
            said("Width lies along machine X, height along Y."),
            said("Touch a side, then the keys."),
            said("Choose seats as they were cut."),
        ),
    )
    width_text = StringProperty("")
    height_text = StringProperty("")
    active = StringProperty("width")
    remark = ObjectProperty("")
    ready = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._draft = CouponDraft()
        self._opened: Opened | Part = NOTHING
        self._placing = False
        # Held here: the pad that is out of sight belongs to nobody else.
        self._numbers, self._places = self.ids.numbers.__self__, self.ids.places.__self__

    def on_pre_enter(self) -> None:
        """Go on with the coupon being chosen; else begin with what was chosen last on this machine."""
        draft = with_active(self.drafted(), Field.WIDTH)
        self._placing = bool(draft.grid)
        self._edit(draft)
        self.send(look_up_grid(machine=machine_name(self.snapshot), grid=draft.grid))

    def show(self, snapshot: Snapshot) -> None:
        """A grid was looked up: its places can be touched."""
        choices = grid_choices(snapshot)
        self.ids.grids.choices = list(choices) if len(choices) > 1 else []
        self.ids.grids.chosen = self._draft.grid
        self.ids.places.rows_of_places = place_rows(snapshot.records.grid, self._draft.grid)

    def choose_grid(self, grid: str) -> None:
        """The coupon by itself, or one of a grid: then its place is touched, and its size is the grid's."""
        state = self.snapshot.records.grid
        measured = state.measured.values() if state is not None and state.grid == grid else ()
        coupon = next((summary.coupon for summary in measured), None)
        self._placing = bool(grid)
        self._edit(with_grid(self._draft, grid, coupon, self.snapshot.settings.notation))

    def choose_place(self, place: str) -> None:
        """The place engraved on the coupon."""
        self._edit(replace(self._draft, place=place))

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._edit(with_key(self._draft, key))

    def choose_side(self, side: str) -> None:
        """The keys go to this side."""
        self._placing = False
        self._edit(with_active(self._draft, side))

    def open_limits(self) -> None:
        """To the page of everything else that the coupon is judged by."""
        self.hand_draft(self._draft)
        self.go("limits")

    def start(self) -> None:
        """Open the session."""
        if isinstance(self._opened, Opened):
            self.send(OpenSession(opened=self._opened))

    def start_quick_check(self) -> None:
        """Open a session that judges squareness alone, by two diagonals."""
        opened = opened_by(self._draft, self.snapshot.machines.current, Scope.SQUARENESS)
        if isinstance(opened, Opened):
            self.send(OpenSession(opened=opened))

    def _edit(self, draft: CouponDraft) -> None:
        self._draft = draft
        self._opened = opened_by(draft, self.snapshot.machines.current)
        self.width_text, self.height_text = draft.text(Field.WIDTH), draft.text(Field.HEIGHT)
        self.active = draft.active
        self.ids.places.chosen = draft.place
        self.ids.pads.clear_widgets()
        self.ids.pads.add_widget(self._places if self._placing else self._numbers)
        self.show(self.snapshot)
        self.ready = isinstance(self._opened, Opened)
        opened = self._opened
        self.remark = terms_text(opened, carried_over=draft.carried_over) if isinstance(opened, Opened) else opened
