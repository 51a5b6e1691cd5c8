"""Gaps on the independent machine, from a reference that is square to nothing."""

from __future__ import annotations

import pytest

from core.machine.directions import Axis, Front, Side
from core.machine.gantry_correction import Correction, correction_of_skew
from core.machine.holding import HowHeld
from core.machine.parallelism import GAP_U_MM, Gaps, GapTarget, null_meter, skew_change, target_gaps
from core.machine.profile import MachineProfile
from core.metrology.adjustment import Estimate


def target(read: Gaps, correction: Correction, profile: MachineProfile) -> GapTarget:
    return target_gaps(
        read, move_mm=correction.move_mm, end=correction.end, direction=correction.direction, profile=profile
    )


def all_profiles() -> list[MachineProfile]:
    profiles = []
    for axis in Axis:
        for front in Front:
            for held in (HowHeld.SCREWS, HowHeld.RAILS):
                for gap_span_mm in (None, 500.0, 900.0):
                    free = MachineProfile(name="m", span_mm=640.0, gantry_axis=axis, front=front, held=held)
                    sides = (Side.NEAR, Side.FAR) if free.ends[0] is Side.LEFT else (Side.LEFT, Side.RIGHT)
                    profiles += [
                        MachineProfile(
                            name="m",
                            span_mm=640.0,
                            gantry_axis=axis,
                            front=front,
                            held=held,
                            gap_span_mm=gap_span_mm,
                            reference=reference,
                            movable=(end,),
                        )
                        for reference in sides
                        for end in free.ends
                    ]
    return profiles


@pytest.mark.parametrize("skew_deg", [-0.4, 0.25])
@pytest.mark.parametrize("profile", all_profiles(), ids=lambda p: f"{p.part_axis}-{p.front}-{p.held}-{p.reference}")
def test_setting_the_target_gaps_makes_the_part_square(machine_of, profile: MachineProfile, skew_deg: float) -> None:
    machine = machine_of(profile)
    machine.rack(skew_deg)
    correction = correction_of_skew(Estimate(value=skew_deg, u=0.01), profile)
    assert isinstance(correction, Correction)
    read = machine.gaps()
    goal = target(read, correction, profile)
    # The null meter says the whole way at first, then follows a hand that overshoots and comes back.
    first = null_meter(read, goal, profile)
    assert first.to_go_mm == pytest.approx(correction.move_mm.value)
    assert first.direction is correction.direction
    assert not first.inside
    machine.move(correction.end.value, str(first.direction.words), first.to_go_mm + 0.5)
    over = null_meter(machine.gaps(), goal, profile)
    assert over.to_go_mm == pytest.approx(0.5)
    assert over.direction is correction.direction.opposite
    machine.move(correction.end.value, str(over.direction.words), over.to_go_mm)
    there = null_meter(machine.gaps(), goal, profile)
    assert there.inside
    assert str(there.text).startswith("Inside")
    assert machine.skew_deg == pytest.approx(0.0, abs=1e-9)
    assert machine.gaps().first_mm == pytest.approx(goal.gaps.first_mm, abs=1e-9)
    assert machine.gaps().second_mm == pytest.approx(goal.gaps.second_mm, abs=1e-9)
    assert skew_change(read, machine.gaps(), profile).value == pytest.approx(-skew_deg, rel=1e-4)


def test_sliding_the_whole_gantry_does_not_disturb_the_meter() -> None:
    profile = MachineProfile(name="m", span_mm=640.0)
    correction = correction_of_skew(Estimate(value=0.3, u=0.01), profile)
    assert isinstance(correction, Correction)
    goal = target(Gaps(first_mm=30.0, second_mm=31.0), correction, profile)
    here = null_meter(Gaps(first_mm=30.0, second_mm=30.5), goal, profile)
    slid = null_meter(Gaps(first_mm=42.0, second_mm=42.5), goal, profile)
    assert slid.to_go_mm == pytest.approx(here.to_go_mm)


def test_inside_is_never_finer_than_what_gaps_or_adjuster_can_tell() -> None:
    fine = correction_of_skew(Estimate(value=0.3, u=0.001), MachineProfile(name="m", span_mm=640.0))
    assert isinstance(fine, Correction)
    read = Gaps(first_mm=30.0, second_mm=30.0)
    by_gaps = target(read, fine, MachineProfile(name="m", span_mm=640.0))
    assert by_gaps.inside_mm == pytest.approx(1.96 * 2.0 * GAP_U_MM, rel=1e-4)
    teeth = MachineProfile(name="m", span_mm=640.0, held=HowHeld.CROSS_SHAFT_TEETH, belt_pitch_mm=2.0)
    assert target(read, fine, teeth).inside_mm == pytest.approx(1.0)
    coarse = correction_of_skew(Estimate(value=0.3, u=0.03), MachineProfile(name="m", span_mm=640.0))
    assert isinstance(coarse, Correction)
    assert target(read, coarse, MachineProfile(name="m", span_mm=640.0)).inside_mm == pytest.approx(
        coarse.move_mm.U95 / 3.0
    )
