"""The whole way on the real bench and archive without an angle gauge: two diagonals, one answer, a move."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.features import DIAGONALS, Feature
from core.geometry.seats import equal_seats, keyed_seats
from core.machine.gantry_correction import Correction, Refusal, RefusalReason
from core.machine.guided_correction import begin
from core.machine.machine_log import CorrectionApplied
from core.machine.profile import MachineProfile
from core.machine.reversal_check import Overhang, StepGauge
from core.metrology.witness import Light, MarkSeen, WitnessKind
from tests.core.metrology.known_coupons import exact_readings, shape
from tests.ui.bench_bits import COUPON, BenchUnderTest, running_bench
from ui.bench.desks.machines import LoadMachines, SaveMachine
from ui.bench.desks.measuring import CloseSession, ConfirmMark, SeeCoupon, SelectFeature
from ui.bench.desks.witness import FindByReversal, SeeLight, TryAStep
from ui.state.snapshot import Snapshot

EQUAL = replace(COUPON, seats=equal_seats(120.0, 80.0))
KEYED = replace(COUPON, seats=keyed_seats(120.0, 80.0))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[BenchUnderTest]:
    with running_bench(tmp_path) as running:
        running.bench.send(SaveMachine(profile=MachineProfile(name="router", span_mm=640.0)))
        running.settled()
        yield running


def quick_check(bench: BenchUnderTest, coupon=KEYED, skew_deg: float = 0.6) -> Snapshot:
    bench.open(coupon)
    bench.bench.send(SaveMachine(profile=MachineProfile(name="router", span_mm=640.0)))
    bench.settled()
    values = {r.feature: r.value for r in exact_readings(shape(skew_deg=skew_deg), DIAGONALS, coupon)}
    for feature in DIAGONALS * 2:
        bench.bench.send(SelectFeature(feature=feature))
        bench.indicate(values[feature], pressed=True)
        bench.settled()
    return bench.settled()


def told(bench: BenchUnderTest, *commands: object) -> Snapshot:
    for command in commands:
        bench.bench.send(command)  # type: ignore[arg-type]
        bench.settled()
    return bench.settled()


def refused(snapshot: Snapshot) -> RefusalReason:
    correction = snapshot.machines.correction
    assert isinstance(correction, Refusal), correction
    return correction.reason


def moved(snapshot: Snapshot) -> Correction:
    correction = snapshot.machines.correction
    assert isinstance(correction, Correction), correction
    return correction


@pytest.mark.parametrize(("mark", "sign"), [(MarkSeen.NL, 1), (MarkSeen.FR, 1), (MarkSeen.NR, -1), (MarkSeen.FL, -1)])
def test_keyed_seats_need_one_answer(bench: BenchUnderTest, mark: MarkSeen, sign: int) -> None:
    assert refused(quick_check(bench)) is RefusalReason.MARK_NOT_CONFIRMED
    correction = moved(told(bench, ConfirmMark(corner=mark)))
    assert correction.skew_deg.value * sign > 0.0


def test_a_mark_that_nobody_knows_gives_no_move_and_may_be_answered_anew(bench: BenchUnderTest) -> None:
    quick_check(bench)
    assert refused(told(bench, ConfirmMark(corner=MarkSeen.UNKNOWN))) is RefusalReason.MARK_UNKNOWN
    assert moved(told(bench, ConfirmMark(corner=MarkSeen.NL))).share == 1.0


def test_a_try_square_gives_the_move_and_its_contradiction_none(bench: BenchUnderTest) -> None:
    told(bench)
    quick_check(bench, EQUAL)
    assert refused(told(bench, ConfirmMark())) is RefusalReason.NO_WITNESS
    light = SeeLight(corner=Feature.NL, light=Light.BLADE_END)
    assert refused(told(bench, light)) is RefusalReason.NO_WITNESS
    snapshot = told(bench, SeeLight(corner=Feature.NR, light=Light.CORNER))
    assert moved(snapshot).witness is WitnessKind.TRY_SQUARE
    other = told(bench, replace(light, light=Light.CORNER), SeeLight(corner=Feature.NR, light=Light.BLADE_END))
    assert refused(other) is RefusalReason.WITNESSES_DISAGREE


def test_the_reversal_check_is_kept_and_is_a_witness(bench: BenchUnderTest) -> None:
    quick_check(bench, EQUAL)
    # 2 x 120 x tan 0.6 degrees.
    found = FindByReversal(step_mm=2.51, overhang=Overhang.LOWER, gauge=StepGauge.LINES)
    snapshot = told(bench, ConfirmMark(), found)
    assert moved(snapshot).witness is WitnessKind.REVERSAL
    turned = told(bench, replace(found, overhang=Overhang.UPPER))
    assert refused(turned) is RefusalReason.WITNESSES_DISAGREE
    impossible = told(bench, replace(found, step_mm=99.0))
    assert impossible.message is not None
    assert impossible.message.alarm


def test_a_finished_coupon_seen_again_can_still_be_answered_for(bench: BenchUnderTest) -> None:
    session = quick_check(bench).session
    told(bench, CloseSession())
    bench.open()
    bench.settled()  # it is on the bench before it is finished
    told(bench, CloseSession())
    assert session is not None
    seen = told(bench, SeeCoupon(session=session))
    assert refused(seen) is RefusalReason.MARK_NOT_CONFIRMED
    assert moved(told(bench, ConfirmMark())).share == 1.0
    again = told(bench, SeeCoupon(session=session))
    assert again.answers.mark is MarkSeen.NL, "it is stored"


def test_after_a_trial_step_the_rest_is_said_when_the_recut_came_as_foretold(bench: BenchUnderTest) -> None:
    first = quick_check(bench, EQUAL)
    step = moved(told(bench, ConfirmMark(), TryAStep(), CloseSession()))
    assert (step.witness, step.share) == (WitnessKind.TRIAL_STEP, 0.25)
    assert first.session is not None
    with closing(bench.open_archive()) as archive:
        archive.append_machine_event("router", begin(first.session, step))
        archive.append_machine_event("router", CorrectionApplied(session=first.session, made_mm=step.move_mm.value))
    told(bench, LoadMachines())
    quick_check(bench, EQUAL, 0.45)
    after = told(bench, ConfirmMark())
    assert after.answers.foretold is True
    assert (moved(after).witness, moved(after).share) == (WitnessKind.FORETOLD, 1.0)


def test_without_a_coupon_there_is_nothing_to_witness(bench: BenchUnderTest) -> None:
    for command in (
        ConfirmMark(),
        TryAStep(),
        SeeLight(corner=Feature.NL, light=Light.CORNER),
        FindByReversal(step_mm=1.0, overhang=Overhang.LOWER, gauge=StepGauge.FEELER),
    ):
        message = told(bench, command).message
        assert message is not None
        assert message.alarm
