"""What the guided correction says at each stage; the same sentences on the screen and in the text bench.

Stage: correction. Input: the guided state. Output: sentences for the person at the machine.
"""

from __future__ import annotations

from core.machine.feelers import block_and_leaves, leaves_for
from core.machine.guided_correction import PHASE_OF_STAGE, GuidedState, Stage
from core.machine.holding import HowHeld
from core.machine.machine_log import CoarseReset
from core.machine.parallelism import gap_span_mm
from core.machine.profile import MachineProfile

TITLES = {
    Stage.CAUTIONS: "Before hands go in",
    Stage.PLAY: "Look for play",
    Stage.READ_UNTOUCHED: "Read both gaps, gantry untouched",
    Stage.LOOSEN: "Loosen",
    Stage.SET: "Set to the target gaps",
    Stage.TIGHTEN: "Tighten",
    Stage.READ_SET: "Read both gaps again",
    Stage.RUN: "Run it by hand",
    Stage.READ_RUN: "Read both gaps once more",
    Stage.REALIGN: "Re-align",
    Stage.RECUT: "Cut the next coupon",
    Stage.DONE: "Measure the new coupon",
    Stage.VOID: "This coupon's number is void",
}


def sentences(state: GuidedState) -> tuple[str, ...]:
    """What to do now, in order."""
    holding, end = state.profile.holding, state.begun.end
    match state.stage:
        case Stage.CAUTIONS:
            return (state.caution.text,) if state.caution else ()
        case Stage.PLAY:
            return _play_sentences(state)
        case Stage.READ_UNTOUCHED:
            return (*_untouched_sentences(state), _gap_sentence(state))
        case Stage.LOOSEN:
            return (*_again_sentences(state), *_target_sentences(state), holding.loosen.format(end=end))
        case Stage.SET:
            return (*_target_sentences(state), holding.set_.format(end=end))
        case Stage.TIGHTEN:
            return (holding.tighten.format(end=end), "Tightening moves it: the gaps are read again next.")
        case Stage.READ_SET | Stage.READ_RUN:
            return (_gap_sentence(state),)
        case Stage.RUN:
            return (
                _meter_sentence(state),
                "Power off, push what travels slowly by hand from end to end and "
                "back. Nothing may catch, and nothing may have come loose.",
            )
        case Stage.REALIGN:
            return (
                _made_sentence(state),
                "Mirrors, or the tool, are re-aligned now by the maker's procedure and nothing else; then covers and "
                "interlocks go back into place.",
            )
        case Stage.RECUT:
            return ("Cut the next coupon from the same file, on the same place of the bed, mark beside NL.",)
        case Stage.DONE:
            return ("Measure the new coupon: it is held against what was foretold.",)
        case Stage.VOID:
            return (state.void,)


def _play_sentences(state: GuidedState) -> tuple[str, ...]:
    part = state.profile.holding.part
    return (
        f"Look for play: hold one end of the {part} and push the other to and fro with a finger. It may spring, it "
        "may not click or move freely.",
        "Found some? Cure it first (wheels, bearings, belt tension, set screws): then this coupon's number is void, "
        "and another has to be cut before anything is set.",
    )


def _untouched_sentences(state: GuidedState) -> tuple[str, ...]:
    first, second = state.profile.ends
    kind = (
        ("The motors lose this position when they are off: home it, switch off, and touch nothing.",)
        if state.profile.held is HowHeld.TWO_MOTORS_ONE_SWITCH
        else ()
    )
    return (
        "Slackening anything destroys the position the coupon was cut in. So nothing is loosened yet: power off, "
        "gantry untouched.",
        *kind,
        f"A gap is the distance from a fixed reference on the {state.profile.reference_side} side to the "
        f"{state.profile.holding.part}. It is read at the {first} and at the {second} end, "
        f"{gap_span_mm(state.profile):g} mm apart, always on the same two spots.",
    )


def _gap_sentence(state: GuidedState) -> str:
    return f"Read the gap at the {state.gap_end} end." if state.stage in PHASE_OF_STAGE else ""


def _target_sentences(state: GuidedState) -> tuple[str, ...]:
    target = state.target
    if target is None:
        return ()
    said = []
    for end in state.profile.ends:
        gap_mm = target.gaps.at(end)
        stack = block_and_leaves(gap_mm)
        feelers = f" ({stack.text} mm)" if stack and stack.handy else ""
        said.append(f"{end} {gap_mm:.2f} mm{feelers}")
    difference_mm = target.gaps.difference_mm
    return (
        f"Target gaps: {said[0]}; {said[1]}. Only their difference counts, {abs(difference_mm):.2f} mm.",
        _blocks_sentence(state.profile, difference_mm),
        _meter_sentence(state),
    )


def _blocks_sentence(profile: MachineProfile, difference_mm: float) -> str:
    """Equal blocks and leaves for the difference, for who has no meter; only a gantry can be pushed against them."""
    leaves = leaves_for(abs(difference_mm))
    if leaves is None or not leaves.handy or profile.holding.part != "gantry":
        return ""
    wider = profile.ends[1] if difference_mm > 0.0 else profile.ends[0]
    added = f", and {leaves.text} mm added at the {wider} end" if leaves.leaves_mm else ""
    return f"Without a meter: equal blocks at both ends{added}, the gantry pushed against both."


def _meter_sentence(state: GuidedState) -> str:
    meter = state.meter
    if meter is None:
        return ""
    if meter.inside:
        return f"Inside: the {state.begun.end} end has {meter.left_mm:.2f} mm to go, and that is good enough."
    return f"The {state.begun.end} end: {meter.text}"


def _again_sentences(state: GuidedState) -> tuple[str, ...]:
    if state.latest is None or state.latest == state.untouched:
        return ()
    return ("It moved while it was tightened, or is not there yet: once more.",)


def _made_sentence(state: GuidedState) -> str:
    made_mm = state.made_mm
    if made_mm is None:
        return ""
    begun = state.begun
    way = begun.direction.words
    return f"By the gaps the {begun.end} end was moved {made_mm:.2f} mm of {begun.move_mm:.2f} mm {way}."


COARSE_WORDS = {
    CoarseReset.SETTING_BLOCKS: "Equal setting blocks at both ends, the gantry pushed against them",
    CoarseReset.END_STOP: "Both ends pushed slowly against their stops",
    CoarseReset.ONE_GAP: "One gap set at one end and repeated at the other",
}


def coarse_reset_sentence(reset: CoarseReset, profile: MachineProfile) -> str:
    """What a coarse reset is good for, and what it costs."""
    return (
        f"{COARSE_WORDS[reset]}: a coarse reset for a machine far out. It squares the {profile.holding.part} to the "
        "frame, not to its travel; the coupon's number is then void. Cut and measure another afterwards."
    )
