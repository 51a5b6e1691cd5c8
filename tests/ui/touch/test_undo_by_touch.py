"""Everything that forgets is taken back by one touch on Undo: voided, finished, forgotten, reset, noted, given up.

The real bench with its real archive, and for the cable a real link on a pseudo-terminal. House scenario, SIMULATED.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from core.geometry.features import DIAGONALS, Feature
from core.machine.machine_log import CorrectionApplied, MachineEvent, MachineEventKind
from core.metrology.readings import Quantity
from firmware_bridge.byte_link import LinkState
from firmware_bridge.discovery import Port
from firmware_bridge.instrument_settings import InstrumentSettings
from tests.core.machine.test_log_words import BEGUN
from tests.ui.bench.test_cables import Talker, cables_on
from tests.ui.bench.test_undo import stored_before
from tests.ui.bench_bits import SKEWED, running_bench
from tests.ui.offscreen import Offscreen
from tests.ui.test_whole_job import Person
from tests.ui.touching import tap_feature, tap_text
from ui.bench.desks.cables import UseInstrument
from ui.bench.desks.machines import LoadMachines
from ui.touch.widgets.bench_faces import CouponBand


@pytest.fixture
def person(tmp_path: Path) -> Iterator[Person]:
    """At a bench whose machine is described, a coupon half measured."""
    stored_before(tmp_path, MachineEvent(kind=MachineEventKind.CRASH))
    with running_bench(tmp_path) as under_test, Offscreen(under_test.bench) as screen:
        under_test.bench.send(LoadMachines())
        under_test.settled()
        under_test.open()
        under_test.settled()
        for feature in DIAGONALS:
            under_test.indicate(SKEWED[feature], pressed=True)
            under_test.settled()
        screen.frames()
        yield Person(screen, under_test)


def touch_the_band(person: Person) -> None:
    (band,) = (one for one in person.screen.app.root.walk() if isinstance(one, CouponBand))
    person.screen.tap(*band.to_window(*band.center))


def noted(person: Person) -> list[type]:
    return [type(entry.payload) for entry in person.screen.app.snapshot.machines.log]


def test_a_reading_that_was_voided(person: Person) -> None:
    tap_feature(person.screen, Feature.NL_FR)
    person.touch("Slipped")
    person.until(lambda now: now.readings[0].voided is not None)
    person.touch("Undo")
    person.until(lambda now: [reading.voided for reading in now.readings] == [None, None])


def test_a_coupon_that_was_finished(person: Person) -> None:
    touch_the_band(person)
    person.touch("Finish coupon")
    person.until(lambda now: now.closed)
    person.touch("Undo")
    person.until(lambda now: not now.closed)
    assert len(person.screen.app.snapshot.readings) == 2


def test_what_happened_to_the_machine(person: Person) -> None:
    before = noted(person)
    person.touch("Machine", "Something happened to it", "It crashed")
    person.until(lambda now: len(now.machines.log) > len(before))
    person.touch("Undo")
    person.until(lambda _now: noted(person) == before)


def test_a_machine_that_was_squared_to_its_frame(person: Person) -> None:
    before = noted(person)
    person.touch("Causes", "To the frame", "Squared to its frame")
    person.until(lambda _now: CorrectionApplied in noted(person))
    person.touch("Undo")
    person.until(lambda _now: noted(person) == before)


def test_a_correction_that_was_given_up(tmp_path: Path) -> None:
    stored_before(tmp_path, BEGUN)
    with running_bench(tmp_path) as under_test, Offscreen(under_test.bench) as screen:
        person = Person(screen, under_test)
        under_test.bench.send(LoadMachines())
        person.until(lambda now: now.machines.guided is not None)
        under_way = screen.app.snapshot.machines.guided
        person.touch("Correct", "Give up", "Nothing was loosened")
        person.until(lambda now: now.machines.guided is None)
        person.touch("Undo")
        person.until(lambda now: now.machines.guided == under_way)


def test_an_instrument_that_was_forgotten(tmp_path: Path) -> None:
    """It is heard again on its cable."""
    talker = Talker(tmp_path / "gauge")
    ports = [Port(path=str(talker.cable.path), device="pty", description="USB serial")]
    gauge = InstrumentSettings(
        name="angle gauge", port=str(talker.cable.path), format_name="angle-x", quantity=Quantity.ANGLE
    )
    with running_bench(tmp_path) as under_test, Offscreen(under_test.bench) as screen:
        person = Person(screen, under_test)
        with cables_on(tmp_path, lambda: ports, under_test.bench.post) as cables:
            under_test.use_cables(cables)
            under_test.bench.send(UseInstrument(settings=gauge))
            screen.frames_until(lambda: [one.state for one in screen.app.snapshot.instruments] == [LinkState.UP])
            person.touch("Instruments")
            tap_text(screen, "Forget")
            screen.frames_until(lambda: screen.app.snapshot.instruments == ())
            person.touch("Undo")
            screen.frames_until(lambda: [one.state for one in screen.app.snapshot.instruments] == [LinkState.UP])
            talked = screen.app.snapshot.instruments[0].indications
            screen.frames_until(lambda: screen.app.snapshot.instruments[0].indications > talked)
        talker.close()
