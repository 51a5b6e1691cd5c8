"""Procedures: every way of holding a gantry as a table of steps, with the state of power in each.

Stage: correction. Input: how the machine holds its gantry and what it cuts with. Output: the steps in their order.

Hands go in only where the power is off and unplugged; where the power is on the machine runs, and hands and tools are
out. What has to be done between the two states is said by the cautions that stand before a step (`cautions`), so that
no step can be entered without them. Source: common practice of machine fitters; the machine's own manual prevails.
"""

from enum import StrEnum

from msgspec import Struct

from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile, Process


class Stage(StrEnum):
    """What is to be done next. Cautions come before the step they belong to."""

    CAUTIONS = "cautions"
    PLAY = "play"
    START = "start"  # bring it where the coupon was cut: home it, or push it against its stops
    READ_UNTOUCHED = "read-untouched"
    LOOSEN = "loosen"
    SET = "set"
    TIGHTEN = "tighten"
    TRY = "try"  # a quarter of the move, while the sign of the controller's offset is not proven
    READ_TRY = "read-try"
    OFFSET = "offset"
    READ_SET = "read-set"
    STORE = "store"
    RUN = "run"
    READ_RUN = "read-run"
    REALIGN = "realign"
    RECUT = "recut"
    DONE = "done"
    VOID = "void"  # the coupon's number no longer belongs to the machine as it stands


class Power(StrEnum):
    """The state of power during a step."""

    OFF = "off"  # off and unplugged: hands may go in
    ON = "on"  # hands and tools out, covers on


class Act(StrEnum):
    """What is done in a step: the first six by hands in the machine, the last three by the machine with hands out."""

    LOOK = "look"
    READ = "read"
    LOOSEN = "loosen"
    SET = "set"
    TIGHTEN = "tighten"
    PUSH = "push"
    ALIGN = "align"  # mirrors, by the maker's procedure
    HOME = "home"
    CUT = "cut"


class Step(Struct, frozen=True, kw_only=True):
    """One step: what is done, and whether the power is on meanwhile."""

    stage: Stage
    act: Act
    power: Power


def _by_hand(stage: Stage, act: Act) -> Step:
    return Step(stage=stage, act=act, power=Power.OFF)


def _homing(stage: Stage) -> Step:
    return Step(stage=stage, act=Act.HOME, power=Power.ON)


_PLAY = _by_hand(Stage.PLAY, Act.LOOK)
_SET_BY_HAND = (
    _by_hand(Stage.READ_UNTOUCHED, Act.READ),
    _by_hand(Stage.LOOSEN, Act.LOOSEN),
    _by_hand(Stage.SET, Act.SET),
    _by_hand(Stage.TIGHTEN, Act.TIGHTEN),
    _by_hand(Stage.READ_SET, Act.READ),
    _by_hand(Stage.RUN, Act.PUSH),
    _by_hand(Stage.READ_RUN, Act.READ),
)
# A shaft, belts, screws or rails hold the gantry with the power off as well.
_HELD_WITHOUT_POWER = (_PLAY, *_SET_BY_HAND)
# Motors on one switch let go at every power-off: the stops give the position back, before every reading.
_HELD_BY_STOPS = (_PLAY, _by_hand(Stage.START, Act.PUSH), *_SET_BY_HAND)
# Motors with a switch each take their position from homing, so every reading follows a homing run, never a push.
_HELD_BY_HOMING = (
    _PLAY,
    _homing(Stage.START),
    _by_hand(Stage.READ_UNTOUCHED, Act.READ),
    _homing(Stage.TRY),
    _by_hand(Stage.READ_TRY, Act.READ),
    _homing(Stage.OFFSET),
    _by_hand(Stage.READ_SET, Act.READ),
    _homing(Stage.STORE),
    _by_hand(Stage.READ_RUN, Act.READ),
)
PROCEDURES: dict[HowHeld, tuple[Step, ...]] = {
    HowHeld.CROSS_SHAFT: _HELD_WITHOUT_POWER,
    HowHeld.CROSS_SHAFT_TEETH: _HELD_WITHOUT_POWER,
    HowHeld.BELT_CLAMPS: _HELD_WITHOUT_POWER,
    HowHeld.SCREWS: _HELD_WITHOUT_POWER,
    HowHeld.SHIMS: _HELD_WITHOUT_POWER,
    HowHeld.TWO_MOTORS_TWO_SWITCHES: _HELD_BY_HOMING,
    HowHeld.TWO_MOTORS_ONE_SWITCH: _HELD_BY_STOPS,
    HowHeld.RAILS: _HELD_WITHOUT_POWER,
    HowHeld.NOT_ADJUSTABLE: (),
    HowHeld.NOT_SAID: _HELD_WITHOUT_POWER,
}


def has_beam(profile: MachineProfile) -> bool:
    """Whether the machine cuts, or may cut, with a laser."""
    return profile.process in (Process.LASER, Process.OTHER)


def has_cutter(profile: MachineProfile) -> bool:
    """Whether the machine has, or may have, a cutter, a knife or a pen in it."""
    return profile.process is not Process.LASER


def procedure_of(profile: MachineProfile) -> tuple[Step, ...]:
    """The steps of setting this machine, in their order; none where nothing can be adjusted."""
    steps = PROCEDURES[profile.held]
    if not steps:
        return ()
    if has_beam(profile):
        realign = Step(stage=Stage.REALIGN, act=Act.ALIGN, power=Power.ON)
    else:
        realign = _by_hand(Stage.REALIGN, Act.TIGHTEN)  # the tool goes back into its holder
    return (*steps, realign, Step(stage=Stage.RECUT, act=Act.CUT, power=Power.ON))
