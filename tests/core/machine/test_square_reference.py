"""The square reference against the independent machine: gaps alone bring it back to square, until it is dropped."""

from __future__ import annotations

import pytest

from core.machine.directions import Axis, Front
from core.machine.gantry_correction import Correction, Refusal, RefusalReason
from core.machine.holding import HowHeld
from core.machine.machine_log import CorrectionAbandoned, LogEntry, LogPayload, MachineEvent, MachineEventKind
from core.machine.parallelism import Gaps
from core.machine.profile import MachineProfile
from core.machine.square_reference import correction_by_reference, keep_reference, reference_state, skew_now
from core.metrology.adjustment import Estimate


def log_of(*payloads: LogPayload) -> list[LogEntry]:
    return [LogEntry(sequence=i + 1, time_utc=None, payload=payload) for i, payload in enumerate(payloads)]


@pytest.mark.parametrize("held", [HowHeld.SCREWS, HowHeld.RAILS])
@pytest.mark.parametrize("front", Front)
@pytest.mark.parametrize("axis", Axis)
@pytest.mark.parametrize("racked_to_deg", [-0.7, 0.4])
def test_gaps_alone_bring_it_back_to_square(machine_of, held, front, axis, racked_to_deg: float) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, gap_span_mm=560.0, gantry_axis=axis, front=front, held=held)
    machine = machine_of(profile)
    machine.rack(0.05)
    kept = keep_reference("session-1", Estimate(value=0.05, u=0.01), machine.gaps())
    machine.rack(racked_to_deg)
    now = skew_now(kept, machine.gaps(), profile)
    assert now.value == pytest.approx(racked_to_deg, abs=1e-3)
    correction = correction_by_reference(reference_state(log_of(kept)), machine.gaps(), profile)
    assert isinstance(correction, Correction)
    machine.do_as_told(str(correction.text))
    assert machine.skew_deg == pytest.approx(0.0, abs=2e-3)


KEPT = keep_reference("session-1", Estimate(value=0.05, u=0.01), Gaps(first_mm=30.0, second_mm=31.0))
PROFILE = MachineProfile(name="m", span_mm=640.0)


@pytest.mark.parametrize("kind", MachineEventKind)
def test_an_event_drops_it_and_says_why(kind: MachineEventKind) -> None:
    state = reference_state(log_of(KEPT, MachineEvent(kind=kind)))
    assert state.kept is None
    assert "was dropped" in str(state.text)
    refusal = correction_by_reference(state, Gaps(first_mm=30.0, second_mm=33.0), PROFILE)
    assert isinstance(refusal, Refusal)
    assert refusal.reason is RefusalReason.NO_REFERENCE


def test_other_entries_leave_it_and_a_new_one_replaces_it() -> None:
    assert reference_state(log_of(KEPT, CorrectionAbandoned(reason="lunch"))).kept == KEPT
    newer = keep_reference("session-2", Estimate(value=0.0, u=0.01), Gaps(first_mm=30.0, second_mm=30.2))
    state = reference_state(log_of(KEPT, MachineEvent(kind=MachineEventKind.CRASH), newer))
    assert state.kept == newer
    assert "session-2" in str(state.text)
    assert str(reference_state([]).text).startswith("No square reference yet")


def test_it_is_used_only_where_its_uncertainty_supports_it() -> None:
    coarse = keep_reference("session-1", Estimate(value=0.05, u=0.08), Gaps(first_mm=30.0, second_mm=31.0))
    refusal = correction_by_reference(reference_state(log_of(coarse)), Gaps(first_mm=30.0, second_mm=36.0), PROFILE)
    assert isinstance(refusal, Refusal)
    assert refusal.reason is RefusalReason.REFERENCE_TOO_COARSE
    assert "0.8 mm is wanted" in str(refusal.text)
    still = correction_by_reference(reference_state(log_of(KEPT)), Gaps(first_mm=30.0, second_mm=30.45), PROFILE)
    assert isinstance(still, Refusal)
    assert still.reason is RefusalReason.NOT_SIGNIFICANT
