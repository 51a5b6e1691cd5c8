from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import get_args

from msgspec.structs import replace

from core.machine.directions import Side
from core.machine.holding import HowHeld
from core.machine.machine_log import CorrectionApplied, GapPhase, GapRead, GuidedStep, LogPayload, StepDone
from core.machine.profile import MachineProfile
from core.records import machine_tables
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


def test_a_machines_log_comes_back_in_its_order(archive: Archive) -> None:
    payloads: tuple[LogPayload, ...] = (
        GapRead(end=Side.LEFT, gap_mm=40.12, phase=GapPhase.UNTOUCHED),
        StepDone(step=GuidedStep.LOOSENED),
        CorrectionApplied(session="20260301-140509-00c0ffee", made_mm=2.31),
    )
    for payload in payloads:
        archive.append_machine_event("template router", payload)
        archive.append_machine_event("knife", StepDone(step=GuidedStep.NO_PLAY))
    entries = archive.machine_events("template router")
    assert tuple(entry.payload for entry in entries) == payloads
    assert [entry.sequence for entry in entries] == [1, 2, 3]
    assert archive.machine_events("unheard of") == ()


def test_every_kind_of_the_machine_log_has_a_stored_form(archive: Archive) -> None:
    """A kind missing from the table would fail at the bench, in the middle of a correction."""
    assert set(machine_tables._LOG._kinds.values()) == set(get_args(LogPayload))


def test_a_line_of_later_software_stays_in_the_file(archive: Archive, tmp_path: Path) -> None:
    archive.append_machine_event("knife", StepDone(step=GuidedStep.NO_PLAY))
    other = sqlite3.connect(tmp_path / "bench" / "archive.sqlite")
    with other:
        other.execute("INSERT INTO machine_event VALUES (NULL, 'knife', 2, NULL, 'wheel-trued', 3, '{}', NULL)")
    other.close()
    entry = archive.append_machine_event("knife", StepDone(step=GuidedStep.RECUT))
    assert [line.sequence for line in archive.machine_events("knife")] == [1, entry.sequence] == [1, 3]
