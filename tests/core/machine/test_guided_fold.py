"""The guided correction under any log whatever: it never fails, forgets nothing and never skips a safeguard."""

from __future__ import annotations

from hypothesis import given, strategies as st
from msgspec.structs import replace

from core.machine.cautions import ALL_CAUTIONS
from core.machine.directions import Direction, Side
from core.machine.guided_correction import MOVING, answer, guided_state
from core.machine.guided_wording import sentences
from core.machine.holding import HowHeld
from core.machine.machine_log import (
    CautionAcknowledged,
    CoarseReset,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    CorrectionResumed,
    GapPhase,
    GapRead,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    MotorStep,
    MotorStepDone,
    StepDone,
)
from core.machine.procedure import Stage
from core.machine.profile import MachineProfile, Process
from core.machine.spent_coupon import spent_coupon
from core.said import Said

ROUTER = MachineProfile(name="m", span_mm=640.0, process=Process.ROUTER)
TWO_SWITCHES = replace(ROUTER, held=HowHeld.TWO_MOTORS_TWO_SWITCHES, process=Process.LASER)
BEGUN = CorrectionBegun(
    session="s",
    skew_deg=0.3,
    skew_u_deg=0.03,
    span_mm=640.0,
    move_mm=3.35,
    move_u_mm=0.3,
    end=Side.RIGHT,
    direction=Direction.NEARER,
)
PAYLOADS: st.SearchStrategy[LogPayload] = st.one_of(
    st.just(BEGUN),
    st.sampled_from([CautionAcknowledged(caution=caution.name) for caution in ALL_CAUTIONS]),
    st.sampled_from([StepDone(step=step) for step in GuidedStep]),
    st.sampled_from([MotorStepDone(step=step) for step in MotorStep]),
    st.just(CorrectionResumed()),
    st.builds(
        GapRead,
        end=st.sampled_from(Side),
        gap_mm=st.floats(min_value=0.0, max_value=500.0),
        phase=st.sampled_from(GapPhase),
    ),
    st.sampled_from([MachineEvent(kind=kind) for kind in MachineEventKind]),
    st.sampled_from(
        [
            CorrectionApplied(session="s", made_mm=3.3),
            CorrectionApplied(session="", made_mm=None, coarse=CoarseReset.END_STOP),
            CorrectionAbandoned(reason="lunch"),
        ]
    ),
)


def entries(payloads: list[LogPayload]) -> list[LogEntry]:
    return [LogEntry(sequence=i + 1, time_utc=None, payload=payload) for i, payload in enumerate(payloads)]


@given(st.lists(PAYLOADS, max_size=40), st.sampled_from([ROUTER, TWO_SWITCHES]))
def test_any_log_can_be_read_and_says_what_to_do(payloads: list[LogPayload], profile: MachineProfile) -> None:
    state = guided_state(entries(payloads), profile)
    assert isinstance(spent_coupon(entries(payloads), "s"), Said)
    if state is None:
        return
    assert all(str(sentence) for sentence in sentences(state))
    assert bool(answer(state, 30.0)) is (state.stage not in (Stage.DONE, Stage.VOID))
    # Nothing is set before every caution of this step was acknowledged and both gaps were read untouched.
    if state.stage in MOVING:
        assert state.caution is None
        assert state.untouched is not None
    # Nothing is cut again before the gaps were found inside (a log that says it was made is believed).
    made = any(isinstance(payload, CorrectionApplied) for payload in payloads)
    if state.stage in (Stage.STORE, Stage.RUN, Stage.REALIGN, Stage.RECUT, Stage.DONE) and not made:
        assert state.meter is not None
        assert state.meter.inside
    # Nothing but the trial before the gaps have shown which way the offset counts.
    if state.stage in (Stage.OFFSET, Stage.STORE):
        assert state.sense


@given(st.lists(PAYLOADS, max_size=40))
def test_a_gap_of_another_machine_changes_nothing(payloads: list[LogPayload]) -> None:
    """A gantry along X has no near and no far end."""
    strange = [p for p in payloads if not (isinstance(p, GapRead) and p.end in (Side.NEAR, Side.FAR))]
    assert guided_state(entries(payloads), ROUTER) == guided_state(entries(strange), ROUTER)


@given(st.lists(st.floats(min_value=25.0, max_value=40.0), min_size=2, max_size=60))
def test_answering_what_is_asked_always_leads_on(gaps_mm: list[float]) -> None:
    log: list[LogPayload] = [BEGUN]
    for gap_mm in gaps_mm:
        state = guided_state(entries(log), ROUTER)
        assert state is not None
        if state.stage is Stage.DONE:
            break
        while state.caution is not None:
            log += answer(state)
            state = guided_state(entries(log), ROUTER)
            assert state is not None
        payloads = answer(state, gap_mm)
        assert payloads
        log += payloads
        assert guided_state(entries(log), ROUTER) != state
