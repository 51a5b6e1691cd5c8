"""What the simulated hand knows of the bench, and what it does besides measuring: confirm the mark, end the coupon.

Input: the bench's snapshots. Output: what is wanted next, and commands. Called from the simulated workshop's thread; a
snapshot is immutable, so reading it from there is safe.
"""

from collections.abc import Callable

from core.geometry import Coupon, Feature
from core.said import Said
from ui.bench.bench import Bench
from ui.bench.capture import DROP
from ui.bench.desks.measuring import AnswerQuestion, CloseSession, ConfirmMark
from ui.bench.desks.practice import HandSays
from ui.state import Command, Snapshot


class HandOnTheBench:
    """Stands between the simulated hand and the bench; idle until it watches one. `cut` has a coupon of this design
    cut and laid down, if it does not lie there already."""

    def __init__(self, cut: Callable[[Coupon], None]) -> None:
        self._cut = cut
        self._bench: Bench | None = None
        self._last_sent: tuple[str | None, int, str] | None = None
        self._handed_over = False

    def watch(self, bench: Bench) -> None:
        """Work at this bench from now on."""
        self._bench = bench

    def ask(self) -> tuple[Feature, int] | None:
        """The feature wanted now and how much is on record.

        None while there is nothing to measure, and then what else is due is done.
        """
        if self._bench is None:
            return None
        snapshot = self._bench.snapshot
        if snapshot.session is None or snapshot.closed or snapshot.coupon is None:
            return None
        self._cut(snapshot.coupon)
        if self._handed_over:
            feature = _persons_choice(snapshot)
            return (feature, len(snapshot.log)) if feature is not None else None
        if not snapshot.mark_confirmed:
            self._once(snapshot, ConfirmMark())
            return None
        if snapshot.question is not None:
            self._once(snapshot, AnswerQuestion(question=snapshot.question.name, answer=DROP))
            return None
        feature = snapshot.next_length or snapshot.next_corner
        if feature is None:
            if snapshot.pending is None:
                self._once(snapshot, CloseSession())
            return None
        # Whatever was logged, a dropped question too, means that the instrument is seated anew.
        return feature, len(snapshot.log)

    def hand_over(self) -> None:
        """The person takes over: from now on only what is wanted is told, and nothing is done about the rest."""
        self._handed_over = True

    def says(self, text: Said) -> None:
        """What the hand is doing, for the screen."""
        if self._bench is not None:
            self._bench.send(HandSays(text=text))

    def _once(self, snapshot: Snapshot, command: Command) -> None:
        """Send a command once for what is logged; asked again and again, the bench may not have got to it yet."""
        key = (snapshot.session, len(snapshot.log), repr(command))
        if self._bench is not None and key != self._last_sent:
            self._last_sent = key
            self._bench.send(command)


def _persons_choice(snapshot: Snapshot) -> Feature | None:
    """The corner the person has pointed at, else the next length, else the next corner."""
    pointed_at = next((feature for feature in snapshot.chosen if not feature.is_length), None)
    return pointed_at or snapshot.next_length or snapshot.next_corner
