"""Update: what runs here, what is on the stick, and the one touch that changes it, asked first."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ListProperty, ObjectProperty

from core.said import NOTHING, Name, Part, said
from ui.bench.desks.update import ChangeVersion, UpdateStep
from ui.pages.theme import Shape
from ui.pages.update import back_question_text, busy_text, failed_text, idle_text, question_text
from ui.state.snapshot import Snapshot
from ui.state.stick import UpdateSlice, UpdateState
from ui.touch.screen import BenchScreen

LAMPS = {
    UpdateState.IDLE: (Shape.RING, said("READY"), said("asks before it acts")),
    UpdateState.LOOKING: (Shape.HALF_DIAMOND, said("LOOKING"), said("leave the stick in")),
    UpdateState.FOUND: (Shape.RING, said("UPDATE FOUND"), said("stick no longer needed")),
    UpdateState.INSTALLING: (Shape.HALF_DIAMOND, said("INSTALLING"), said("leave the bench switched on")),
    UpdateState.STARTING: (Shape.HALF_DIAMOND, said("STARTING"), said("leave the bench switched on")),
    UpdateState.FAILED: (Shape.CROSSED_SQUARE, said("NOT UPDATED"), said("nothing was changed")),
}
ASK_BACK, STAY = "ask-back", "stay"


class UpdateScreen(BenchScreen):
    """Keeps the wish to go back until it is confirmed."""

    screen_name = "update"
    heading = said("Update")
    parent_screen = "setup"
    shape = ObjectProperty(Shape.RING)
    word = ObjectProperty(NOTHING)
    caption = ObjectProperty(NOTHING)
    text = ObjectProperty("")
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

    def _said(self, snapshot: Snapshot, view: UpdateSlice) -> tuple[Part, list[tuple[str, Part]]]:
        """The words, and what may be touched: the way on first."""
        readings = len(snapshot.readings) if snapshot.session and not snapshot.closed else None
        if self._asked_back and self.ready:
            stay = (STAY, said("Stay on {version}", version=Name(view.running)))
            return back_question_text(view, readings), [
                (UpdateStep.GO_BACK, said("Back to {version}", version=Name(view.before))),
                stay,
            ]
        match view.state:
            case UpdateState.FOUND:
                return question_text(view, readings), [
                    (UpdateStep.INSTALL, said("Install {version}", version=Name(view.found))),
                    (UpdateStep.LEAVE, said("Not now")),
                ]
            case UpdateState.IDLE | UpdateState.FAILED:
                back = [(ASK_BACK, said("Back to {version}", version=Name(view.before)))] if view.before else []
                text = idle_text(view) if view.state is UpdateState.IDLE else failed_text(view)
                return text, [(UpdateStep.LOOK, said("Look at the stick")), *back]
            case _:
                return busy_text(view), []

    def answer(self, name: str) -> None:
        """Ask before going back; everything else is the bench's."""
        self._asked_back = name == ASK_BACK
        if name in list(UpdateStep):
            self.send(ChangeVersion(step=UpdateStep(name)))
        self.refresh()
