"""The bench in the terminal: prints what changes in the snapshot, reads what the person types, ends with the verdict.

Input: snapshots and lines. Output: text, and the exit status of the verdict. The lines come from a thread of their own
that only puts them into the queue this loop waits on.
"""

import threading
from collections import deque
from collections.abc import Callable, Iterable
from queue import Empty, SimpleQueue
from typing import TextIO

from core.machine import part_side_mm
from core.metrology import LiveState, told_word
from core.said import NOTHING, Name, Number, Part, Series, Size, lines, said, said_in
from ui.bench import Bench, guarded
from ui.pages.setup import LANGUAGE_NAMES, other_language
from ui.speech import LINE_WIDTH, Speech
from ui.state import Command, Live, Message, Snapshot
from ui.terminal.commands import help_text, parse_line
from ui.terminal.exit_status import ExitStatus
from ui.terminal.help_lines import WIDE
from ui.terminal.indented import indented
from ui.terminal.machine import guided_lines
from ui.terminal.practice import practice_lines
from ui.terminal.records import history_lines
from ui.terminal.verdict import verdict_text
from ui.terminal.witness import question_of

# How long the loop sleeps when nothing happens; only the age of a stale indication depends on it.
IDLE_S = 0.5
QUIT = "quit"
# A script may be longer than what a person types, and a pipe faster than a card: so many lines wait in the program.
MOST_WAITING = 1000


class TextBench:
    """One run of the bench in a terminal; where `columns` says how wide that is, nothing is written beyond it, and the
    last line is written anew while jaws move. None is a file or a pipe. `asks_language` at the first start: a line
    names the other language in its own words, as a key of the screen does."""

    def __init__(
        self, bench: Bench, out: TextIO, *, columns: Callable[[], int] | None, asks_language: bool = False
    ) -> None:
        self._bench = bench
        self._asks_language = asks_language
        self._out = out
        self._columns = columns
        self._shown: Snapshot | None = None
        self._live_width = 0
        self._inbox: SimpleQueue[str | None] = SimpleQueue()
        self._room = threading.Semaphore(MOST_WAITING)
        bench.subscribe(lambda: self._inbox.put(None))

    def run(self, lines: Iterable[str], *, quit_at_end: bool) -> int:
        """Run until the session is closed, the person quits, or (`quit_at_end`) the lines end; returns the status."""

        def read() -> None:
            # Without its keyboard the bench would wait for ever: what could not be read is its end.
            guarded("keyboard", lambda: self._read(lines, quit_at_end), lambda text: self._inbox.put(QUIT))

        if self._asks_language and self._columns is not None:
            other = other_language(self._bench.snapshot.settings.language)
            self._print(Series((LANGUAGE_NAMES[other], Name(f"set language {other}")), joint=": "))
        threading.Thread(target=read, name="keyboard", daemon=True).start()
        typed: deque[str] = deque()
        while True:
            snapshot = self._bench.pump()
            self._show(snapshot)
            if snapshot.closed and not snapshot.storing and not _is_practising(snapshot):
                return self._finish(snapshot)
            # A line waits for what came before it to be on the disk, so that a script loses none.
            if typed and not snapshot.storing:
                line = typed.popleft()
                self._room.release()
                if line == QUIT:
                    self._print(said("Left open: the next start goes on with this coupon."))
                    return self._status(snapshot)
                self._typed(line, snapshot)
                continue
            try:
                line_or_wake = self._inbox.get(timeout=IDLE_S)
            except Empty:
                continue
            if line_or_wake is not None:
                typed.append(line_or_wake)

    def _read(self, lines: Iterable[str], quit_at_end: bool) -> None:
        for line in lines:
            self._room.acquire()
            self._inbox.put(line.strip())
        if quit_at_end:
            self._inbox.put(QUIT)

    def _typed(self, line: str, snapshot: Snapshot) -> None:
        if line == "help":
            self._print_set(help_text(self._bench.snapshot.settings.speech, self._width(WIDE)))
            return
        command = parse_line(line, snapshot)
        if isinstance(command, Command):
            self._bench.send(command)
        else:
            self._print(command)

    def _show(self, new: Snapshot) -> None:
        """Print what is new since the last snapshot."""
        old, self._shown = self._shown, new
        if new.session is not None and (old is None or new.session != old.session):
            self._print_opening(new)
        messages = new.said_since(old)
        for message in messages:
            self._print_message(message, self._standing(new, old) if message is messages[-1] else NOTHING)
        if new.question is not None and (old is None or new.question is not old.question):
            self._print(indented(new.question.text, "?"))
            for number, (_, words) in enumerate(new.question.choices, start=1):
                self._print(indented(words, f"    {number} "))
        wanted = question_of(new)
        if wanted is not None and (old is None or wanted != question_of(old)):
            self._print(wanted)
        guided = new.machines.guided
        if guided is not None and (old is None or guided != old.machines.guided):
            self._print(guided_lines(guided))
        history = new.records.history
        if history is not None and (old is None or history is not old.records.history):
            self._print(history_lines(history))
        practice = practice_lines(new)
        if practice and (old is None or practice != practice_lines(old)):
            self._print(lines(*practice))
        if new.work is not None and self._columns is None and (old is None or old.work is None):
            self._print(new.work.words)
        if self._columns is not None:
            self._rewrite_live(new, self._columns())

    def _print_message(self, message: Message, standing: Part) -> None:
        """What just happened, and the verdict behind it."""
        mark = "! " if message.alarm else "  "
        speech = self._bench.snapshot.settings.speech
        self._print(Name(f"{mark + speech.say(message.text):<42}  {speech.say(standing)}".rstrip()))

    def _print_opening(self, snapshot: Snapshot) -> None:
        if snapshot.simulated:
            self._print(said("SIMULATED: an invented machine, coupon and instruments; nothing here was measured."))
        if snapshot.coupon is None or snapshot.limits is None:
            return
        coupon, limits = snapshot.coupon, snapshot.limits
        size, source = Size(coupon.width_mm, coupon.height_mm), limits.whence
        if snapshot.machine:
            machine = Name(snapshot.machine)
            text = said("Coupon {size} on {machine}, limits {source}.", size=size, machine=machine, source=source)
        else:
            text = said("Coupon {size}, limits {source}.", size=size, source=source)
        self._print(text)

    def _standing(self, new: Snapshot, old: Snapshot | None) -> Part:
        """The headline after a reading came in, behind the message that says so."""
        if new.evaluation is None or (old is not None and new.evaluation is old.evaluation):
            return NOTHING
        word = told_word(new.evaluation)
        return said("{verdict}, settled", verdict=word) if new.evaluation.settled else word

    def _rewrite_live(self, snapshot: Snapshot, columns: int) -> None:
        speech = snapshot.settings.speech
        work = speech.say(snapshot.work.words) if snapshot.work else ""
        hand = speech.say(snapshot.hand)
        parts = (work, live_text(snapshot.live_length, speech), live_text(snapshot.live_corner, speech), hand)
        text = live_line(tuple(part for part in parts if part), columns)
        self._out.write("\r" + text.ljust(self._live_width) + "\r" + text)
        self._out.flush()
        self._live_width = len(text)

    def _finish(self, snapshot: Snapshot) -> int:
        if snapshot.practice is not None and snapshot.practice.finished:
            return ExitStatus.OK
        self._print(NOTHING)
        if snapshot.evaluation is not None:
            machines = snapshot.machines
            side_mm = part_side_mm(machines.current)
            self._print(verdict_text(snapshot.evaluation, machines.correction, side_mm))
        if snapshot.records.comparison is not None:
            self._print(NOTHING)
            self._print(indented(said("Against the coupon before:"), "  "))
            self._print(Series((Name("  "), snapshot.records.comparison.text)))
        if snapshot.simulated:
            self._print(said("SIMULATED"))
        return self._status(snapshot)

    def _status(self, snapshot: Snapshot) -> int:
        verdict = snapshot.verdict
        return ExitStatus.UNDECIDED if verdict is None else ExitStatus.of_verdict(verdict)

    def _width(self, wide: int) -> int:
        """How many letters a line may have: as many as the terminal shows, so `wide` in a file."""
        return wide if self._columns is None else self._columns()

    def _print(self, text: Part) -> None:
        """Print whole lines, over whatever the live line left, as the person is spoken to."""
        speech = self._bench.snapshot.settings.speech
        self._print_set(speech.lines(text, self._width(LINE_WIDTH)))

    def _print_set(self, text: str) -> None:
        """The same of lines that are worded and broken already."""
        if self._live_width:
            self._out.write("\r" + " " * self._live_width + "\r")
            self._live_width = 0
        self._out.write(text + "\n")
        self._out.flush()


_STATES = {
    LiveState.ABSENT: said_in("live", "absent"),
    LiveState.STALE: said_in("live", "stale"),
    LiveState.FAR: said_in("live", "far"),
    LiveState.INSIDE: said_in("live", "inside"),
    LiveState.NEAR_LIMIT: said_in("live", "near-limit"),
    LiveState.OUTSIDE: said_in("live", "outside"),
    LiveState.UNJUDGED: said_in("live", "unjudged"),
}


def _is_practising(snapshot: Snapshot) -> bool:
    """Exercises are left, so a closed coupon is not the end."""
    state = snapshot.practice
    return state is not None and state.number > 0 and not state.finished


def live_line(parts: tuple[str, ...], columns: int) -> str:
    """What fits into one line of the terminal: whole parts, the first ones first, and no last column, behind which
    some terminals begin a new line by themselves."""
    line = ""
    for part in parts:
        longer = f"{line}   {part}" if line else part
        if len(longer) < columns:
            line = longer
    return line or "".join(parts[:1])[: max(columns - 1, 0)]


def live_text(live: Live, speech: Speech) -> str:
    """The live value beside its cursor: 'near edge 119.85 mm inside'; empty while there is none."""
    if live.value is None or live.feature is None:
        return ""
    age = f" {speech.say(said('{age} ago', age=Number(live.age_s, sign='s')))}" if live.age_s is not None else ""
    value = speech.say(live.feature.measured(live.value))
    return f"[{speech.say(live.feature.label)} {value} {speech.say(_STATES[live.state])}{age}]"
