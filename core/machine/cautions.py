"""Cautions shown, acknowledged and logged before any correction.

Stage: correction. Input: the machine profile. Output: the cautions that concern it, in order. Common practice of the
trade; the maker's instructions, local codes and licensed practice prevail, and the last caution says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.machine.profile import MachineProfile, Process


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution: `name` is stable (it goes into the machine log), `text` is for the person."""

    name: str
    text: str


POWER_OFF = Caution(
    name="power-off",
    text="Power off and unplugged, the plug where you can see it. An emergency stop is not a main switch.",
)
STORED_ENERGY = Caution(
    name="stored-energy",
    text="Stored energy: wait until the spindle drive or the tube's supply has discharged as its maker says; springs, "
    "counterweights and compressed air let go.",
)
SLOWLY = Caution(
    name="slowly",
    text="Never push the gantry fast: the motors generate, and can destroy their drivers.",
)
BLADE_OUT = Caution(
    name="blade-out",
    text="Take the cutter, knife or pen out before hands go in, also with the power off.",
)
LASER_COVERS = Caution(
    name="laser-covers",
    text="A cutting laser is class 4 inside its housing: never fire it with covers off or interlocks defeated. Eyewear "
    "must be made for its wavelength; reflections blind as well.",
)
LASER_MIRRORS = Caution(
    name="laser-mirrors",
    text="The gantry carries mirrors: after it was moved they are re-aligned before the next cut, by the maker's "
    "procedure and nothing else.",
)
LASER_MATERIAL = Caution(
    name="laser-material",
    text="No PVC and no unknown plastic in a laser: the smoke is poisonous and eats the machine.",
)
PREVAIL = Caution(
    name="maker-first",
    text="The maker's instructions, support and warranty come first. Local codes and licensed practice prevail over "
    "anything shown here: what needs a licensed person is left to one.",
)


def cautions_for(profile: MachineProfile) -> tuple[Caution, ...]:
    """The cautions for this machine, in the order they are acknowledged."""
    cautions = [POWER_OFF, STORED_ENERGY, SLOWLY]
    if profile.process is not Process.LASER:
        cautions.append(BLADE_OUT)
    if profile.process in (Process.LASER, Process.OTHER):
        cautions += [LASER_COVERS, LASER_MIRRORS, LASER_MATERIAL]
    return (*cautions, PREVAIL)
