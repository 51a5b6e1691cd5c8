"""The guided correction under any log whatever: it never fails, forgets nothing and never skips a safeguard."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from core.machine.cautions import cautions_for
from core.machine.directions import Direction, Side
from core.machine.guided_correction import Stage, answer, guided_state
from core.machine.guided_wording import sentences
from core.machine.machine_log import (
    CautionAcknowledged,
    CoarseReset,
    CorrectionAbandoned,
    CorrectionApplied,
    CorrectionBegun,
    GapPhase,
    GapRead,
    GuidedStep,
    LogEntry,
    LogPayload,
    MachineEvent,
    MachineEventKind,
    StepDone,
)
from core.machine.profile import MachineProfile, Process
from core.machine.spent_coupon import spent_coupon

ROUTER = MachineProfile(name="m", span_mm=640.0, process=Process.ROUTER)
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
    st.sampled_from([CautionAcknowledged(caution=caution.name) for caution in cautions_for(ROUTER)]),
    st.sampled_from([StepDone(step=step) for step in GuidedStep]),
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


@given(st.lists(PAYLOADS, max_size=40))
def test_any_log_can_be_read_and_says_what_to_do(payloads: list[LogPayload]) -> None:
    state = guided_state(entries(payloads), ROUTER)
    assert isinstance(spent_coupon(entries(payloads), "s"), str)
    if state is None:
        return
    assert all(isinstance(sentence, str) for sentence in sentences(state))
    assert bool(answer(state, 30.0)) is (state.stage not in (Stage.DONE, Stage.VOID))
    # Nothing is set before every caution was acknowledged and both gaps were read untouched.
    if state.stage in (Stage.LOOSEN, Stage.SET, Stage.TIGHTEN, Stage.READ_SET, Stage.RUN, Stage.REALIGN, Stage.RECUT):
        assert set(state.acknowledged) >= {caution.name for caution in cautions_for(ROUTER)}
        assert state.untouched is not None
    # Nothing is cut again before the gaps were found inside.
    if state.stage in (Stage.RUN, Stage.REALIGN, Stage.RECUT, Stage.DONE):
        assert state.meter is not None
        assert state.meter.inside


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
        payloads = answer(state, gap_mm)
        assert payloads
        log += payloads
        assert guided_state(entries(log), ROUTER) != state
