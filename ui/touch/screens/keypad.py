"""The keypad: a reading from a tape or a dead cable, keyed in for the feature at the cursor."""

from __future__ import annotations

from kivy.properties import BooleanProperty, StringProperty

from core.geometry.features import Feature
from core.metrology.readings import Unit
from ui.bench.desks.measuring import TypeReading
from ui.pages.keypad import Entry, press, remark
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen

_UNIT_WORDS = {Unit.MM: "in millimetres", Unit.INCH: "in inches", Unit.DEG: "in degrees"}


class KeypadScreen(BenchScreen):
    """Keeps the feature it was opened for: a cursor that moves on meanwhile does not drag the number along."""

    screen_name = "keypad"
    heading = "Type a reading"
    parent_screen = "measure"
    feature_text = StringProperty("")
    entry_text = StringProperty("")
    unit_text = StringProperty("")
    remark = StringProperty("")
    ready = BooleanProperty(False)
    unit_can_change = BooleanProperty(True)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._feature: Feature | None = None
        self._entry = Entry(unit=Unit.MM)

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._edit(press(self._entry, key))

    def on_pre_enter(self) -> None:
        """Begin a new number for the feature at the large cursor."""
        self._feature = self.in_hand.cursor(self.snapshot)
        length = self._feature is None or self._feature.is_length
        self.unit_can_change = length
        self._edit(Entry(unit=self.snapshot.settings.notation.length_unit if length else Unit.DEG))

    def show(self, snapshot: Snapshot) -> None:
        """A coupon that was closed meanwhile takes no reading."""
        self.ready = self._entry.value is not None and self._feature is not None and not snapshot.closed

    def change_unit(self) -> None:
        """Millimetres or inches."""
        self._edit(Entry(unit=Unit.INCH if self._entry.unit is Unit.MM else Unit.MM, text=self._entry.text))

    def take(self) -> None:
        """Send the number and go back to measuring."""
        if self._feature is not None and self._entry.shown is not None:
            self.send(TypeReading(feature=self._feature, shown=self._entry.shown, unit=self._entry.unit))
        self.leave()

    def leave(self) -> None:
        """Back to measuring."""
        self.go(self.parent_screen)

    def _edit(self, entry: Entry) -> None:
        self._entry = entry
        self.feature_text = str(self._feature.label) if self._feature else "nothing left to measure"
        self.entry_text = entry.text or "–"
        self.unit_text = _UNIT_WORDS[entry.unit]
        coupon = self.snapshot.coupon
        self.remark = (
            remark(entry, coupon, self._feature, self.snapshot.settings.notation) if coupon and self._feature else ""
        )
        self.show(self.snapshot)
