"""Cautions at their step, by what the machine cuts with; deference to maker, codes and licensed practice always."""

from __future__ import annotations

import pytest

from core.machine.cautions import (
    BEFORE_HANDS,
    HANDS_OUT,
    PREVAIL,
    Caution,
    before_cutting,
    cautions_before,
    cautions_of_cutting,
    cutting_cautions,
)
from core.machine.holding import HowHeld
from core.machine.procedure import Power, Stage, procedure_of
from core.machine.profile import MachineProfile, Process


def cautions_of(process: Process, held: HowHeld = HowHeld.SCREWS) -> dict[Stage, list[str]]:
    """The names of the cautions before every step, as they come on the way through."""
    profile = MachineProfile(name="m", span_mm=640.0, process=process, held=held)
    before: Power | None = None
    found = {}
    for step in procedure_of(profile):
        found[step.stage] = [caution.name for caution in cautions_before(step, before, profile)]
        before = step.power
    return found


@pytest.mark.parametrize("process", Process)
def test_hands_first_go_in_after_everything_that_matters_for_them(process: Process) -> None:
    first = cautions_of(process)[Stage.PLAY]
    blade = [] if process is Process.LASER else ["blade-out"]
    assert first == ["power-off", "stored-energy", *blade, "maker-first"]


@pytest.mark.parametrize("process", Process)
def test_loosening_setting_and_tightening_ask_that_the_power_is_still_off(process: Process) -> None:
    asked = cautions_of(process)
    assert asked[Stage.LOOSEN] == asked[Stage.SET] == asked[Stage.TIGHTEN] == ["still-off"]
    assert asked[Stage.RUN] == ["slowly"]


@pytest.mark.parametrize(
    ("process", "realign", "recut"),
    [
        (
            Process.LASER,
            ["hands-out", "laser-covers", "laser-mirrors"],
            ["hands-out", "laser-covers", "laser-cutting", "laser-material"],
        ),
        (Process.ROUTER, ["still-off"], ["hands-out", "router-cutting"]),
        (Process.KNIFE, ["still-off"], ["hands-out", "blade-cutting"]),
        (Process.PLOTTER, ["still-off"], ["hands-out", "blade-cutting"]),
        (
            Process.OTHER,
            ["hands-out", "laser-covers", "laser-mirrors"],
            ["hands-out", "laser-covers", "laser-cutting", "laser-material", "router-cutting"],
        ),
    ],
)
def test_beam_and_spindle_have_theirs_where_they_run(process: Process, realign: list[str], recut: list[str]) -> None:
    asked = cautions_of(process)
    assert asked[Stage.REALIGN] == realign
    assert asked[Stage.RECUT] == recut


def test_hands_go_in_again_only_after_power_off_and_homing_only_after_hands_out() -> None:
    asked = cautions_of(Process.ROUTER, HowHeld.TWO_MOTORS_TWO_SWITCHES)
    for homing, reading in ((Stage.START, Stage.READ_UNTOUCHED), (Stage.TRY, Stage.READ_TRY)):
        assert asked[homing] == ["hands-out"]
        assert asked[reading] == ["power-off"]


@pytest.mark.parametrize("process", Process)
@pytest.mark.parametrize("held", [held for held in HowHeld if held is not HowHeld.NOT_ADJUSTABLE])
def test_whatever_step_is_taken_up_again_asks_what_still_matters(held: HowHeld, process: Process) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, process=process, held=held)
    for step in procedure_of(profile):
        names = [caution.name for caution in cautions_before(step, None, profile)]
        assert names[0] == ("power-off" if step.power is Power.OFF else "hands-out")
        assert names[-1] == "maker-first"
        assert len(set(names)) == len(names)


def test_every_deference_names_maker_codes_and_licensed_practice() -> None:
    profile = MachineProfile(name="m", span_mm=640.0)
    last: Caution = cautions_before(procedure_of(profile)[0], None, profile)[-1]
    assert all(words in str(last.whole) for words in ("Maker", "warranty", "local codes", "licensed practice prevail"))
    for said in (str(BEFORE_HANDS), str(before_cutting())):
        assert all(words in said for words in ("maker", "local codes", "licensed practice"))


def cut_by(process: Process) -> MachineProfile:
    return MachineProfile(name="m", span_mm=640.0, process=process)


@pytest.mark.parametrize("process", Process)
def test_the_cautions_of_cutting_one_at_a_time_are_those_of_the_paragraph(process: Process) -> None:
    cautions, paragraph = cautions_of_cutting(cut_by(process)), str(before_cutting(cut_by(process)))
    assert cautions == (HANDS_OUT, *cutting_cautions(process), PREVAIL)
    assert all(str(caution.whole) in paragraph for caution in cautions[:-1])


def test_what_is_said_before_cutting() -> None:
    laser = str(before_cutting(cut_by(Process.LASER)))
    for words in (
        "alone",
        "Extraction on",
        "extinguisher",
        "PVC",
        "unknown plastic",
        "Eyewear",
        "everyone in the room",
    ):
        assert words in laser
    router = str(before_cutting(cut_by(Process.ROUTER)))
    for words in ("Eye and hearing protection", "dust", "held down"):
        assert words in router
    assert "PVC" not in router
    assert all(words in str(before_cutting()) for words in ("PVC", "hearing"))  # not said what it is: both
