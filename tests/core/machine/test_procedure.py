"""The walk: a person who does what the sentences say, on every machine, is never hurt and never loses the zero.

Nothing in here reads the table of steps: hands, power and what lies on the bed follow from the words alone, as they do
for the person who reads them; the machine beneath is a simulated one, with a controller that counts its own way.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, strategies as st
from msgspec import Struct, field
from msgspec.structs import replace

from core.machine.cautions import ALL_CAUTIONS, HANDS_OUT, POWER_OFF
from core.machine.directions import Axis, Front, Side
from core.machine.gantry_correction import Correction, correction_of_skew
from core.machine.guided_correction import GuidedState, Stage, answer, begin, guided_state, to_be_resumed
from core.machine.guided_wording import DONE_WORDS, sentences, title
from core.machine.holding import HowHeld
from core.machine.machine_log import CorrectionApplied, CorrectionResumed, LogEntry, LogPayload
from core.machine.parallelism import gap_sign, gap_span_mm, inside_of
from core.machine.procedure import PROCEDURES, Power, procedure_of
from core.machine.profile import MachineProfile, Process
from core.metrology.adjustment import Estimate
from tests.examples import some_of_all

# What has to be done with the hands in the machine, and what the machine does by itself, by the words.
HANDS = re.compile(
    r"hold one end|read the gap|loosen the|loosen what|slacken the belt|slide the|shift the stop|turn the screw|"
    r"lift the belt|change the shims|move the|tighten|tension the belt|fix the stop|push both|push what|"
    r"push the gantry|put the tool back|equal blocks",
    re.I,
)
RUNS = re.compile(r"\bhome it\b|home once more|cut the next coupon", re.I)
SWITCHED_OFF = re.compile(r"then power off|power off before you reach", re.I)
WAYS = re.compile(r"nearer to you|farther from you|to the left|to the right")
OFFSET = re.compile(r"(?P<way>add|take) (?P<mm>[\d.]+) mm", re.I)


class Shop(Struct):
    """The machine and the person: `ends` is how far each end stands along the way that opens its gap, in mm."""

    profile: MachineProfile
    counts: int  # +1 when the controller moves the end the way the correction asks for when its offset grows
    hands_in: bool = False
    powered: bool = True  # it has just cut a coupon
    lying: bool = True  # whatever the person had in hand
    position_good: bool = False  # the gantry stands where homing or the stops put it
    offset_mm: float = 0.0
    hand_mm: float = 0.0  # what was set by hand, along the correction's direction
    seen: list[str] = field(default_factory=list)

    def caution(self, text: str) -> None:
        """Do what a caution says."""
        if text == str(HANDS_OUT.whole):
            self.hands_in = self.lying = False
        elif text == str(POWER_OFF.whole):
            self.powered = False

    def step(self, said: str) -> None:
        """Do what a step says, with the power as it says."""
        self.seen.append(said)
        on = said.startswith("Power on")
        assert on or said.startswith("Power off and unplugged."), said
        if HANDS.search(said):
            assert not on, f"hands in with the power on: {said}"
            assert not self.powered, f"the power was never switched off before: {said}"
            self.hands_in = self.lying = True
        if on:
            assert not self.hands_in, f"power comes back on with hands in: {said}"
            self.powered = True
        if RUNS.search(said):
            assert on, f"it cannot run without power: {said}"
            assert not self.lying, f"something lies in the way: {said}"
            self.position_good = True
        elif re.search(r"\bpush", said, re.I) and "stops" in said:
            self.position_good = True
        elif re.search(r"\bpush\b|\bpush the gantry\b|push what", said, re.I) and "finger" not in said:
            self.position_good = self.profile.held not in MOTORS
        if SWITCHED_OFF.search(said):
            self.powered = False


MOTORS = (HowHeld.TWO_MOTORS_TWO_SWITCHES, HowHeld.TWO_MOTORS_ONE_SWITCH)
ADJUSTABLE = [held for held in HowHeld if held is not HowHeld.NOT_ADJUSTABLE]


@st.composite
def profiles(draw: st.DrawFn, held: HowHeld | None = None) -> MachineProfile:
    profile = MachineProfile(
        name="m",
        span_mm=draw(st.floats(min_value=200.0, max_value=2000.0)),
        process=draw(st.sampled_from(Process)),
        gantry_axis=draw(st.sampled_from(Axis)),
        front=draw(st.sampled_from(Front)),
        held=held or draw(st.sampled_from(ADJUSTABLE)),
        screw_pitch_mm=draw(st.sampled_from([None, 0.7, 1.25])),
        belt_pitch_mm=draw(st.sampled_from([None, 2.0])),
        thinnest_shim_mm=draw(st.sampled_from([None, 0.05])),
        steps_per_mm=draw(st.sampled_from([None, 80.0, 400.0])),
    )
    movable = draw(st.sampled_from([(), profile.ends[:1], profile.ends[1:]]))
    across = [side for side in Side if side not in profile.ends]
    points_mm = profile.span_mm * draw(st.sampled_from([0.8, 1.0, 1.1]))
    return replace(profile, movable=movable, reference=draw(st.sampled_from(across)), gap_span_mm=points_mm)


class Walk:
    """A person who keeps to what is said, and a bench that is folded anew from its log after every touch."""

    def __init__(self, profile: MachineProfile, correction: Correction, counts: int) -> None:
        self.profile, self.correction = profile, correction
        self.shop = Shop(profile, counts)
        self.log: list[LogEntry] = []
        self.folded: tuple[int, GuidedState | None] = (0, None)
        self.add(begin("s", correction))

    def add(self, *payloads: LogPayload) -> None:
        for payload in payloads:
            self.log.append(LogEntry(sequence=len(self.log) + 1, time_utc=None, payload=payload))

    @property
    def state(self) -> GuidedState:
        if self.folded[0] != len(self.log):
            self.folded = (len(self.log), guided_state(self.log, self.profile))
        state = self.folded[1]
        assert state is not None
        return state

    def gap_mm(self, side: Side) -> float:
        """Gaps by plane geometry: the end that moves turns the part about the other adjuster."""
        made_mm = self.shop.hand_mm + self.shop.counts * self.shop.offset_mm
        share = gap_span_mm(self.profile) / self.profile.span_mm
        part = (1.0 + share) / 2.0 if side is self.correction.end else (1.0 - share) / 2.0
        return 60.0 + gap_sign(self.correction.direction, self.profile) * made_mm * part

    def do_step(self, state: GuidedState) -> None:
        said = " ".join(str(sentence) for sentence in sentences(state))
        self.shop.step(said)
        self.look_at_the_order(state, said)
        order = OFFSET.search(said) if state.stage in (Stage.TRY, Stage.OFFSET) else None
        if order:
            amount_mm = float(order["mm"])
            if state.sense == 0:
                unit_mm = self.profile.unit_mm or 0.0
                assert amount_mm <= self.correction.move_mm.value / 4.0 + unit_mm / 2.0 + 0.006, said
            self.shop.offset_mm += amount_mm if order["way"].lower() == "add" else -amount_mm
        if state.stage is Stage.SET:
            meter = state.live(self.correction.end, self.gap_mm(self.correction.end))
            assert meter is not None
            along = meter.direction is self.correction.direction
            self.shop.hand_mm += meter.to_go_mm if along else -meter.to_go_mm
            arrived = state.live(self.correction.end, self.gap_mm(self.correction.end))
            assert arrived is not None
            assert arrived.to_go_mm == pytest.approx(0.0, abs=1e-9)
            assert self.gap_mm(self.correction.end) == pytest.approx(meter.stop_at_mm, abs=1e-9)
        if state.gap_end is not None and self.profile.held in MOTORS:
            assert self.shop.position_good, f"the motors do not hold what is read here: {said}"

    def look_at_the_order(self, state: GuidedState, said: str) -> None:
        """One order at a time, and none of the old move once it is tight."""
        ways = set(WAYS.findall(said))
        assert len(ways) <= 1, said
        if state.stage not in (Stage.LOOSEN, Stage.SET, Stage.TRY, Stage.OFFSET):
            assert not ways, said
            old_move = re.escape(f"{self.correction.move_mm.value:.2f}")
            assert self.correction.move_mm.value < 0.5 or not re.search(rf"(?<![\d.]){old_move}(?!\d)", said), said
        assert not re.search(r"\bmm left\b", said), said

    def touch(self) -> None:
        """One touch of the person."""
        state = self.state
        assert title(state)
        if state.caution is not None:
            assert sentences(state) == (state.caution.short, state.caution.text)
            self.shop.caution(" ".join(map(str, sentences(state))))
        else:
            self.do_step(state)
        self.add(*answer(state, self.gap_mm(state.gap_end) if state.gap_end else None))


@given(
    profile=profiles(),
    skew_deg=st.floats(min_value=0.05, max_value=1.5),
    sign=st.sampled_from([-1.0, 1.0]),
    counts=st.sampled_from([-1, 1]),
    breaks=st.sets(st.integers(min_value=0, max_value=60), max_size=3),
)
@some_of_all(60)
def test_who_does_what_is_said_is_never_hurt(
    profile: MachineProfile, skew_deg: float, sign: float, counts: int, breaks: set[int]
) -> None:
    correction = correction_of_skew(Estimate(value=sign * skew_deg, u=0.01), profile)
    if not isinstance(correction, Correction):
        return  # coarser than its adjuster
    walk = Walk(profile, correction, counts)
    for touches in range(160):
        if touches in breaks and to_be_resumed(walk.state):
            walk.add(CorrectionResumed())
            walk.shop.powered, walk.shop.lying = True, True  # somebody else was at the machine meanwhile
            walk.shop.hands_in = False
        if walk.state.stage is Stage.DONE:
            break
        walk.touch()
    assert walk.state.stage is Stage.DONE
    applied = [entry.payload for entry in walk.log if isinstance(entry.payload, CorrectionApplied)]
    assert len(applied) == 1
    made_mm = walk.shop.hand_mm + counts * walk.shop.offset_mm
    assert abs(made_mm - correction.move_mm.value) <= inside_of(correction.move_mm, profile) + 1e-6


@pytest.mark.parametrize("held", ADJUSTABLE)
@pytest.mark.parametrize("process", Process)
def test_the_state_of_power_is_said_whenever_it_changes(held: HowHeld, process: Process) -> None:
    """Between a step with the power on and one with it off, and the other way, stands a caution that says so."""
    profile = MachineProfile(name="m", span_mm=640.0, held=held, process=process)
    correction = correction_of_skew(Estimate(value=0.3, u=0.02), profile)
    assert isinstance(correction, Correction)
    walk = Walk(profile, correction, 1)
    power, cautioned = None, []
    for _ in range(60):
        state = walk.state
        if state.stage is Stage.DONE:
            break
        if state.caution is not None:
            cautioned.append(state.caution)
        else:
            assert state.step is not None
            if state.step.power is not power:
                assert (POWER_OFF if state.step.power is Power.OFF else HANDS_OUT) in cautioned
            power, cautioned = state.step.power, []
        walk.touch()
    assert walk.state.stage is Stage.DONE


def test_every_way_of_holding_has_a_procedure_and_each_step_its_words() -> None:
    assert PROCEDURES.keys() == set(HowHeld)
    assert procedure_of(MachineProfile(name="m", span_mm=640.0, held=HowHeld.NOT_ADJUSTABLE)) == ()
    stages = {step.stage for steps in PROCEDURES.values() for step in steps}
    ticked = {stage for stage in stages if not stage.value.startswith("read")}
    assert ticked | {Stage.REALIGN, Stage.RECUT} == DONE_WORDS.keys()


def test_a_caution_is_short_enough_to_be_read_from_afar() -> None:
    assert len({caution.name for caution in ALL_CAUTIONS}) == len(ALL_CAUTIONS)
    for caution in ALL_CAUTIONS:
        assert len(str(caution.short).split()) <= 7, caution.short


def test_an_offset_that_counts_the_other_way_is_found_with_a_quarter() -> None:
    profile = MachineProfile(name="m", span_mm=640.0, held=HowHeld.TWO_MOTORS_TWO_SWITCHES, steps_per_mm=80.0)
    correction = correction_of_skew(Estimate(value=0.3, u=0.02), profile)  # 3.35 mm
    assert isinstance(correction, Correction)
    walk = Walk(profile, correction, -1)
    for _ in range(60):
        if walk.state.stage is not Stage.DONE:
            walk.touch()
    assert walk.state.stage is Stage.DONE
    offsets = [said for said in walk.shop.seen if "offset of the" in said or "quarter" in said]
    assert "add 0.838 mm (67 motor steps)" in offsets[0]
    # 0.8375 mm the wrong way: 4.19 to go, taken off, not added.
    assert "The trial went the other way" in offsets[1]
    assert "The right end has 4.19 mm to go, nearer to you. Take 4.188 mm (335 motor steps) off" in offsets[1]


def test_an_offset_that_the_controller_does_not_take_is_not_increased() -> None:
    profile = MachineProfile(name="m", span_mm=640.0, held=HowHeld.TWO_MOTORS_TWO_SWITCHES)
    correction = correction_of_skew(Estimate(value=0.3, u=0.02), profile)
    assert isinstance(correction, Correction)
    walk = Walk(profile, correction, 0)
    for _ in range(60):
        walk.touch()
    orders = [said for said in walk.shop.seen if "quarter" in said]
    assert sum("add 0.84 mm" in said for said in orders) == 1
    assert all("Add nothing more" in said for said in orders[1:])
    assert len(orders) > 3
