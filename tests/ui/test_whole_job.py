"""A person's whole job by touch alone: describe the machine, check the instruments, measure, no-go, correct, re-cut,
go, download.

The real bench with its real archive on disk; only the instruments' cables are spoken for. House scenario, SIMULATED.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from kivy.clock import Clock

from core.geometry.features import DIAGONALS, Feature
from core.machine.cautions import POWER_OFF
from core.machine.directions import Side
from core.machine.gantry_correction import Correction
from core.machine.procedure import Stage
from core.metrology.verdict import Verdict
from core.records.checksums import verify_folder
from core.said import Name
from firmware_bridge.byte_link import LinkChanged, LinkState
from hardware.usb_stick import FOLDER
from tests.ui.bench.test_downloads import STICK, FolderAsStick
from tests.ui.bench_bits import SKEWED, BenchUnderTest, quantity_name, running_bench
from tests.ui.english_left import assert_nothing_left, everything_said
from tests.ui.offscreen import Offscreen
from tests.ui.touching import double_touch, find_text, stands, tap_feature, tap_text
from ui.bench.desks.machines import LoadMachines
from ui.bench.desks.measuring import ResumeSession
from ui.bench.desks.settings import ChangeSettings
from ui.bench.live import STALE_AFTER_S
from ui.bench.workers.downloads import Downloads
from ui.pages.correct import correct_page
from ui.speech.language import Language
from ui.state.settings import Settings, SettingsFile
from ui.state.snapshot import Snapshot
from ui.state.stick import DownloadState
from ui.touch.shell import SCREENS

REPAIRED = {
    **SKEWED,
    Feature.NL_FR: 144.04,
    Feature.NR_FL: 144.02,
    Feature.NL: 90.0,
    Feature.NR: 90.0,
    Feature.FR: 90.0,
    Feature.FL: 90.0,
}


def again(values: dict[Feature, float]) -> dict[Feature, float]:
    """Both diagonals a second time: no move is said before."""
    return {feature: values[feature] for feature in DIAGONALS}


DOORS = [str(screen.door.words) for screen in SCREENS.values() if screen.door]


class Person:
    """Touches the screen, presses data buttons, waits for what the screen says."""

    machine = "router"  # the name that is offered first

    def __init__(self, screen: Offscreen, under_test: BenchUnderTest) -> None:
        self.screen = screen
        self.bench = under_test

    def until(self, holds: Callable[[Snapshot], bool]) -> None:
        """Look at the screen until it is so; the archive's disk may take its time."""
        for _frame in range(40_000):
            if holds(self.screen.app.snapshot):
                break
            self.screen.frames(1)
        assert holds(self.screen.app.snapshot), self.screen.app.snapshot.message
        self.screen.frames()

    def touch(self, *words: str) -> None:
        for word in words:
            # What the archive has still to say may move the buttons: a person looks before touching.
            self.until(lambda now: not now.storing)
            if self.screen.app.root.screen.name == "bench" and word in DOORS:
                tap_text(self.screen, "Menu")
            if self.screen.app.root.screen.name == "menu" and word not in (*DOORS, "< Back"):
                tap_text(self.screen, "Bench")
            self.screen.frames_until(lambda word=word: stands(self.screen, word))
            tap_text(self.screen, word)

    def key_in(self, number: str) -> None:
        for key in number:
            tap_text(self.screen, key)

    def touch_feature(self, feature: Feature) -> None:
        tap_feature(self.screen, feature)

    def measure(self, values: dict[Feature, float]) -> None:
        """Choose every feature on the drawing and press the instrument's data button there."""
        before = len(self.screen.app.snapshot.readings)
        for number, feature in enumerate(values, start=before + 1):
            self.touch_feature(feature)
            self.until(lambda now, f=feature: f in (now.next_length, now.next_corner))
            self.bench.indicate(values[feature], instrument=quantity_name(feature), pressed=True)
            self.until(lambda now, n=number: len(now.readings) == n)

    def take_for_check(self, *values: float, instrument: str) -> None:
        """Let the instrument show a value and touch what takes it."""
        for value in values:
            self.bench.indicate(value, instrument=instrument)
            self.until(lambda now, v=value: v in (now.live_length.value, now.live_corner.value))
            self.touch("Take this value")

    def type_gap(self, gap: str) -> None:
        before = len(self.screen.app.snapshot.machines.log)
        if self.screen.app.root.screen.page.heard:
            self.touch("Type the gap")
        self.key_in(gap)
        self.touch("Take this gap")
        self.until(lambda now: len(now.machines.log) > before)

    def heed(self) -> None:
        """Touch the thing that the caution is about."""
        before = len(self.screen.app.snapshot.machines.log)
        thing = self.screen.app.root.screen.ids.thing
        self.screen.tap(*thing.to_window(*thing.center))
        self.until(lambda now: len(now.machines.log) > before)

    def tick(self, words: str) -> None:
        before = len(self.screen.app.snapshot.machines.log)
        self.touch(words)
        self.until(lambda now: len(now.machines.log) > before)


@pytest.fixture
def person(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Person]:
    """Whatever is said to them meanwhile must have its German too."""
    heard = everything_said(monkeypatch)
    with running_bench(tmp_path) as under_test, Offscreen(under_test.bench) as screen:
        yield Person(screen, under_test)
    assert_nothing_left(heard)


@pytest.fixture
def german(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Person]:
    """Reads German, and is told in it what the power does."""
    heard = everything_said(monkeypatch)
    settings = Settings(language=Language.GERMAN)
    settings_file = SettingsFile(tmp_path)
    settings_file.save(settings)
    with running_bench(tmp_path, settings_file=settings_file) as under_test, Offscreen(under_test.bench) as screen:
        under_test.bench.send(ChangeSettings(settings=settings))
        person = Person(screen, under_test)
        person.machine = "Fräse"
        yield person
    assert any(str(POWER_OFF.text) in str(what) for what in heard)
    assert_nothing_left(heard)


def describe_the_router(person: Person) -> None:
    person.touch("Machine", "Describe a new machine", "Router", person.machine, "Y grows away from me", "Along X")
    person.key_in("640")
    person.touch("Take this number", "Adjusting screws")
    person.key_in("1")
    person.touch("Take this number", "Either end", "On the near side", "At the adjusters", "They differ", "No")
    person.touch("Keep this machine")
    person.until(lambda now: now.machines.current is not None)
    person.touch("< Back")


def begin_a_coupon(person: Person) -> None:
    """The coupons of this story have no seats."""
    session = person.screen.app.snapshot.session
    if "Seats" in str(person.screen.app.root.screen.remark):
        person.touch("Limits and more", "Seats, window", "no seats", "Done")
    person.touch("Start this coupon")
    person.until(lambda now: now.session != session)
    assert person.screen.app.root.screen.name == "bench"


def say_where_the_mark_was(person: Person) -> None:
    """Asked once, when a move is wanted."""
    person.touch("See what to do", "Near left")
    person.until(lambda now: now.mark_confirmed)


def check_the_instruments(person: Person) -> None:
    """Closed jaws and a block; a square and the same turned over: both are kept in the session."""
    person.touch("Instruments", "Check them")
    person.take_for_check(0.01, 0.0, instrument="caliper")
    person.touch("50")
    person.take_for_check(50.01, instrument="caliper")
    person.touch("Judge it")
    person.until(lambda now: "caliper" in str(now.message.text).lower())
    person.touch("Angle gauge")
    person.take_for_check(90.1, instrument="gauge")
    person.touch("Turned over")
    person.take_for_check(90.0, instrument="gauge")
    person.touch("Judge it")
    person.until(lambda now: "gauge" in str(now.message.text).lower())
    assert not person.screen.app.snapshot.message.alarm
    assert person.screen.app.snapshot.readings == ()
    person.touch("Bench")


def download_it(person: Person, stick: Path) -> None:
    """A folder stands in for the stick that is plugged in."""
    stick.mkdir()
    downloads = Downloads(find_sticks=lambda: (STICK,), access=FolderAsStick(stick))
    person.bench.use_downloads(downloads)
    downloads.start(person.bench.bench.post)
    try:
        person.until(lambda now: now.download.sticks == (STICK,))
        person.touch("Download", f"Download coupon {person.screen.app.snapshot.session}")
        person.until(lambda now: now.download.state is DownloadState.SAFE)
    finally:
        downloads.close()
    (folder,) = (stick / FOLDER).iterdir()
    verify_folder(folder)
    assert str(person.screen.app.root.screen.page.word) == "SAFE TO REMOVE"


def correct_it(person: Person) -> None:
    """Do what the screen asks, step by step: its main button, or the gap as it stands by then."""
    person.touch("Begin the correction")
    person.until(lambda now: now.closed and now.machines.guided is not None)
    move_mm = person.screen.app.snapshot.machines.guided.begun.move_mm
    done = []
    while (guided := person.screen.app.snapshot.machines.guided) is not None and guided.stage is not Stage.DONE:
        assert guided.stage is not Stage.VOID
        if guided.gap_end is None:
            page = correct_page(person.screen.app.snapshot)
            if page.caution is not None:
                done.append("heeded")
                person.heed()
                continue
            done.append(str(page.actions[-1][1]))
            person.tick(done[-1])
            continue
        set_mm = move_mm if "Set" in done and guided.gap_end is Side.RIGHT else 0.0
        done.append(f"gap {guided.gap_end}")
        person.type_gap(f"{32.4 + set_mm:.2f}" if guided.gap_end is Side.RIGHT else "32.1")
    gaps = ["gap left", "gap right"]
    assert done[0] == "heeded", "cautions come first"
    assert [words for words in done if words != "heeded"] == [
        "No play found",
        *gaps,  # untouched: the zero is kept before anything is loosened
        "Loosened",
        "Set",
        "Tightened",
        *gaps,
        "Ran it by hand",
        *gaps,
        "Re-aligned",
        "It is cut",
    ]


def test_from_first_start_to_a_machine_that_cuts_square(german: Person, tmp_path: Path) -> None:
    person = german  # the words touched here are the sentences themselves, whatever language they are drawn in
    describe_the_router(person)
    person.touch("New coupon")
    begin_a_coupon(person)
    check_the_instruments(person)
    person.measure(SKEWED)
    person.measure(again(SKEWED))
    assert person.screen.app.snapshot.verdict is Verdict.NO_GO
    say_where_the_mark_was(person)
    person.touch("See the move")
    correct_it(person)
    person.touch("Bench", "New coupon")
    begin_a_coupon(person)
    person.measure(REPAIRED)
    person.measure(again(REPAIRED))
    assert person.screen.app.snapshot.verdict is Verdict.GO
    person.touch("Verdict", "Finish coupon")
    person.until(lambda now: now.closed)
    person.until(lambda now: now.records.comparison is not None)
    assert str(person.screen.app.root.screen.word) == "FIXED"
    person.touch("Bench")
    download_it(person, tmp_path / "stick")


def test_everything_done_wrong_is_asked_or_refused_and_loses_nothing(person: Person) -> None:
    person.touch("New coupon")
    begin_a_coupon(person)
    # A double touch over a silent instrument, and a reading nobody measured: nothing is taken.
    double_touch(person.screen, "Take reading")
    assert person.screen.app.snapshot.readings == ()
    # The diagonal's value at the near edge: asked, and put where it belongs.
    person.touch_feature(Feature.NEAR)
    person.until(lambda now: now.next_length is Feature.NEAR)
    person.bench.indicate(SKEWED[Feature.NL_FR], pressed=True)
    person.until(lambda now: now.question is not None)
    question = person.screen.app.snapshot.question
    person.touch(question.choices[0][1])
    person.until(lambda now: len(now.readings) == 1)
    assert person.screen.app.snapshot.readings[0].reading.feature in (Feature.NL_FR, Feature.NR_FL)
    # A value keyed in with the point in the wrong place is refused in words; the right one counts.
    person.touch_feature(Feature.LEFT)
    person.touch("Type")
    person.key_in("7.984")
    assert "look again" in str(person.screen.app.root.screen.hint)
    person.touch(*["delete"] * 5)
    person.key_in("79.84")
    person.touch("Take reading")
    person.until(lambda now: len(now.readings) == 2)
    # Voided with a reason, it stays in the record.
    person.touch_feature(Feature.LEFT)
    person.touch("Wrong place")
    person.until(lambda now: now.readings[-1].voided == "wrong place")
    # Every wrong door leads back.
    for door in ("verdict", "history", "download", "correct", "instruments", "machine"):
        person.screen.go(door)
        while person.screen.app.root.screen.name != "bench":
            person.touch("< Back")
    assert len([one for one in person.screen.app.snapshot.readings if one.voided is None]) == 1


def test_a_pulled_cable_and_a_value_gone_stale_give_no_reading(person: Person) -> None:
    person.touch("New coupon")
    begin_a_coupon(person)
    person.bench.bench.post(LinkChanged(instrument="caliper", state=LinkState.UP, text=Name("open")))
    person.bench.indicate(SKEWED[Feature.NL_FR])
    person.until(lambda now: now.live_length.value == SKEWED[Feature.NL_FR])
    # Stale: the instrument has fallen silent; a touch before the screen has greyed the value takes nothing. The screen
    # looks for silence by its own clock, and on a busy machine that look would come before the finger.
    Clock.unschedule(person.screen.app._show_newest)
    person.bench.now_s += STALE_AFTER_S + 1.0
    person.touch("Take reading")
    person.until(lambda now: now.message.alarm)
    assert "nothing was taken" in str(person.screen.app.snapshot.message.text)
    # Pulled: the value is gone, the screen says so, and nothing is taken.
    person.bench.indicate(SKEWED[Feature.NL_FR])
    person.bench.bench.post(LinkChanged(instrument="caliper", state=LinkState.LOST, text=Name("cable pulled")))
    person.until(lambda now: now.live_length.value is None)
    assert "lost: caliper" in str(person.screen.app.root.links)
    assert find_text(person.screen, "Take reading").disabled
    person.touch("Take reading")
    assert person.screen.app.snapshot.readings == ()
    # Back again: it goes on by itself, and two touches close together are one reading.
    person.bench.bench.post(LinkChanged(instrument="caliper", state=LinkState.UP, text=Name("open")))
    person.bench.indicate(SKEWED[Feature.NL_FR])
    person.until(lambda now: now.live_length.value is not None)
    double_touch(person.screen, "Take reading")
    person.until(lambda now: len(now.readings) == 1 and now.pending is None)
    assert [item.reading.value for item in person.screen.app.snapshot.readings] == [SKEWED[Feature.NL_FR]]


def test_a_power_cut_in_between_loses_nothing(tmp_path: Path) -> None:
    """The bench is left as it stands, not closed, and another is built on the same archive."""
    first = BenchUnderTest(tmp_path)
    try:
        with Offscreen(first.bench) as screen:
            person = Person(screen, first)
            person.touch("New coupon")
            begin_a_coupon(person)
            person.measure({feature: SKEWED[feature] for feature in (Feature.NL_FR, Feature.NR_FL, Feature.NEAR)})
            was = screen.app.snapshot
        with running_bench(tmp_path) as second, Offscreen(second.bench) as screen:
            second.bench.send(ResumeSession())
            person = Person(screen, second)
            person.until(lambda now: now.session == was.session)
            assert screen.app.root.screen.name == "bench"
            assert screen.app.snapshot.readings == was.readings
            rest = {
                feature: value
                for feature, value in SKEWED.items()
                if feature not in {item.reading.feature for item in was.readings}
            }
            person.measure(rest)
            assert screen.app.snapshot.verdict is Verdict.NO_GO
    finally:
        first.archive.close()


def key_into(person: Person, field: str, number: str) -> None:
    person.touch(field)
    person.key_in(number)


def measure_the_window(person: Person) -> None:
    """One side by the data button, the other keyed in; what cannot be its width is refused in words."""
    person.measure({Feature.WINDOW_WIDTH: 60.15})
    person.touch_feature(Feature.WINDOW_HEIGHT)
    person.until(lambda now: now.next_length is Feature.WINDOW_HEIGHT)
    person.touch("Type")
    assert str(person.screen.app.root.screen._keypad.caption) == "window along Y"
    person.key_in("52")
    assert "look again" in str(person.screen.app.root.screen.hint)
    person.touch("delete", "delete")
    person.key_in("40.14")
    before = len(person.screen.app.snapshot.readings)
    person.touch("Take reading")
    person.until(lambda now: len(now.readings) == before + 1)
    assert person.screen.app.snapshot.readings[-1].reading.feature is Feature.WINDOW_HEIGHT


def test_what_the_coupon_is_judged_by_is_chosen_by_touch_and_remembered_for_the_machine(tmp_path: Path) -> None:
    """Own limits, window and warmth; the next coupon of the machine begins with them, after a new start too."""
    with running_bench(tmp_path) as first, Offscreen(first.bench) as screen:
        person = Person(screen, first)
        describe_the_router(person)
        person.touch("New coupon", "Limits and more", "Own limits")
        key_into(person, "squareness", "0.35")
        key_into(person, "diagonals differ", "0.5")
        person.touch("Seats, window")
        key_into(person, "along X", "60")
        key_into(person, "along Y", "40")
        person.touch("Temperature", "acrylic")
        person.key_in("27.5")
        person.touch("Done")
        begin_a_coupon(person)
        now = screen.app.snapshot
        assert (now.limits.perpendicularity_mm, now.limits.diagonal_mm) == (0.35, 0.5)
        assert (now.coupon.window_width_mm, now.coupon.window_height_mm) == (60.0, 40.0)
        person.measure(SKEWED)
        measure_the_window(person)
        person.touch("Verdict", "All numbers")
        assert "Told apart by the window: the cut takes 0.1" in str(screen.app.root.screen.notes)
        assert "from acrylic at 27.5 °C" in str(screen.app.root.screen.notes)
        person.touch("Bench", "New coupon")
        chosen = screen.app.root.screen.remark
        assert "squareness 0.35 mm" in str(chosen)
        assert "Window 60 × 40 mm." in str(chosen)
        assert "acrylic at 27.5" in str(chosen)
    with running_bench(tmp_path) as second, Offscreen(second.bench) as screen:
        second.bench.send(LoadMachines())
        person = Person(screen, second)
        person.until(lambda now: now.records.last_opened is not None)
        person.touch("New coupon")
        assert str(screen.app.root.screen.remark) == str(chosen)


TURNED_OVER = {**SKEWED, Feature.NL_FR: SKEWED[Feature.NR_FL], Feature.NR_FL: SKEWED[Feature.NL_FR]}


def test_a_coupon_turned_over_half_way_is_contradictory_and_gives_no_correction(person: Person) -> None:
    describe_the_router(person)
    person.touch("New coupon")
    begin_a_coupon(person)
    person.measure(TURNED_OVER)
    assert person.screen.app.snapshot.verdict is Verdict.INCONSISTENT
    person.touch("Verdict", "All numbers")
    assert "turned over" in str(person.screen.app.root.screen.notes)
    assert not isinstance(person.screen.app.snapshot.machines.correction, Correction)


def test_a_quarter_turn_or_a_wrong_size_is_asked_about(person: Person) -> None:
    """The sizes exchanged in the form are the coupon lying a quarter turn round: the first edge asks."""
    person.touch("New coupon")
    person.key_in("80")
    person.touch("height, Y")
    person.key_in("120")
    begin_a_coupon(person)
    person.measure({feature: SKEWED[feature] for feature in (Feature.NL_FR, Feature.NR_FL)})
    person.touch_feature(Feature.NEAR)
    person.until(lambda now: now.next_length is Feature.NEAR)
    person.bench.indicate(SKEWED[Feature.NEAR], pressed=True)
    person.until(lambda now: now.question is not None)
    question = person.screen.app.snapshot.question
    assert "looks like the left edge" in str(question.text) or "looks like the right edge" in str(question.text)
    # Measured again, it is the same: the coupon is begun anew with its true sizes, and the old one stays in the record.
    person.touch("Neither", "New coupon")
    person.key_in("120")
    person.touch("height, Y")
    person.key_in("80")
    begin_a_coupon(person)
    person.measure(SKEWED)
    assert person.screen.app.snapshot.verdict is Verdict.NO_GO
