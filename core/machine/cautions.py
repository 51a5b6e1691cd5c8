"""Cautions where they matter: where hands go in, where power comes back, where a beam or a spindle runs.

Stage: correction. Input: a step of a procedure, the state of power before it, the machine. Output: the cautions to
acknowledge before that step, one at a time. Common practice of the trade; the maker's instructions, local codes and
licensed practice prevail, and are named before hands first go in.
"""

from msgspec import Struct

from core.machine.procedure import Act, Power, Step, has_cutter
from core.machine.profile import MachineProfile, Process
from core.said import Said, Series, paragraph, said

# What whoever is told a move is told in the same breath (see `move_order`): one wording, short enough for large type.
BEFORE_HANDS = said(
    "Power off and unplugged, cutter out. The maker's instructions, local codes and licensed practice first."
)

# Before hands go in where no move is told: the side ways, and what is asked without a machine.
BY_HAND = said(
    "Before hands go in: power off and unplugged, the plug in sight, cutter out. The maker's instructions, local codes "
    "and licensed practice come first."
)


class Caution(Struct, frozen=True, kw_only=True):
    """One caution. `name` is stable (it goes into the machine log); `short` has seven words at most and is read from
    afar, `text` says the rest: neither is said without the other, but in a log and where there is no room."""

    name: str
    short: Said
    text: Said

    @property
    def whole(self) -> Series:
        """Both, one after the other."""
        return paragraph(self.short, self.text)


POWER_OFF = Caution(
    name="power-off",
    short=said("Power off, unplugged, plug in sight."),
    text=said("Before hands go in. An emergency stop is not a main switch."),
)
STILL_OFF = Caution(
    name="still-off",
    short=said("Still off and unplugged?"),
    text=said("Look once more: power off, the plug out, where you can see it."),
)
STORED_ENERGY = Caution(
    name="stored-energy",
    short=said("Stored energy can release suddenly."),
    text=said(
        "Spindle drive or tube's supply discharged, springs, counterweights, compressed air secured, as their makers "
        "say. Stay clear."
    ),
)
SLOWLY = Caution(
    name="slowly",
    short=said("Push slowly: motors generate."),
    text=said("Pushed fast they can destroy their drivers."),
)
BLADE_OUT = Caution(
    name="blade-out",
    short=said("Cutter, knife or pen out."),
    text=said("Before hands go in, also with the power off."),
)
HANDS_OUT = Caution(
    name="hands-out",
    short=said("Hands and tools out, covers on."),
    text=said(
        "Before power comes back: no key, block, leaf, caliper where it travels; nobody reaches in; interlocks work."
    ),
)
LASER_COVERS = Caution(
    name="laser-covers",
    short=said("Laser enclosure shut, interlocks working, eyewear on."),
    text=said(
        "Housed or open, class 4: never fire it otherwise. Eyewear for its wavelength; open laser: everyone in the "
        "room. Reflections blind."
    ),
)
LASER_MIRRORS = Caution(
    name="laser-mirrors",
    short=said("Mirrors: the maker's procedure only."),
    text=said(
        "Where the gantry carries them, before the next cut; hands in only with power off and unplugged. Without "
        "mirrors: go on."
    ),
)
LASER_CUTTING = Caution(
    name="laser-cutting",
    short=said("Never leave a laser alone."),
    text=said("Extraction on, extinguisher at hand while it cuts."),
)
LASER_MATERIAL = Caution(
    name="laser-material",
    short=said("No PVC, no unknown plastic."),
    text=said("In a laser their smoke is poisonous and attacks the machine."),
)
ROUTER_CUTTING = Caution(
    name="router-cutting",
    short=said("Eyes, ears, dust; the piece held."),
    text=said("Eye and hearing protection and dust extraction on, the piece held down, hands away from the cutter."),
)
BLADE_CUTTING = Caution(
    name="blade-cutting",
    short=said("The piece held, hands away."),
    text=said("Held down, and away from knife or pen while it runs."),
)
PREVAIL = Caution(
    name="maker-first",
    short=said("Maker's instructions and local codes first."),
    text=said(
        "They, support, warranty and licensed practice prevail over anything shown here. What needs a licensed person "
        "is left to one."
    ),
)


def cautions_before(step: Step, before: Power | None, profile: MachineProfile) -> tuple[Caution, ...]:
    """What is acknowledged before a step. `before` is the state of power in the step before it, None where a
    correction begins or is taken up again: then everything that matters for hands or power is asked anew."""
    if step.power is Power.OFF:
        return _before_hands(step, before, profile)
    said_now = [HANDS_OUT] if step.act in (Act.HOME, Act.CUT) or before is not Power.ON else []
    if step.act is Act.ALIGN:
        said_now += [LASER_COVERS, LASER_MIRRORS]
    if step.act is Act.CUT:
        said_now += cutting_cautions(profile.process)
    return (*said_now, PREVAIL) if before is None else tuple(said_now)


def _before_hands(step: Step, before: Power | None, profile: MachineProfile) -> tuple[Caution, ...]:
    slowly = (SLOWLY,) if step.act is Act.PUSH else ()
    if before is Power.OFF:
        still = (STILL_OFF,) if step.act in (Act.LOOSEN, Act.SET, Act.TIGHTEN) else ()
        return (*still, *slowly)
    if before is Power.ON:
        return (POWER_OFF, *slowly)
    blade = (BLADE_OUT,) if has_cutter(profile) else ()
    return (POWER_OFF, STORED_ENERGY, *blade, *slowly, PREVAIL)


def cutting_cautions(process: Process) -> list[Caution]:
    """What is said before anything is cut, by what the machine cuts with."""
    laser = [LASER_COVERS, LASER_CUTTING, LASER_MATERIAL]
    match process:
        case Process.LASER:
            return laser
        case Process.ROUTER:
            return [ROUTER_CUTTING]
        case Process.KNIFE | Process.PLOTTER:
            return [BLADE_CUTTING]
        case Process.OTHER:
            return [*laser, ROUTER_CUTTING]


def cautions_of_cutting(machine: MachineProfile | None = None) -> tuple[Caution, ...]:
    """Those of cutting a coupon, to be shown one at a time; of every way of cutting where no machine is described."""
    return (HANDS_OUT, *cutting_cautions(machine.process if machine else Process.OTHER), PREVAIL)


def before_cutting(machine: MachineProfile | None = None) -> Series:
    """The same as one paragraph, beside a file that was made."""
    *cautions, _prevail = cautions_of_cutting(machine)
    return paragraph(*(caution.whole for caution in cautions), BEFORE_CUT_PREVAIL)


BEFORE_CUT_PREVAIL = said("The maker's instructions, local codes and licensed practice come first.")


# Whatever this module names one.
ALL_CAUTIONS = tuple(one for one in vars().values() if isinstance(one, Caution))
