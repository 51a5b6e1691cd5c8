"""A trial step and the re-cut: the rest is said only where the skew changed as foretold, by a log as it is written."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from core.geometry.features import DIAGONALS
from core.geometry.seats import equal_seats
from core.machine.gantry_correction import Correction, gantry_correction, profile_of_span
from core.machine.guided_correction import begin
from core.machine.machine_log import CorrectionApplied, LogEntry, LogPayload, MachineEvent, MachineEventKind
from core.machine.trial_step import trial_came_true
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.tolerances import limits_for_class
from core.metrology.witness import Answers, MarkSeen, WitnessKind
from tests.core.metrology.known_coupons import HOUSE, SETUP, exact_readings, shape

COUPON = replace(HOUSE, seats=equal_seats(120.0, 80.0))
ROUTER = profile_of_span(640.0)
TRIES = Answers(mark=MarkSeen.NL, names_confirmed=True)
CUT = datetime(2026, 11, 28, 9, 0, tzinfo=UTC)


def judged(skew_deg: float) -> Evaluation:
    readings = exact_readings(shape(skew_deg=skew_deg), DIAGONALS * 2, COUPON)
    return evaluate(COUPON, readings, limits_for_class(COUPON, "mK"), SETUP)


def trial(skew_deg: float) -> Correction:
    correction = gantry_correction(judged(skew_deg), ROUTER, answers=TRIES)
    assert isinstance(correction, Correction)
    return correction


def log(*payloads: LogPayload, at: datetime | None = CUT) -> tuple[LogEntry, ...]:
    return tuple(LogEntry(sequence=n, time_utc=at, payload=payload) for n, payload in enumerate(payloads, start=1))


def came_true(entries: tuple[LogEntry, ...], skew_deg: float, **other: object) -> bool | None:
    known: dict[str, object] = {
        "session": "second",
        "opened_utc": CUT + timedelta(hours=1),
        "answers": Answers(mark=MarkSeen.NL),
        **other,
    }
    return trial_came_true(entries, ROUTER, evaluation=judged(skew_deg), **known)  # type: ignore[arg-type]


def made(skew_deg: float, made_mm: float | None = None) -> tuple[LogEntry, ...]:
    step = trial(skew_deg)
    return log(begin("first", step), CorrectionApplied(session="first", made_mm=made_mm or step.move_mm.value))


@pytest.mark.parametrize("skew_deg", [0.6, -0.6])
def test_a_quarter_made_the_right_way_brings_the_rest(skew_deg: float) -> None:
    step = trial(skew_deg)
    assert (step.witness, step.share) == (WitnessKind.TRIAL_STEP, 0.25)
    assert begin("first", step).share == 0.25
    assert came_true(made(skew_deg), 0.75 * skew_deg) is True
    rest = gantry_correction(judged(0.75 * skew_deg), ROUTER, answers=Answers(mark=MarkSeen.NL, foretold=True))
    assert isinstance(rest, Correction)
    assert (rest.witness, rest.share) == (WitnessKind.FORETOLD, 1.0)


@pytest.mark.parametrize("skew_deg", [0.6, -0.6])
def test_exchanged_diagonals_show_by_the_change(skew_deg: float) -> None:
    # Exchanged both times: the coupon seems to lean a quarter more. Exchanged the first time only: it changes sign.
    assert came_true(made(skew_deg), 1.25 * skew_deg) is False
    assert came_true(made(skew_deg), -1.25 * skew_deg) is False


def test_no_change_that_could_be_seen_says_nothing() -> None:
    assert came_true(made(0.6), 0.6) is None
    assert came_true(made(0.6), 0.58) is None


def test_what_the_gaps_say_was_made_counts_not_what_was_asked_for() -> None:
    assert came_true(made(0.6, made_mm=3.35), 0.3) is True  # half of it
    assert came_true(made(0.6), 0.3) is False


def test_only_a_trial_step_made_between_the_two_coupons_counts() -> None:
    entries = made(0.6)
    assert came_true(entries[:1], 0.45) is None, "begun, not made"
    assert came_true((), 0.45) is None
    assert came_true(entries, 0.45, session="first") is None, "the coupon it was made from"
    assert came_true(entries, 0.45, opened_utc=CUT - timedelta(hours=1)) is None, "an older coupon"
    assert came_true(entries, 0.45, opened_utc=None) is True, "the clock is not set"
    crash = MachineEvent(kind=MachineEventKind.CRASH)
    assert came_true(log(*(entry.payload for entry in entries), crash), 0.45) is None
    whole = gantry_correction(judged(0.6), ROUTER, answers=Answers(mark=MarkSeen.NL, foretold=True))
    assert isinstance(whole, Correction)
    done = log(begin("first", whole), CorrectionApplied(session="first", made_mm=1.7))
    assert came_true(done, 0.45) is None, "no trial step"


def test_a_coupon_whose_mark_lay_at_another_corner_is_turned() -> None:
    assert came_true(made(0.6), -0.45, answers=Answers(mark=MarkSeen.NR)) is True
