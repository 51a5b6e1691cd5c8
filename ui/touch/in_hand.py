"""Which instrument is in the person's hand: the one whose indication moves gets the large digits.

Stage: between snapshot and measuring screen. Input: snapshots in order, touches. Output: a quantity. Units mm, degrees.
"""

from core.geometry import Feature
from core.metrology import LiveState, Quantity
from ui.state import Live, Snapshot

# More than the noise of an instrument at rest; common practice.
MOVED = {Quantity.LENGTH: 0.3, Quantity.ANGLE: 0.6}


class InHand:
    """Remembers where each indication last stood; begins with the calipers, because diagonals come first."""

    def __init__(self) -> None:
        self.quantity = Quantity.LENGTH
        self._stood: dict[Quantity, float] = {}

    def touch(self, quantity: Quantity) -> None:
        """The person chose a feature of this quantity."""
        self.quantity = quantity

    def follow(self, snapshot: Snapshot) -> Quantity:
        """Take in the newest snapshot; the quantity that moved, or else the one before."""
        length, corner = self._has_moved(snapshot.live_length), self._has_moved(snapshot.live_corner)
        if length is not corner:
            self.quantity = Quantity.LENGTH if length else Quantity.ANGLE
        return self.quantity

    def cursor(self, snapshot: Snapshot) -> Feature | None:
        """The feature at the cursor of the instrument in hand."""
        return snapshot.next_length if self.quantity is Quantity.LENGTH else snapshot.next_corner

    def _has_moved(self, live: Live) -> bool:
        if live.value is None or live.state in (LiveState.ABSENT, LiveState.STALE):
            return False
        stood = self._stood.setdefault(live.quantity, live.value)
        if abs(live.value - stood) <= MOVED[live.quantity]:
            return False
        self._stood[live.quantity] = live.value
        return True
