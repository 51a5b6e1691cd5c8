"""A new coupon: its two sides and its tolerances, always shown as numbers, before measuring starts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty

from core.metrology.characteristics import Scope
from core.records.events import Opened
from ui.commands import OpenSession
from ui.coupon_draft import (
    PART_1_CLASSES,
    PART_2_CLASSES,
    CouponDraft,
    draft_of,
    opened_by,
    with_active,
    with_key,
)
from ui.measure_view import limits_text
from ui.screens.screen import BenchScreen
from ui.widgets.choice_row import ChoiceRow  # noqa: F401 - named in the kv file
from ui.widgets.entry_field import EntryField  # noqa: F401 - named in the kv file
from ui.widgets.number_pad import NumberPad  # noqa: F401 - named in the kv file


class CouponScreen(BenchScreen):
    """Keeps the draft; sends OpenSession, and the shell goes to measuring when the session is on the disk."""

    heading = "New coupon"
    parent_screen = "home"
    width_text = StringProperty("")
    height_text = StringProperty("")
    active = StringProperty("width")
    remark = StringProperty("")
    ready = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._draft: CouponDraft = draft_of(self.snapshot.coupon, self.snapshot.settings.notation)
        self._opened: Opened | str = ""
        self.ids.part_1.choices = [(name, name) for name, _words in PART_1_CLASSES]
        self.ids.part_2.choices = list(PART_2_CLASSES)

    def on_pre_enter(self) -> None:
        """Begin with the coupon measured last."""
        self._edit(draft_of(self.snapshot.coupon, self.snapshot.settings.notation))

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._edit(with_key(self._draft, key))

    def choose_side(self, side: str) -> None:
        """The keys go to this side."""
        self._edit(with_active(self._draft, side))

    def choose_sizes(self, part_1: str) -> None:
        """Another class for the sizes."""
        self._edit(replace(self._draft, part_1=part_1))

    def choose_squareness(self, part_2: str) -> None:
        """Another class for the squareness."""
        self._edit(replace(self._draft, part_2=part_2))

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
        self.width_text, self.height_text = draft.width.text or "–", draft.height.text or "–"
        self.active = draft.active
        self.ids.part_1.chosen, self.ids.part_2.chosen = draft.part_1, draft.part_2
        self.ready = isinstance(self._opened, Opened)
        self.remark = (
            f"{self._opened.limits.source}: {limits_text(self._opened.limits)}"
            if isinstance(self._opened, Opened)
            else self._opened
        )


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
