"""What every screen is: it shows a snapshot, sends commands, knows where back leads."""

from __future__ import annotations

import threading
from collections.abc import Callable

from kivy.app import App
from kivy.clock import Clock
from kivy.uix.screenmanager import Screen

from ui.pages.coupon import CouponDraft, draft_of
from ui.state.messages import Command
from ui.state.snapshot import Snapshot
from ui.touch.in_hand import InHand


class BenchScreen(Screen):
    """Base of all screens. `heading` stands in the top bar; `parent_screen` is where back leads, empty for home."""

    heading = ""
    parent_screen = ""

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot; called for the screen in sight only."""

    def send(self, command: Command) -> None:
        """Tell the bench."""
        App.get_running_app().bench.send(command)

    def go(self, name: str) -> None:
        """Change to another screen."""
        App.get_running_app().root.go(name)

    @property
    def snapshot(self) -> Snapshot:
        """The newest snapshot that the application has seen."""
        return App.get_running_app().snapshot

    @property
    def in_hand(self) -> InHand:
        """Which instrument is in the person's hand."""
        return App.get_running_app().in_hand

    def look_at(self, what: str) -> None:
        """Hand a session of the archive, or a port, on to the screen that is opened next."""
        App.get_running_app().looked_at = what

    def looked_at(self) -> str:
        """What was handed on, once; empty when nothing was."""
        app = App.get_running_app()
        what, app.looked_at = app.looked_at, ""
        return what

    def hand_draft(self, draft: CouponDraft) -> None:
        """Hand a coupon that is being chosen on to the other screen it is chosen on."""
        App.get_running_app().coupon_draft = draft

    def drafted(self) -> CouponDraft:
        """The coupon that was being chosen, once; else one begun with what was chosen last on this machine."""
        app = App.get_running_app()
        draft, app.coupon_draft = app.coupon_draft, None
        notation = self.snapshot.settings.notation
        if draft is not None and draft.is_in(notation):
            return draft
        return draft_of(self.snapshot.records.last_opened, notation)

    def in_background(self, work: Callable[[], str], then: Callable[[str], None]) -> None:
        """Do what may take seconds in a thread of its own; `then` gets what came of it, on the screen's thread."""

        def run() -> None:
            outcome = work()
            Clock.schedule_once(lambda _elapsed_s: then(outcome))

        threading.Thread(target=run, name="screen errand", daemon=True).start()

    def refresh(self) -> None:
        """Draw again after a touch that changed only the screen itself."""
        self.show(self.snapshot)
