from __future__ import annotations

from dataclasses import replace

from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.records.archive import Archive
from core.records.events import Opened

ROUTER = MachineProfile(name="template router", span_mm=640.0, held=HowHeld.SCREWS, screw_pitch_mm=0.75)


def test_the_newest_profile_of_a_machine_holds(archive: Archive) -> None:
    archive.save_machine(ROUTER)
    changed = replace(ROUTER, screw_pitch_mm=1.0, controller_skew_set=True)
    archive.save_machine(changed)
    assert archive.machines() == (changed,)


def test_a_new_machine_comes_first_then_the_last_one_used(archive: Archive, opened: Opened) -> None:
    names = ["router", "knife", "plotter", "laser"]
    for name in names:
        archive.save_machine(replace(ROUTER, name=name))
    for name in ("knife", "router", "knife"):
        archive.begin(replace(opened, machine=name))
    assert [profile.name for profile in archive.machines()] == ["laser", "plotter", "knife", "router"]
