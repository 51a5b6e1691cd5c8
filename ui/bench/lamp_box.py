"""What the instrument has besides its screen: the lamp box on the pins, and systemd watching over it.

Stage: ui. Input: the bench's snapshots, from the screen's loop. Output: lamps, sounds, commands of pedal and buttons,
watchdog messages. Belongs to the screen's thread; nothing in here waits.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from core.metrology import CharacteristicGroup, LiveState, Quantity, Verdict, lamp_of
from hardware import GpioError, Heart, Lamps, Line, Panel, RpiGpioPort, Watchdog, load_library
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import AnswerQuestion, ConfirmMark, VoidReading
from ui.bench.hearing import rhythm
from ui.state import Command, Live, Snapshot

# Fine enough for 50 ms of debouncing and 100 ms sounds, and no more than a kiosk's own frames.
TICK_S = 1 / 30


class Box:
    """Lamp box and watchdog of one run of the program."""

    def __init__(self, panel: Panel, watchdog: Watchdog, clock_s: Callable[[], float]) -> None:
        self._panel = panel
        self._watchdog = watchdog
        self._clock_s = clock_s
        self._told: Snapshot | None = None

    @classmethod
    def of_this_machine(cls, environ: Mapping[str, str], clock_s: Callable[[], float]) -> Box:
        """The pins where there are some, and the service manager where it started us."""
        try:
            panel = Panel(RpiGpioPort(load_library()))
        except GpioError as error:
            panel = Panel(None, absent=str(error))
        return cls(panel, Watchdog.of_service(environ), clock_s)

    @property
    def fault(self) -> str:
        """Why the lamp box is silent; empty while it works."""
        return self._panel.fault

    def start(self) -> None:
        """Lamp test."""
        self._panel.start(self._clock_s())

    def bench_answered(self, *, workers: bool) -> None:
        """The bench has just been pumped; `workers` whether archive and cables still get on."""
        self._watchdog.beat(Heart.BENCH, self._clock_s())
        if workers:
            self._watchdog.beat(Heart.WORKERS, self._clock_s())

    def tick(self, snapshot: Snapshot, in_hand: Quantity) -> list[Command]:
        """One turn of the screen's loop: show what the snapshot says, return what was pressed."""
        now_s = self._clock_s()
        if self._told is not None and snapshot is not self._told:
            word = rhythm(self._told, snapshot)
            if word is not None and snapshot.settings.sound:
                self._panel.sound(word, now_s)
        self._told = snapshot
        self._panel.show(lamps(snapshot, in_hand))
        pressed = self._panel.tick(now_s)
        self._watchdog.beat(Heart.SCREEN, now_s)
        self._watchdog.tick(now_s)
        commands = (command_of(button, snapshot, in_hand) for button in pressed)
        return [command for command in commands if command is not None]

    def close(self) -> None:
        """Everything off."""
        self._watchdog.stopping()
        self._panel.close()


_OF_LIVE = {
    LiveState.INSIDE: Lamps.FEATURE_GO,
    LiveState.NEAR_LIMIT: Lamps.FEATURE_UNDECIDED,
    LiveState.OUTSIDE: Lamps.FEATURE_NO_GO,
}


_OF_VERDICT = {
    Verdict.GO: Lamps.GO,
    Verdict.NO_GO: Lamps.NO_GO,
    Verdict.UNDECIDED: Lamps.UNDECIDED,
    Verdict.INCONSISTENT: Lamps.CONTRADICTION,
}


def lamps(snapshot: Snapshot, in_hand: Quantity) -> Lamps:
    """The lamp for this snapshot.

    While the instrument in hand is at a feature: that feature, blinking. Otherwise the coupon's headline, steady, and
    undecided as long as another reading may turn it; off when there is neither. A stale indication says nothing, and
    nobody is told GO of a coupon known to be outside a limit, asked for or not.
    """
    state = _live(snapshot, in_hand).state
    if state in _OF_LIVE and not snapshot.closed:
        return _OF_LIVE[state]
    evaluation = snapshot.evaluation
    if evaluation is None:
        return Lamps.OFF
    if evaluation.verdict is Verdict.GO:
        if any(group.judged and group.verdict is Verdict.NO_GO for group in evaluation.groups):
            return Lamps.NO_GO
        if evaluation.settled and all(group.group is CharacteristicGroup.SQUARENESS for group in evaluation.asked):
            return Lamps.QUICK_CHECK_GO
    return _OF_VERDICT[lamp_of(evaluation.verdict, evaluation.settled)]


def command_of(button: Line, snapshot: Snapshot, in_hand: Quantity) -> Command | None:
    """What a pressed button means at this moment; None where it means nothing.

    Pedal: take the indication of the instrument in hand; with none there the bench says so. Confirm: the first choice
    where the screen asks between two (a choice among more is never made blindly), and before the first reading, that
    the mark lies as asked. Void: the last reading that counts.
    """
    if snapshot.session is None or snapshot.closed:
        return None
    match button:
        case Line.PEDAL:
            return TakeReading(quantity=in_hand)
        case Line.CONFIRM:
            return _confirm(snapshot)
        case _:
            counting = [reading.number for reading in snapshot.readings if reading.voided is None]
            return VoidReading(number=counting[-1], reason="void button") if counting else None


def _confirm(snapshot: Snapshot) -> Command | None:
    question = snapshot.question
    if question is None:
        return None if snapshot.mark_confirmed or snapshot.readings else ConfirmMark()
    if len(question.choices) != 2:
        return None
    return AnswerQuestion(question=question.name, answer=question.choices[0][0])


def _live(snapshot: Snapshot, in_hand: Quantity) -> Live:
    return snapshot.live_length if in_hand is Quantity.LENGTH else snapshot.live_corner
