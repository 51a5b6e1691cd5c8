"""How many touches and presses of a data button a job takes, from power on: the real program on a virtual display,
touched by real pointer events (xdotool), its instruments on cables of their own (pseudo-terminals, real wire formats).

    python -m tests.endurance.counted_touches [JOB ...]

Beside each count stands the most that a job may take; the exit status is 1 where one takes more or does not get there.
House scenario, SIMULATED values. Needs: apt-get install xvfb xdotool.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from msgspec import Struct, field

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, Feature
from core.geometry.seats import keyed_seats
from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.metrology.readings import Quantity
from core.records.archive import Archive
from core.records.events import GaugeChecked, Note
from core.records.saved_bench import ARCHIVE
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from ui.bench.opening import opening
from ui.bench.steps import closing, empty_snapshot
from ui.pages.theme import TOUCH_GUARD_S
from ui.start import utc_now

ROOT = Path(__file__).resolve().parents[2]
WIDTH, HEIGHT = 800, 480
PATIENCE_S = 60.0
ROUTER = MachineProfile(name="template router", span_mm=640.0, held=HowHeld.SCREWS, screw_pitch_mm=1.0)
SEATED = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
BARE = Coupon(width_mm=120.0, height_mm=80.0)
# Skewed by about 0.35 degrees, once from seat to seat and once from corner to corner; and square.
SKEWED = {Feature.NL_FR: 136.55, Feature.NR_FL: 140.06}
SKEWED_BARE = {
    Feature.NL_FR: 143.62,
    Feature.NR_FL: 144.43,
    Feature.NL: 90.4,
    Feature.NR: 89.6,
    Feature.FR: 90.3,
    Feature.FL: 89.7,
}
SQUARE = {
    Feature.NL_FR: 136.95,
    Feature.NR_FL: 139.65,
    Feature.NEAR: 120.02,
    Feature.FAR: 120.01,
    Feature.LEFT: 80.01,
    Feature.RIGHT: 79.99,
}
# The bench where power on lands, and what it shows once a word is settled.
WORD_IS_UP, MOVE_IS_SAID = "See what to do", "Begin the correction"


class Person(Struct):
    """Counts what the hands do; looks at the screen by what the program says stands there."""

    folder: Path
    display: str
    caliper: PseudoTerminal
    gauge: PseudoTerminal
    touches: int = 0
    presses: int = 0
    done: list[str] = field(default_factory=list)

    def state(self) -> dict[str, Any]:
        try:
            read: dict[str, Any] = json.loads((self.folder / "state.json").read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {"look": 0, "buttons": [], "values": [], "next": [], "drawn": 0}
        return read

    def until(self, what: str, holds: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        end_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < end_s:
            state = self.state()
            if holds(state):
                return state
            time.sleep(0.05)
        raise AssertionError(f"{what} never came; done {self.done}; {self.state()}")

    def shows(self, words: str) -> bool:
        return any(found == words for found, _x, _y in self.state()["buttons"])

    def touch(self, words: str) -> None:
        """Put the finger on the button with these words, once it has been there long enough to be seen."""
        self.until(words, lambda state: any(found == words for found, _x, _y in state["buttons"]))
        time.sleep(1.5 * TOUCH_GUARD_S)
        before = self.state()["touches"]
        x, y = next((x, y) for found, x, y in self.state()["buttons"] if found == words)
        xdo(self.display, "mousemove", x, y, "click", 1)
        self.until("the touch", lambda state: state["touches"] > before)
        self.touches += 1
        self.done.append(words)
        look = self.state()["look"]
        self.until("another look", lambda state: state["look"] > look + 1)

    def press(self, value: float, *, gauge: bool = False) -> None:
        """The data button of the instrument in hand, as it stands on the coupon."""
        before = len(self.state()["values"])
        line = f"{value:.2f}\r\n" if gauge else f"+{value:8.2f} MM\r\n"
        (self.gauge if gauge else self.caliper).write(line.encode("ascii"))
        self.presses += 1
        self.done.append(line.strip())
        self.until("the reading", lambda state: len(state["values"]) > before)

    def wanted(self) -> tuple[Feature | None, Feature | None]:
        """The length and the corner that the drawing shows as next."""
        length, corner = (Feature(name) if name else None for name in self.state()["next"])
        return length, corner

    def type(self, digits: str) -> None:
        """A number by the key that begins it, where one does, and its last figures."""
        before = len(self.state()["values"])
        begun = f"{digits.partition('.')[0]}."
        keys = [begun, *digits.partition(".")[2]] if self.shows(begun) else list(digits)
        for key in (*keys, "Take reading"):
            self.touch(key)
        self.until("the reading", lambda state: len(state["values"]) > before)


def xdo(display: str, *words: object) -> None:
    """A real pointer on the virtual display."""
    subprocess.run(["xdotool", *map(str, words)], env={**os.environ, "DISPLAY": display}, check=True)


def quick_check(person: Person) -> None:
    for feature in DIAGONALS * 2:
        person.press(SQUARE[feature])
    person.until("the word", lambda _state: person.shows(WORD_IS_UP))


def move_by_keyed_seats(person: Person) -> None:
    for feature in DIAGONALS * 2:
        person.press(SKEWED[feature])
    for words in (WORD_IS_UP, "Near left", "See the move"):
        person.touch(words)
    person.until("the move", lambda _state: person.shows(MOVE_IS_SAID))


def move_by_corners(person: Person) -> None:
    for feature in DIAGONALS * 2:
        person.press(SKEWED_BARE[feature])
    for _corner in range(4):
        _length, corner = person.wanted()
        assert corner is not None
        person.press(SKEWED_BARE[corner], gauge=True)
    for words in (WORD_IS_UP, "Near left", "See the move"):
        person.touch(words)
    person.until("the move", lambda _state: person.shows(MOVE_IS_SAID))


def whole_coupon(person: Person) -> None:
    while len(person.state()["judged"]) < 3 or not person.shows(WORD_IS_UP):
        assert person.presses < 20, person.done
        length, _corner = person.wanted()
        assert length is not None, person.state()
        person.press(SQUARE[length])
        time.sleep(0.5)


def whole_coupon_typed(person: Person) -> None:
    person.touch("Type")
    while len(person.state()["judged"]) < 3 or not person.shows(WORD_IS_UP):
        assert person.touches < 90, person.done
        if person.shows("Measure more"):
            person.touch("Measure more")
        length, _corner = person.wanted()
        assert length is not None, person.state()
        person.type(f"{SQUARE[length]:.2f}")
        time.sleep(0.5)


class Job(Struct, frozen=True, kw_only=True):
    """A job with the coupon that was chosen last, and the most it may take."""

    does: Callable[[Person], None]
    coupon: Coupon
    touches: int
    presses: int
    checked: bool = False


JOBS = {
    "quick check, word on the screen": Job(does=quick_check, coupon=SEATED, touches=0, presses=4),
    "with the move: keyed seats": Job(does=move_by_keyed_seats, coupon=SEATED, touches=3, presses=4),
    "with the move: corners": Job(does=move_by_corners, coupon=BARE, touches=3, presses=8, checked=True),
    "whole coupon": Job(does=whole_coupon, coupon=SEATED, touches=0, presses=12),
    "whole coupon typed": Job(does=whole_coupon_typed, coupon=SEATED, touches=55, presses=0),
}


def prepare(folder: Path, job: Job) -> None:
    """A bench that was used before: its machine, its last coupon, and today's check of the gauge."""
    folder.mkdir(parents=True)
    archive = Archive.open(folder / ARCHIVE, utc_now)
    archive.save_machine(ROUTER)
    session = archive.begin(opening(job.coupon, "mK", ROUTER))
    if job.checked:
        check = GaugeChecked(
            instrument="gauge", quantity=Quantity.ANGLE, zero=0.0, zero_sd=0.03, reference="a square, turned over"
        )
        archive.append(session, check)
    archive.append(session, Note(text="SIMULATED"))
    archive.append(session, closing(empty_snapshot(simulated=True)))
    archive.close()


@contextmanager
def display() -> Iterator[str]:
    """A virtual display of the panel's size."""
    read, write = os.pipe()
    command = ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{WIDTH}x{HEIGHT}x24", "-nolisten", "tcp"]
    server = subprocess.Popen(command, pass_fds=(write,), stderr=subprocess.DEVNULL)
    os.close(write)
    try:
        with os.fdopen(read) as number:
            yield f":{number.readline().strip()}"
    finally:
        server.terminate()
        server.wait()


@contextmanager
def at_work(folder: Path, job: Job, on: str) -> Iterator[Person]:
    """Power on: the program as installed, two instruments on their cables."""
    data = folder / "data"
    prepare(data, job)
    cables = {"caliper": ("length-8-unit", folder / "caliper"), "gauge": ("angle-plain", folder / "gauge")}
    ends = {name: PseudoTerminal(path) for name, (_format, path) in cables.items()}
    for name, (wire_format, path) in cables.items():
        ends[name].plug()
        what = ["--set", name, "--port", str(path), "--format", wire_format, "--sends", "button"]
        what += ["--capture", "data-button"]
        command = [sys.executable, "-m", "ui.command_line.cli", "--data", str(data), "instruments", *what]
        subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    with (folder / "log").open("w") as log:
        program = subprocess.Popen(
            [sys.executable, "-m", "tests.endurance.counted_touches", "--program", str(folder)],
            cwd=ROOT,
            env={**os.environ, "DISPLAY": on, "SDL_VIDEODRIVER": "x11", "LIBGL_ALWAYS_SOFTWARE": "1"},
            stdout=log,
            stderr=log,
        )
    person = Person(folder, on, ends["caliper"], ends["gauge"])
    try:
        person.until("the bench", lambda state: state.get("machine") == ROUTER.name and state["instruments"] == 2)
        yield person
    finally:
        program.terminate()
        program.wait()
        for end in ends.values():
            end.pull()


def run_program(folder: Path) -> int:
    """The real program, and beside it what stands where, some times a second."""
    from ui.command_line.cli import main as cornerwise

    def attach() -> None:
        while True:
            kivy_app = getattr(sys.modules.get("kivy.app"), "App", None)
            if kivy_app is not None and kivy_app.get_running_app() is not None:
                break
            time.sleep(0.1)
        from kivy.clock import Clock

        Clock.schedule_interval(look, 0.1)

    seen = {"look": 0, "touches": 0, "listening": 0}

    def look(_elapsed_s: float) -> None:
        from kivy.app import App
        from kivy.core.window import Window

        app = App.get_running_app()
        if app is None or app.root is None:
            return
        if not seen["listening"]:
            seen["listening"] = 1
            Window.bind(on_touch_down=lambda *_event: seen.__setitem__("touches", seen["touches"] + 1))
        seen["look"] += 1
        state = {**seen, **in_sight(app, Window.height)}
        fresh = folder / "state.new"
        fresh.write_text(json.dumps(state), encoding="utf-8")
        fresh.replace(folder / "state.json")

    threading.Thread(target=attach, daemon=True).start()
    return cornerwise(["--data", str(folder / "data"), "--panel", f"{WIDTH}x{HEIGHT}"])


def worded(app: Any, text: Any) -> str:
    """The words of a label; figures are set in the person's notation already."""
    return text if isinstance(text, str) else app.speech.say(text)


def in_sight(app: Any, height: float) -> dict[str, Any]:
    """What can be touched, px from the upper left, and what the bench holds."""
    from kivy.uix.behaviors import ButtonBehavior

    def shown(widget: Any) -> Iterator[Any]:
        if widget.opacity > 0 and widget.width >= 1 and widget.height >= 1:
            yield widget
            for child in widget.children:
                yield from shown(child)

    buttons = []
    for widget in shown(app.root):
        if isinstance(widget, ButtonBehavior) and not getattr(widget, "disabled", False):
            parts = [worded(app, part.text) for part in widget.walk(restrict=True) if getattr(part, "text", "")]
            x, y = widget.to_window(*widget.center)
            buttons.append((" ".join(parts), round(x), round(height - 1 - y)))
    now = app.snapshot
    figured = app.root.screen.ids.figure.shown if app.root.screen.name == "bench" else None
    drawn = [feature for feature in (figured.next, figured.other) if feature is not None] if figured else []
    return {
        "buttons": buttons,
        "screen": app.root.screen.name,
        "values": [item.reading.value for item in now.readings],
        "next": [
            next((feature.value for feature in drawn if feature.is_length is length), "") for length in (True, False)
        ],
        "judged": [group.group.value for group in now.evaluation.asked] if now.evaluation else [],
        "instruments": len(now.instruments),
        "machine": now.machines.current.name if now.machines.current and now.records.last_opened else "",
        "message": app.speech.say(now.message.text) if now.message else "",
    }


def main() -> int:
    """Do the jobs; 1 where one takes more than it may, or fails."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--program", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("jobs", nargs="*", default=[], metavar="JOB", help="; ".join(JOBS))
    args = parser.parse_args()
    if args.program is not None:
        return run_program(args.program)
    failed = 0
    for name in args.jobs or JOBS:
        job = JOBS[name]
        with tempfile.TemporaryDirectory() as folder, display() as on:
            try:
                with at_work(Path(folder, "job"), job, on) as person:
                    job.does(person)
                    took = f"{person.touches} touches, {person.presses} presses"
                    holds = person.touches <= job.touches and person.presses <= job.presses
            except AssertionError as error:
                took, holds = f"did not get there: {error}", False
        failed += not holds
        most = f"at most {job.touches} and {job.presses}"
        print(f"{'holds' if holds else 'FAILS'}  {name:34} {took} ({most})", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
