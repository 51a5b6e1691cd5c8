"""Update: what runs here, what is on the stick, and the one touch that changes it, asked first."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ListProperty, ObjectProperty, StringProperty

from ui.bench.desks.update import ChangeVersion, UpdateStep
from ui.pages.theme import Shape
from ui.pages.update import back_question_text, busy_text, failed_text, idle_text, question_text
from ui.state.snapshot import Snapshot
from ui.state.stick import UpdateSlice, UpdateState
from ui.touch.screen import BenchScreen

LAMPS = {
    UpdateState.IDLE: (Shape.RING, "READY", "nothing changes before it was asked"),
    UpdateState.LOOKING: (Shape.HALF_DIAMOND, "LOOKING", "leave the stick in"),
    UpdateState.FOUND: (Shape.RING, "UPDATE FOUND", "the stick may be pulled out"),
    UpdateState.INSTALLING: (Shape.HALF_DIAMOND, "INSTALLING", "leave the bench switched on"),
    UpdateState.STARTING: (Shape.HALF_DIAMOND, "STARTING", "leave the bench switched on"),
    UpdateState.FAILED: (Shape.CROSSED_SQUARE, "NOT UPDATED", "nothing was changed"),
}
ASK_BACK, STAY = "ask-back", "stay"


class UpdateScreen(BenchScreen):
    """Keeps the wish to go back until it is confirmed."""

    screen_name = "update"
    heading = "Update"
    parent_screen = "setup"
    shape = ObjectProperty(Shape.RING)
    word = StringProperty("")
    caption = StringProperty("")
    text = StringProperty("")
    choices = ListProperty()
    ready = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._asked_back = False

    def on_pre_enter(self) -> None:
        """Ask anew every time."""
        self._asked_back = False

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        view = snapshot.update
        if view is None:
            return
        self.shape, self.word, self.caption = LAMPS[view.state]
        self.ready = not view.state.is_busy
        self.text, self.choices = self._said(snapshot, view)

    def _said(self, snapshot: Snapshot, view: UpdateSlice) -> tuple[str, list[tuple[str, str]]]:
        """The words, and what may be touched: the way on first."""
        readings = len(snapshot.readings) if snapshot.session and not snapshot.closed else None
        if self._asked_back and self.ready:
            stay = (STAY, f"Stay on {view.running}")
            return back_question_text(view, readings), [(UpdateStep.GO_BACK, f"Back to {view.before}"), stay]
        match view.state:
            case UpdateState.FOUND:
                return question_text(view, readings), [
                    (UpdateStep.INSTALL, f"Install {view.found}"),
                    (UpdateStep.LEAVE, "Not now"),
                ]
            case UpdateState.IDLE | UpdateState.FAILED:
                back = [(ASK_BACK, f"Back to {view.before}")] if view.before else []
                text = idle_text(view) if view.state is UpdateState.IDLE else failed_text(view)
                return text, [(UpdateStep.LOOK, "Look at the stick"), *back]
            case _:
                return busy_text(view), []

    def answer(self, name: str) -> None:
        """Ask before going back; everything else is the bench's."""
        self._asked_back = name == ASK_BACK
        if name in list(UpdateStep):
            self.send(ChangeVersion(step=UpdateStep(name)))
        self.refresh()
