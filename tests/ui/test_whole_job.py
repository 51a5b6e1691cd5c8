"""A person's whole job by touch alone: describe the machine, measure, no-go, correct, re-cut, go.

The real bench with its real archive on disk; only the instruments' cables are spoken for. House scenario, SIMULATED.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from core.geometry.features import TEN_FEATURES, Feature, FeatureKind
from core.metrology.verdict import Verdict
from tests.ui.bench_bits import SKEWED, BenchUnderTest, quantity_name, running_bench
from tests.ui.offscreen import Offscreen
from tests.ui.touching import tap_text
from ui.snapshot import Snapshot

REPAIRED = {
    **SKEWED,
    Feature.NL_FR: 144.04,
    Feature.NR_FL: 144.02,
    Feature.NL: 90.0,
    Feature.NR: 90.0,
    Feature.FR: 90.0,
    Feature.FL: 90.0,
}


class Person:
    """Touches the screen, presses data buttons, waits for what the screen says."""

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
            tap_text(self.screen, word)

    def key_in(self, number: str) -> None:
        for key in number:
            tap_text(self.screen, key)

    def touch_feature(self, feature: Feature) -> None:
        sheet = self.screen.app.root.screen.ids.sheet
        corner = feature.kind is FeatureKind.CORNER
        x, y = sheet.sheet.corner(feature) if corner else sheet.sheet.label_centre(feature)
        self.screen.tap(*sheet.to_window(*sheet.to_parent(x, y)))

    def measure(self, values: dict[Feature, float]) -> None:
        """Choose every feature on the drawing and press the instrument's data button there."""
        for number, feature in enumerate(TEN_FEATURES, start=1):
            self.touch_feature(feature)
            self.until(lambda now, f=feature: f in (now.next_length, now.next_corner))
            self.bench.indicate(values[feature], instrument=quantity_name(feature), pressed=True)
            self.until(lambda now, n=number: len(now.readings) == n)

    def type_gap(self, gap: str) -> None:
        before = len(self.screen.app.snapshot.machines.log)
        self.touch("Type the gap")
        self.key_in(gap)
        self.touch("Take this gap")
        self.until(lambda now: len(now.machines.log) > before)

    def tick(self, words: str) -> None:
        before = len(self.screen.app.snapshot.machines.log)
        self.touch(words)
        self.until(lambda now: len(now.machines.log) > before)


@pytest.fixture
def person(tmp_path: Path) -> Iterator[Person]:
    with running_bench(tmp_path) as under_test, Offscreen(under_test.bench) as screen:
        yield Person(screen, under_test)


def describe_the_router(person: Person) -> None:
    person.touch("Machine", "Describe a new machine", "router", "router", "Along X", "Y grows away from me")
    person.key_in("640")
    person.touch("Take this number", "adjusting screws")
    person.key_in("1")
    person.touch("Take this number", "Either end", "On the near side", "At the adjusters", "They differ", "No")
    person.until(lambda now: now.machines.current is not None)
    person.touch("< Back")


def begin_a_coupon(person: Person) -> None:
    session = person.screen.app.snapshot.session
    person.touch("Start this coupon")
    person.until(lambda now: now.session != session)
    assert person.screen.app.root.screen.name == "measure"
    person.touch("It lies so")
    person.until(lambda now: now.mark_confirmed)


def correct_it(person: Person) -> None:
    person.touch("Begin the correction")
    person.until(lambda now: now.closed and now.machines.guided is not None)
    while person.screen.app.snapshot.machines.guided.caution is not None:
        person.tick("Read and done")
    person.tick("No play found")
    move_mm = person.screen.app.snapshot.machines.guided.begun.move_mm
    gaps = ("32.1", f"{32.4 + move_mm:.2f}")
    person.type_gap("32.1")
    person.type_gap("32.4")
    for words in ("Loosened", "Set", "Tightened"):
        person.tick(words)
    for gap in gaps:
        person.type_gap(gap)
    person.tick("Ran it by hand")
    for gap in gaps:
        person.type_gap(gap)
    person.tick("Re-aligned")
    person.tick("The next coupon is cut")


def test_from_first_start_to_a_machine_that_cuts_square(person: Person) -> None:
    describe_the_router(person)
    person.touch("Measure a coupon")
    begin_a_coupon(person)
    person.measure(SKEWED)
    assert person.screen.app.snapshot.verdict is Verdict.NO_GO
    person.touch("< Back", "Correct the machine")
    correct_it(person)
    person.touch("< Back", "< Back", "< Back", "New coupon")
    begin_a_coupon(person)
    person.measure(REPAIRED)
    assert person.screen.app.snapshot.verdict is Verdict.GO
    person.touch("GO", "Finish coupon")
    person.until(lambda now: now.closed)
    person.until(lambda now: now.records.comparison is not None)
    assert "Fixed, on one coupon" in person.screen.app.root.screen.sentences


def test_everything_done_wrong_is_asked_or_refused_and_loses_nothing(person: Person) -> None:
    person.touch("Measure a coupon")
    begin_a_coupon(person)
    # A double touch over a silent instrument, and a reading nobody measured: nothing is taken.
    person.touch("Take reading", "Take reading")
    person.until(lambda now: now.message is not None)
    assert person.screen.app.snapshot.readings == ()
    # The diagonal's value at the near edge: asked, and put where it belongs.
    person.touch_feature(Feature.NEAR)
    person.until(lambda now: now.next_length is Feature.NEAR)
    person.bench.indicate(SKEWED[Feature.NL_FR], pressed=True)
    person.until(lambda now: now.question is not None)
    question = person.screen.app.snapshot.question
    person.touch(question.choices[0][1])
    person.until(lambda now: len(now.readings) == 1)
    assert person.screen.app.snapshot.readings[0].feature in (Feature.NL_FR, Feature.NR_FL)
    # A value keyed in with the point in the wrong place is refused in words; the right one counts.
    person.touch_feature(Feature.LEFT)
    person.touch("Type")
    person.key_in("7.984")
    assert "look again" in person.screen.app.root.screen.remark
    person.touch("Cancel", "Type")
    person.key_in("79.84")
    person.touch("Take reading")
    person.until(lambda now: len(now.readings) == 2)
    # Voided with a reason, it stays in the record.
    person.touch("Void", "Wrong place")
    person.until(lambda now: now.readings[-1].voided == "wrong place")
    # Every wrong door leads back.
    for door in ("verdict", "history", "download", "correct", "instruments", "machine"):
        person.screen.go(door)
        while person.screen.app.root.screen.name != "home":
            person.touch("< Back")
    person.touch("Go on measuring")
    assert len([one for one in person.screen.app.snapshot.readings if one.voided is None]) == 1
