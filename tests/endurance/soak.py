"""A day and more of work at the bench, compressed: a fast simulated hand measures coupon after coupon, and memory,
file descriptors and threads must not grow; at the end the archive must hold exactly what was accepted.

    PYTHONPATH=. python tests/endurance/soak.py --readings 50000 --sessions 2000      the whole touchscreen program
    ... --no-screen                                                                   the bench under it alone

Nothing is stood in for: instruments write their wire formats into pseudo-terminals, the ordinary links read them, the
archive commits each reading, the screens draw it (on a display in memory). A person's other doings come in between: a
reading is voided, every screen is gone through, the history is looked up, the settings change, a session's files are
written.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from msgspec import Struct
from msgspec.structs import replace

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

from core.records.archive import Archive
from core.records.comparison import reported_record
from core.records.export import files_of
from core.records.saved_bench import ARCHIVE
from core.records.whole_writing import write_folder
from ui.bench.bench import Bench
from ui.bench.desks.measuring import OpenSession, VoidReading
from ui.bench.desks.records import look_up_history
from ui.bench.desks.settings import ChangeSettings
from ui.bench.opening import DEFAULT_CLASS, opening
from ui.start import BenchOptions, assembled, utc_now
from ui.state.settings import Theme
from ui.state.snapshot import Snapshot
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

# Times faster than a hand. With the screens the bench has no time to see faster jaws open between two readings.
SPEED, SPEED_ON_SCREEN = 100.0, 40.0
# A frame shows what happened since the last one, at the bench as here; forty times as many would be no bench.
FRAMES_PER_S = 10
STEP_S = 0.02
LOOKED_UP_EVERY, GONE_THROUGH_EVERY, SETTINGS_EVERY, EXPORTED_EVERY, TOLD_EVERY = 20, 10, 25, 100, 100
GROWTH_PERCENT = 2.0


class Sample(Struct, frozen=True, kw_only=True):
    """What the process holds after so many sessions."""

    sessions: int
    readings: int
    memory_mb: float
    descriptors: int
    threads: int


def sample(sessions: int, readings: int) -> Sample:
    """Read it off this process."""
    status = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    kb = int(next(line for line in status if line.startswith("VmRSS")).split()[1])
    return Sample(
        sessions=sessions,
        readings=readings,
        memory_mb=kb / 1024.0,
        descriptors=len(list(Path("/proc/self/fd").iterdir())),
        threads=threading.active_count(),
    )


class Person:
    """Opens coupon after coupon and does what people do in between; the hand on the bench measures."""

    def __init__(self, bench: Bench, folder: Path, readings: int, sessions: int) -> None:
        self._bench, self._folder = bench, folder
        self._wanted = (readings, sessions)
        self._seen: set[str] = set()
        self._voided: set[str] = set()
        self.readings = self.sessions = 0
        self.samples: list[Sample] = []

    @property
    def done(self) -> bool:
        """Enough readings and enough coupons."""
        return self.readings >= self._wanted[0] and self.sessions >= self._wanted[1]

    def look(self, snapshot: Snapshot) -> bool:
        """See what the bench shows and act; True when a coupon has just been closed."""
        session = snapshot.session
        if session is None:
            return False
        if len(snapshot.readings) == 3 and session not in self._voided and self.sessions % 4 == 0:
            self._voided.add(session)
            self._bench.send(VoidReading(number=snapshot.readings[0].number, reason="jaws slipped"))
        if not snapshot.closed or session in self._seen:
            return False
        self._seen = {session}
        self._voided = set()
        self.sessions += 1
        self.readings += len(snapshot.readings)
        self.samples.append(sample(self.sessions, self.readings))
        if self.sessions % TOLD_EVERY == 0:
            print(self.samples[-1], file=sys.stderr, flush=True)
        self._between(snapshot, session)
        return True

    def next_coupon(self, snapshot: Snapshot) -> None:
        """Lay the next coupon on the bench."""
        assert snapshot.coupon is not None
        self._bench.send(OpenSession(opened=replace(opening(snapshot.coupon, DEFAULT_CLASS), machine=snapshot.machine)))

    def _between(self, snapshot: Snapshot, session: str) -> None:
        if self.sessions % LOOKED_UP_EVERY == 0:
            self._bench.send(look_up_history(machine=snapshot.machine))
        if self.sessions % SETTINGS_EVERY == 0:
            theme = Theme.LIGHT if snapshot.settings.theme is Theme.DARK else Theme.DARK
            self._bench.send(ChangeSettings(settings=replace(snapshot.settings, theme=theme)))
        if self.sessions % EXPORTED_EVERY == 0:
            with closing(Archive.open(self._folder / ARCHIVE, utc_now, may_set_aside=False)) as archive:
                write_folder(files_of(reported_record(archive, session)), self._folder / "taken" / session)


def without_screen(bench: Bench, person: Person) -> None:
    """The bench alone, pumped as the text bench does."""
    woken = threading.Event()
    bench.subscribe(woken.set)
    while not person.done:
        woken.wait(STEP_S)
        woken.clear()
        snapshot = bench.pump()
        if person.look(snapshot):
            person.next_coupon(snapshot)


def on_the_screen(bench: Bench, person: Person) -> None:
    """The whole touchscreen program, its frames turned by its own loop."""
    from kivy.clock import Clock
    from kivy.core.window import Window
    from kivy.graphics.opengl import glFinish

    from ui.touch.bench_app import BenchApp
    from ui.touch.shell import SCREENS

    app = BenchApp(bench)

    def round_of_screens() -> Iterator[str]:
        yield from SCREENS
        yield "bench"

    rounds: list[Iterator[str]] = []

    def step(_elapsed_s: float) -> None:
        if rounds:
            name = next(rounds[0], None)
            if name is not None:
                app.root.go(name)
                return
            rounds.clear()
            person.next_coupon(app.snapshot)
        elif person.look(app.snapshot):
            if person.sessions % GONE_THROUGH_EVERY == 0:
                rounds.append(round_of_screens())
            else:
                person.next_coupon(app.snapshot)
        if person.done:
            app.stop()

    Clock.schedule_interval(step, STEP_S)
    # A panel's flip waits for the renderer. In memory nothing does, and what is still to be drawn piles up.
    Window.bind(on_flip=lambda *_event: glFinish())
    app.run()


def faults(samples: list[Sample], archive: Path, sessions: int, readings: int) -> list[str]:
    """What is not as it should be, in words: growth from the second quarter to the last, and the archive's content."""
    quarter = max(1, len(samples) // 4)
    early, late = samples[quarter : 2 * quarter] or samples, samples[-quarter:]
    found = []
    for what in ("descriptors", "threads"):
        if max(getattr(one, what) for one in late) > max(getattr(one, what) for one in early):
            found.append(f"{what} grew")
    before, after = (min(one.memory_mb for one in group) for group in (early, late))
    if after > before * (1.0 + GROWTH_PERCENT / 100.0):
        found.append(f"memory grew from {before:.1f} to {after:.1f} MB")
    with closing(sqlite3.connect(archive)) as connection:
        sound = connection.execute("PRAGMA integrity_check").fetchone()[0]
        kept_sessions = connection.execute("SELECT count(*) FROM session WHERE closed").fetchone()[0]
        kept_readings = connection.execute("SELECT count(*) FROM event WHERE kind = 'reading-accepted'").fetchone()[0]
    if sound != "ok":
        found.append(f"the archive is not sound: {sound}")
    if (kept_sessions, kept_readings) != (sessions, readings):
        found.append(f"{kept_sessions} sessions with {kept_readings} readings kept, {sessions} with {readings} seen")
    return found


def soak(folder: Path, *, readings: int, sessions: int, screen: bool, seed: int = 1) -> tuple[Person, list[str]]:
    """Work until so many readings and sessions are done; returns who did it, and every fault found."""
    options = BenchOptions(folder=folder, scenario="good", seed=seed, speed=SPEED_ON_SCREEN if screen else SPEED)
    with assembled(options) as bench:
        person = Person(bench, folder, readings, sessions)
        (on_the_screen if screen else without_screen)(bench, person)
    return person, faults(person.samples, folder / ARCHIVE, person.sessions, person.readings)


def main() -> int:
    """Soak and print what was seen; 1 when anything grew or is missing."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--readings", type=int, default=50_000)
    parser.add_argument("--sessions", type=int, default=2_000)
    parser.add_argument("--no-screen", action="store_true")
    args = parser.parse_args()
    if not args.no_screen:
        configure(ScreenSettings(frames_per_s=FRAMES_PER_S))
    began_s = time.monotonic()
    with TemporaryDirectory(prefix="cornerwise-soak-") as folder:
        person, found = soak(Path(folder), readings=args.readings, sessions=args.sessions, screen=not args.no_screen)
    quarter = len(person.samples) // 4
    for one in person.samples[:1] + person.samples[quarter : quarter + 1] + person.samples[-1:]:
        print(f"after {one.sessions} sessions, {one.readings} readings: {one.memory_mb:.1f} MB resident", end=", ")
        print(f"{one.descriptors} descriptors, {one.threads} threads")
    print(
        f"{person.readings} readings in {person.sessions} sessions, {(time.monotonic() - began_s) / 60.0:.0f} minutes"
    )
    print("\n".join(found) or "nothing grew; the archive is sound and holds every reading")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
