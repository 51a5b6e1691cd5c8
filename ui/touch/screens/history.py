"""History: the machine's coupons, whether it drifts, when to check next, and the way to download one of them."""

from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget
from msgspec.structs import replace

from core.machine import Trended
from core.records import ALL_SESSIONS, SessionFilter
from core.said import NOTHING, Name, Part, Time, said
from ui.bench import SeeCoupon, look_up_history
from ui.pages.history import (
    ANY,
    CORRECTED,
    CORRECTED_CHOICES,
    TRENDED_WORDS,
    VERDICT_CHOICES,
    Chart,
    SessionRow,
    chart_of,
    filter_text,
    history_text,
    session_rows,
    since_choices,
    with_since,
)
from ui.pages.theme import Shape
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.strokes import Circle, Role, box, line
from ui.touch.screen import BenchScreen, Door, Group
from ui.touch.widgets.basics import Framed
from ui.touch.widgets.choice_row import ChoiceRow

PAGE = 4
MOST_MACHINES = 4  # the last ones used, side by side; older ones are listed by the text bench


class SessionButton(ButtonBehavior, Framed, BoxLayout):
    """One coupon of the list."""

    shape = ObjectProperty(Shape.RING)
    title = ObjectProperty(Time(None))
    skew = ObjectProperty(NOTHING)
    chosen = BooleanProperty(False)


class HistoryScreen(BenchScreen):
    """Keeps the page that is up, the coupon that was touched, the value that is charted and what is listed."""

    screen_name = "history"
    heading = said("History")
    door = Door(place=7, words=said("History"), group=Group.RECORDS)
    parent_screen = "bench"
    help = Help(
        (
            box(10, 34, 80, 30, Role.QUIET),
            *(
                part
                for x, y in ((18, 50), (34, 44), (50, 54), (66, 48), (82, 78))
                for part in (line((x, y - 9), (x, y + 9), width=2.0), Circle(centre=(x, y), radius=4.0))
            ),
            line((10, 12), (90, 12), width=3.0),
        ),
        (
            said("Each dot is a coupon; its line is U."),
            said("Outside the band the machine is no longer what it was."),
            said("Touch a coupon to see it again."),
        ),
    )
    chart = ObjectProperty(Chart())
    text = ObjectProperty("")
    listed = ObjectProperty(NOTHING)
    chosen = StringProperty("")
    first = NumericProperty(0)
    more = BooleanProperty(False)
    filtering = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._drawn: object = None
        self._machine = ""
        self._only: SessionFilter = ALL_SESSIONS
        self._since = ANY
        self._trended = Trended.SKEW
        self.ids.trended.choices, self.ids.trended.chosen = list(TRENDED_WORDS), Trended.SKEW

    def on_pre_enter(self) -> None:
        """Look the history up again: coupons may have been closed since."""
        machine = self.snapshot.machines.current
        self._machine = machine.name if machine else self.snapshot.machine
        self._only, self._since, self.filtering = ALL_SESSIONS, ANY, False
        self._look_up()

    def _look_up(self) -> None:
        self.first, self.chosen = 0, ""
        # Without a machine: the coupons that were measured without one.
        self.send(look_up_history(machine=self._machine, only=self._only))

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        found = snapshot.records.history
        self.chart, self.text = chart_of(found, self._trended), history_text(snapshot, self._trended)
        self.listed = filter_text(self._only)
        rows = session_rows(snapshot)
        self.more = self.first + PAGE < len(rows)
        page = rows[self.first : self.first + PAGE]
        choices = self._filter_rows(snapshot) if self.filtering else ()
        if (choices, page, self.chosen) != self._drawn:
            self._drawn = (choices, page, self.chosen)
            self.ids.rows.clear_widgets()
            if self.filtering:
                self._fill_filter(choices)
            else:
                self._fill(page)

    def _fill(self, page: tuple[SessionRow, ...]) -> None:
        for row in page:
            button = SessionButton(shape=row.shape, title=row.title, skew=row.skew, chosen=row.session == self.chosen)
            button.fbind("on_release", lambda _button, session=row.session: self._choose(session))
            self.ids.rows.add_widget(button)
        self.ids.rows.add_widget(Widget())

    def _filter_rows(self, snapshot: Snapshot) -> tuple[tuple[str, tuple[tuple[str, Part], ...], str], ...]:
        """Rows of choices: what each sets, its choices, and the one that holds."""
        machines = tuple((profile.name, Name(profile.name)) for profile in snapshot.machines.profiles[:MOST_MACHINES])
        verdict = self._only.verdict or ANY
        corrected = CORRECTED if self._only.corrected else ANY
        rows = (
            ("verdict", VERDICT_CHOICES, verdict),
            ("corrected", CORRECTED_CHOICES, corrected),
            ("since", since_choices(snapshot.records.history), self._since),
        )
        return (("machine", machines, self._machine), *rows) if len(machines) > 1 else rows

    def _fill_filter(self, rows: tuple[tuple[str, tuple[tuple[str, Part], ...], str], ...]) -> None:
        for part, choices, chosen in rows:
            row = ChoiceRow(spacing=self.ids.rows.spacing)
            row.choices, row.chosen = list(choices), chosen
            row.fbind("on_choose", lambda _row, name, part=part: self._list(part, name))
            self.ids.rows.add_widget(row)

    def _list(self, part: str, name: str) -> None:
        """A choice of the filter was touched."""
        found = self.snapshot.records.history
        match part:
            case "machine":
                self._machine = name
            case "verdict":
                self._only = replace(self._only, verdict=None if name == ANY else name)
            case "corrected":
                self._only = replace(self._only, corrected=name == CORRECTED)
            case "since" if found is not None:
                self._since, self._only = name, with_since(self._only, name, found)
        self._look_up()
        self.refresh()

    def _choose(self, session: str) -> None:
        self.chosen = session
        self.refresh()

    def toggle_filter(self) -> None:
        """The list, or what to list."""
        self.filtering = not self.filtering
        self.refresh()

    def choose_trended(self, name: str) -> None:
        """Another value in the chart."""
        self._trended = Trended(name)
        self.ids.trended.chosen = name
        self.refresh()

    def turn_page(self, pages: int) -> None:
        """Older or newer coupons."""
        self.first = max(0, self.first + pages * PAGE)
        self.refresh()

    def see(self) -> None:
        """Show the chosen coupon again, as it was when it was finished."""
        self.send(SeeCoupon(session=self.chosen))
        self.go("verdict")

    def download(self) -> None:
        """Take the chosen coupon to the download screen."""
        self.look_at(self.chosen)
        self.go("download")
