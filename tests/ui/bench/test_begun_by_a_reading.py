"""From power on nothing is touched: the first press on a diagonal begins a coupon by itself, as the last was chosen."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, Feature
from core.geometry.seats import keyed_seats
from core.machine.profile import MachineProfile
from core.metrology.readings import Method, Unit
from core.metrology.verdict import CharacteristicGroup, Verdict
from tests.ui.bench_bits import BenchUnderTest, running_bench
from ui.bench.desks.machines import LoadMachines, SaveMachine
from ui.bench.desks.measuring import CloseSession, HoldReadings, OpenSession, ResumeSession, TypeReading
from ui.bench.opening import HOUSE_COUPON, opening
from ui.state.snapshot import Snapshot

SQUARE = {feature: round(HOUSE_COUPON.nominal(feature), 2) for feature in (*DIAGONALS, *EDGES)}


def press(under_test: BenchUnderTest, value: float, instrument: str = "caliper") -> Snapshot:
    under_test.indicate(value, instrument=instrument, pressed=True)
    return under_test.settled()


def test_four_presses_from_power_on_are_a_quick_check(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        for count, feature in enumerate(DIAGONALS * 2, start=1):
            now = press(under_test, SQUARE[feature])
            assert len(now.readings) == count
        assert [item.reading.feature for item in now.readings] == [*DIAGONALS * 2]
        assert now.verdict is Verdict.GO
        assert now.evaluation.settled
        assert [group.group for group in now.evaluation.asked] == [CharacteristicGroup.SQUARENESS]


def test_whoever_goes_on_with_the_edges_measures_the_whole_coupon(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        presses = 0
        now = press(under_test, SQUARE[Feature.NL_FR])
        while not (now.evaluation.settled and len(now.evaluation.asked) == 3):
            presses += 1
            assert presses <= 12
            now = press(under_test, SQUARE[now.next_length])
        assert now.verdict is Verdict.GO


def test_it_is_the_coupon_and_the_machine_of_the_last_one(tmp_path: Path) -> None:
    large = Coupon(width_mm=300.0, height_mm=200.0, seats=keyed_seats(300.0, 200.0))
    router = MachineProfile(name="template router", span_mm=640.0)
    with running_bench(tmp_path) as before:
        before.bench.send(SaveMachine(profile=router))
        before.settled()
        before.bench.send(OpenSession(opened=opening(large, "fH", router, grid="G1", place="B2")))
        before.settled()
        before.bench.send(CloseSession())
        before.settled()
    with running_bench(tmp_path) as under_test:
        under_test.bench.send(ResumeSession())
        under_test.bench.send(LoadMachines())
        under_test.settled()
        now = press(under_test, large.nominal(Feature.NL_FR))
        opened = now.log[0].payload
        assert (now.coupon, now.machine, opened.limits.source) == (large, router.name, "ISO 2768-fH")
        assert (opened.grid, opened.place) == ("", "")
        assert len(now.readings) == 1


def test_a_finished_coupon_gives_way_to_the_next(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        first = press(under_test, SQUARE[Feature.NL_FR]).session
        under_test.bench.send(CloseSession())
        assert under_test.settled().closed
        now = press(under_test, SQUARE[Feature.NL_FR])
        assert now.session != first
        assert (now.closed, len(now.readings)) == (False, 1)


def test_a_typed_diagonal_begins_one_too(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        under_test.bench.send(TypeReading(feature=Feature.NL_FR, shown=136.9, unit=Unit.MM))
        now = under_test.settled()
        assert [(item.reading.value, item.reading.method) for item in now.readings] == [(136.9, Method.TYPED)]


def test_the_other_diagonal_first_is_asked_about_and_nothing_is_lost(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        now = press(under_test, SQUARE[Feature.NR_FL])
        assert now.session is not None
        assert now.question is not None
        assert now.question.value == SQUARE[Feature.NR_FL]


@pytest.mark.parametrize(("value", "instrument"), [(50.0, "caliper"), (90.0, "gauge"), (11.2, "caliper")])
def test_what_is_no_diagonal_begins_nothing_and_says_so(tmp_path: Path, value: float, instrument: str) -> None:
    with running_bench(tmp_path) as under_test:
        now = press(under_test, value, instrument)
        assert now.session is None
        assert now.message.alarm


def test_what_is_only_held_still_begins_nothing(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        for _ in range(40):
            under_test.indicate(SQUARE[Feature.NL_FR])
        assert under_test.settled().session is None


def test_instruments_that_are_on_something_else_begin_nothing(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        under_test.bench.send(HoldReadings(held=True))
        assert press(under_test, SQUARE[Feature.NL_FR]).session is None


def test_two_presses_before_the_card_has_answered_are_one_coupon(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        for _ in range(2):
            under_test.indicate(SQUARE[Feature.NL_FR], pressed=True)
        now = under_test.settled()
        (file,) = tmp_path.glob("*.sqlite")
        assert file.exists()
        assert [item.reading.feature for item in now.readings] == [Feature.NL_FR]
        assert replace(now.coupon, seats=None) == Coupon(width_mm=120.0, height_mm=80.0)


def test_before_the_last_coupon_is_known_nothing_is_begun(tmp_path: Path) -> None:
    """A press in the first second after power on: the house's coupon on no machine would have been begun."""
    with running_bench(tmp_path) as under_test:
        under_test.bench.send(LoadMachines())
        under_test.indicate(SQUARE[Feature.NL_FR], pressed=True)
        now = under_test.pump()
        assert now.message.alarm
        assert under_test.settled().session is None
        assert press(under_test, SQUARE[Feature.NL_FR]).session is not None
