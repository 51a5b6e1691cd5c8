"""What the guided correction says at each stage; the same sentences on the screen and in the text bench.

Stage: correction. Input: the guided state. Output: sentences for the person at the machine: the state of power first,
then one order, from where the gantry is now. Once it is tight nothing of the old move is said any more.
"""

from core.machine.correction_words import own_units_sentence
from core.machine.feelers import block_and_leaves, leaves_for
from core.machine.guided_correction import GuidedState
from core.machine.holding import HowHeld, TurnedPart
from core.machine.move import settable_move
from core.machine.parallelism import NullReading, gap_span_mm
from core.machine.procedure import Act, Power, Stage
from core.machine.profile import MachineProfile
from core.said import NOTHING, Length, Part, Said, Series, paragraph, said

_TITLES = {
    Stage.CAUTIONS: said("Before you reach in"),
    Stage.PLAY: said("Look for play"),
    Stage.START: said("Home it"),
    Stage.READ_UNTOUCHED: said("Read both gaps, gantry untouched"),
    Stage.LOOSEN: said("Loosen"),
    Stage.SET: said("Set to the gap"),
    Stage.TIGHTEN: said("Tighten"),
    Stage.TRY: said("Try a quarter"),
    Stage.READ_TRY: said("Read both gaps: which way did it go?"),
    Stage.OFFSET: said("Set the offset"),
    Stage.READ_SET: said("Read both gaps again"),
    Stage.STORE: said("Store the offset"),
    Stage.RUN: said("Run it by hand"),
    Stage.READ_RUN: said("Read both gaps once more"),
    Stage.REALIGN: said("Re-align"),
    Stage.RECUT: said("Cut the next coupon"),
    Stage.DONE: said("Measure the new coupon"),
    Stage.VOID: said("This coupon's number is void"),
}
DONE_WORDS = {
    Stage.PLAY: said("No play found"),
    Stage.START: said("Done, power off"),
    Stage.LOOSEN: said("Loosened"),
    Stage.SET: said("Set"),
    Stage.TIGHTEN: said("Tightened"),
    Stage.TRY: said("Tried, power off"),
    Stage.OFFSET: said("Changed, power off"),
    Stage.STORE: said("Stored, power off"),
    Stage.RUN: said("Ran it by hand"),
    Stage.REALIGN: said("Re-aligned"),
    Stage.RECUT: said("It is cut"),
}


def title(state: GuidedState) -> Said:
    """What the present stage is called."""
    if state.stage is Stage.CAUTIONS and state.step is not None and state.step.power is Power.ON:
        return said("Before power comes back")
    if state.profile.held is HowHeld.TWO_MOTORS_ONE_SWITCH and state.stage in (Stage.START, Stage.RUN):
        return said("Against the stops")
    return _TITLES[state.stage]


def sentences(state: GuidedState, gap_mm: float | None = None) -> tuple[Part, ...]:
    """What to do now, in order; the state of power stands first. `gap_mm` is the live gap at the end that moves."""
    if state.caution is not None:
        return (state.caution.short, state.caution.text)
    return tuple(sentence for sentence in (power_sentence(state), *_orders(state, gap_mm)) if sentence)


def first_orders(state: GuidedState) -> Series:
    """The one order of the present step, for a screen that is read from afar; `sentences` say the rest."""
    holding, end = state.profile.holding, state.begun.end.word
    match state.stage:
        case Stage.PLAY:
            part = state.profile.holding.part.word
            return paragraph(
                said("Hold one end of the {part}, push the other by finger: it may spring, not click.", part=part)
            )
        case Stage.READ_UNTOUCHED:
            return paragraph(_gap_sentence(state), said("Nothing is loosened yet."))
        case Stage.LOOSEN:
            return paragraph(_again_sentence(state), holding.loosen(end) if holding.loosen else NOTHING)
        case Stage.SET:
            meter = state.to_go()
            settable_mm = settable_move(meter.to_go_mm, state.profile) if meter else 0.0
            return paragraph(
                own_units_sentence(meter.to_go_mm, settable_mm, state.begun.end, state.profile) if meter else NOTHING
            )
        case Stage.RECUT:
            return paragraph(
                said("Same file, place and mark."), said("Stay until it stops; power off before reaching in.")
            )
        case _:
            return paragraph(*_orders(state, None))


def power_sentence(state: GuidedState) -> Said:
    """The state of power during the present step; nothing where nothing is to be done any more."""
    if state.step is None:
        return NOTHING
    if state.step.power is Power.OFF:
        return said("Power off and unplugged.")
    if state.step.act is Act.ALIGN:
        return said("Power on only where the maker's procedure says so, hands out.")
    return said("Power on, hands and tools out.")


def _orders(state: GuidedState, gap_mm: float | None) -> tuple[Part, ...]:
    holding, end = state.profile.holding, state.begun.end.word
    match state.stage:
        case Stage.PLAY:
            return _play_sentences(state)
        case Stage.START:
            return (_start_sentence(state),)
        case Stage.READ_UNTOUCHED:
            return (*_untouched_sentences(state), _gap_sentence(state))
        case Stage.LOOSEN:
            loosen = holding.loosen(end) if holding.loosen else NOTHING
            return (_again_sentence(state), loosen, *_to_go_sentences(state))
        case Stage.SET:
            return (
                holding.set_(end) if holding.set_ else NOTHING,
                *_to_go_sentences(state, gap_mm),
                _blocks_sentence(state),
            )
        case Stage.TIGHTEN:
            tighten = holding.tighten(end) if holding.tighten else NOTHING
            return (tighten, said("Tightening moves it: the gaps are read again next."))
        case Stage.TRY:
            return (_try_sentence(state), _HOME_AND_OFF)
        case Stage.OFFSET:
            return (*_offset_sentences(state), _HOME_AND_OFF)
        case Stage.STORE:
            return (
                said("Store the offset in the controller, switch off, wait, switch on and home once more."),
                said("Then power off and unplug: the gaps show whether it was kept."),
            )
        case Stage.READ_TRY | Stage.READ_SET | Stage.READ_RUN:
            return (_gap_sentence(state),)
        case Stage.RUN:
            return (_run_sentence(state),)
        case _:
            return _end_sentences(state)


_HOME_AND_OFF = said("Home it, then power off and unplug. Touch nothing: the gaps are read next.")


def _end_sentences(state: GuidedState) -> tuple[Part, ...]:
    match state.stage:
        case Stage.REALIGN:
            return (_goal_sentence(state), _realign_sentence(state))
        case Stage.RECUT:
            return (
                said("Cut the next coupon from the same file, on the same place of the bed, mark beside NL."),
                said("Stay beside it until it has stopped; then power off before you reach for the coupon."),
            )
        case Stage.DONE:
            return (said("Measure the new coupon: it is held against what was foretold."),)
        case _:
            return (state.void,)


def _play_sentences(state: GuidedState) -> tuple[Said, ...]:
    return (
        said(
            "Look for play: hold one end of the {part} and push the other to and fro with a finger. It may spring, it "
            "may not click or move freely.",
            part=state.profile.holding.part.word,
        ),
        said(
            "Found some? Cure it first (wheels, bearings, belt tension, set screws): then this coupon's number is "
            "void, and another has to be cut before anything is set."
        ),
    )


def _start_sentence(state: GuidedState) -> Said:
    if state.profile.held is HowHeld.TWO_MOTORS_ONE_SWITCH:
        return said(
            "The motors let go when they are off; the stops give the position back. Push both ends slowly against "
            "their stops, as at every power-up, and let go."
        )
    return said(
        "Home it once, as it was homed before the coupon was cut. Then power off and unplug, and touch nothing: the "
        "gaps are read next."
    )


def _untouched_sentences(state: GuidedState) -> tuple[Said, ...]:
    first, second = state.profile.ends
    return (
        said(
            "Slackening anything destroys the position the coupon was cut in. So nothing is loosened yet, and the "
            "gantry is not touched."
        ),
        said(
            "A gap is the distance from a fixed reference on the {side} side to the {part}. It is read at the {first} "
            "and at the {second} end, {apart} apart, always on the same two spots.",
            side=state.profile.reference_side.word,
            part=state.profile.holding.part.word,
            first=first.word,
            second=second.word,
            apart=Length(gap_span_mm(state.profile), None),
        ),
    )


def _gap_sentence(state: GuidedState) -> Said:
    return said("Read the gap at the {end} end.", end=state.gap_end.word) if state.gap_end else NOTHING


def _to_go_sentences(state: GuidedState, gap_mm: float | None = None) -> tuple[Part, ...]:
    """How far, which way, and the gap to stop at: from where the gantry is now."""
    meter = state.to_go(gap_mm)
    if meter is None:
        return ()
    end = state.begun.end
    settable_mm = settable_move(meter.to_go_mm, state.profile)
    return (
        _to_go_sentence(state, meter),
        _stop_sentence(state, meter),
        own_units_sentence(meter.to_go_mm, settable_mm, end, state.profile),
    )


def _to_go_sentence(state: GuidedState, meter: NullReading) -> Said:
    end, to_go = state.begun.end.word, Length(meter.to_go_mm)
    if meter.inside:
        return said("The {end} end has {to_go} to go: good enough.", end=end, to_go=to_go)
    return said("The {end} end has {to_go} to go, {way}.", end=end, to_go=to_go, way=meter.direction.words)


def _stop_sentence(state: GuidedState, meter: NullReading) -> Said:
    end, stop = state.begun.end.word, Length(meter.stop_at_mm)
    stack = block_and_leaves(meter.stop_at_mm)
    if stack is None or not stack.handy:
        return said("Stop when the gap at the {end} end is {stop}.", end=end, stop=stop)
    return said("Stop when the gap at the {end} end is {stop} ({stack}).", end=end, stop=stop, stack=stack.text)


def _blocks_sentence(state: GuidedState) -> Said:
    """Equal blocks and leaves for the difference, for who has no meter; only a gantry can be pushed against them, and
    only where no homing run passes before they are taken out again."""
    profile, target = state.profile, state.target
    homes = any(step.act is Act.HOME for step in state.steps)
    if target is None or homes or profile.holding.part is not TurnedPart.GANTRY:
        return NOTHING
    if profile.held is HowHeld.TWO_MOTORS_ONE_SWITCH:
        return NOTHING  # it stands against its stops, not against blocks
    difference_mm = target.gaps.difference_mm
    leaves = leaves_for(abs(difference_mm))
    if leaves is None or not leaves.handy:
        return NOTHING
    if not leaves.leaves_mm:
        return said("Without a meter: equal blocks at both ends, the gantry pushed against both. Take them out again.")
    wider = profile.ends[1] if difference_mm > 0.0 else profile.ends[0]
    return said(
        "Without a meter: equal blocks at both ends, and {leaves} added at the {wider} end, the gantry pushed against "
        "both. Take them out again.",
        leaves=leaves.text,
        wider=wider.word,
    )


def _again_sentence(state: GuidedState) -> Said:
    if state.latest is None or state.latest == state.untouched:
        return NOTHING
    return said("It moved while it was tightened, or is not there yet: once more.")


def _offset_amount(amount_mm: float, profile: MachineProfile) -> Part:
    """The amount, and the same in motor steps where they are known."""
    if profile.unit_mm is None:
        return Length(amount_mm)
    settable_mm = settable_move(amount_mm, profile)
    steps = round(settable_mm / profile.unit_mm)
    return said("{amount} ({steps} motor steps)", amount=Length(settable_mm, 3), steps=steps)


def _try_sentence(state: GuidedState) -> Said:
    end = state.begun.end.word
    if state.tries_another:
        return said(
            "Write down the present offset between the home switches. Then add {amount} to that of the {end} motor: a "
            "quarter of the move and no more, for which way the controller counts is not proven yet.",
            amount=_offset_amount(state.quarter_mm, state.profile),
            end=end,
        )
    return said(
        "The gaps did not follow. Add nothing more: see that the controller has taken the quarter, that it belongs to "
        "the {end} motor, and in which unit it counts.",
        end=end,
    )


def _offset_sentences(state: GuidedState) -> tuple[Part, ...]:
    """What to add to the offset or to take off it, from where the gantry is now; its sign is proven."""
    meter = state.to_go()
    if meter is None:
        return ()
    end, amount = state.begun.end.word, _offset_amount(meter.to_go_mm, state.profile)
    along = meter.direction is state.begun.direction
    if along is (state.sense > 0):
        order = said("Add {amount} to the offset of the {end} motor.", amount=amount, end=end)
    else:
        order = said("Take {amount} off the offset of the {end} motor.", amount=amount, end=end)
    wrong = said("The trial went the other way: the controller counts against it.") if state.sense < 0 else NOTHING
    return (wrong if state.rounds == 0 else NOTHING, _to_go_sentence(state, meter), order)


def _run_sentence(state: GuidedState) -> Said:
    if state.profile.held is HowHeld.TWO_MOTORS_ONE_SWITCH:
        return said(
            "Push the gantry slowly off its stops and slowly against both once more. Leave it there until the next "
            "coupon is cut."
        )
    return said(
        "Push what travels slowly by hand, from one end of its travel to the other and back. Nothing may catch, and "
        "nothing may have come loose."
    )


def _goal_sentence(state: GuidedState) -> Said:
    meter = state.meter
    if meter is None:
        return NOTHING
    return said("By the gaps it stands {off} from its goal: good enough.", off=Length(meter.to_go_mm))


def _realign_sentence(state: GuidedState) -> Said:
    if state.step is not None and state.step.act is Act.ALIGN:
        return said(
            "Re-align mirrors or tool by the maker's procedure and nothing else. A hand goes to a mirror only with the "
            "power off and unplugged. Covers and interlocks go back into place."
        )
    return said("Put the tool back by the maker's procedure. Take keys, blocks and calipers out; covers back on.")


def coarse_reset_sentence(profile: MachineProfile) -> Said:
    """What squaring the machine to its frame is good for, and what it costs."""
    return said(
        "Squared to its frame: a coarse reset for a machine far out. The {part} is square to the frame, not to its "
        "travel; the coupon's number is void. Take blocks and tools out, then cut and measure another.",
        part=profile.holding.part.word,
    )
