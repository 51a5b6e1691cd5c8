"""Whether an instrument is still right: its last check, what the zero did since the one before, when to check again.

Source of the comparison: GUM (JCGM 100:2008) 5.1.2, the difference of two independent values. That checks are made at
the start of the day and after a fall is common practice.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from msgspec.structs import replace

from core.geometry.features import Feature
from core.metrology.accuracy import DEFAULT_CALIPER
from core.metrology.gauge_check import CheckedLength, check_caliper
from core.metrology.readings import Quantity, Reading
from core.records.events import Event, GaugeChecked, Opened, ReadingAccepted
from core.records.instrument_book import (
    CheckHistory,
    RecordedCheck,
    checks_within,
    instruments_of,
    last_check_text,
    next_check_text,
    recorded_line,
)
from core.records.session import Session
from core.said import Part

MORNING = datetime(2026, 11, 20, 7, 30, tzinfo=UTC)


def _text(say: Callable[..., Part], *what: object) -> str:
    return str(say(*what))


def recorded(jaws_mm: float, *, days_ago: int = 0, readings: int = 4, sessions_ago: int = 0) -> RecordedCheck:
    """A check of closed jaws that all read the same."""
    found = check_caliper(DEFAULT_CALIPER, (CheckedLength(nominal_mm=0.0, readings_mm=(jaws_mm,) * readings),))
    check = GaugeChecked(
        instrument="caliper",
        quantity=Quantity.LENGTH,
        zero=found.zero.value,
        zero_sd=found.zero.u,
        reference="closed jaws",
        found=found.found.value,
        found_sd=found.found.u,
    )
    time_utc = MORNING - timedelta(days=days_ago)
    return RecordedCheck(check=check, time_utc=time_utc, session=f"s{days_ago}", sessions_ago=sessions_ago)


def history(now_mm: float, before_mm: float | None = None) -> CheckHistory:
    before = None if before_mm is None else recorded(before_mm, days_ago=2)
    return CheckHistory(instrument="caliper", last=recorded(now_mm, sessions_ago=3), before=before)


def test_the_last_check_is_told_with_date_zero_and_age() -> None:
    # Four readings of 0.01 mm weighted with 0 ± 0.01 mm by hand: u² = 1/(1/0.01² + 4/(0.02² + 0.01²/12)).
    weight = 4 / (0.02**2 + 0.01**2 / 12)
    zero, expanded = 0.01 * weight / (weight + 1e4), 1.96 / math.sqrt(weight + 1e4)
    text = _text(last_check_text, history(0.01))
    assert text == f"checked 2026-11-20, zero +{zero:.3f} ± {expanded:.3f} mm; 3 sessions ago"
    assert _text(last_check_text, CheckHistory(instrument="caliper")) == "no check on record"
    assert _text(last_check_text, CheckHistory(instrument="caliper", last=recorded(0.0))).endswith("; in this session")
    undated = replace(recorded(0.0, sessions_ago=1), time_utc=None)
    text = _text(last_check_text, CheckHistory(instrument="caliper", last=undated))
    assert text.startswith("checked (clock not set)")
    assert text.endswith("1 session ago")


def test_a_zero_that_moved_beyond_its_uncertainty_is_said() -> None:
    """Each mean of four has u = sqrt((0.02² + 0.01²/12) / 4), their difference sqrt(2) of it: U is 0.0283 mm."""
    expanded = 1.96 * math.sqrt(2 * (0.02**2 + 0.01**2 / 12) / 4)
    for moved_mm in (expanded - 0.001, -expanded + 0.001, 0.0):
        held = history(0.01 + moved_mm, 0.01)
        assert not held.drifted
        assert _text(next_check_text, held, MORNING) == "Check again at the start of the day, and after a fall."
    drifted = history(0.01 - expanded - 0.001, 0.01)
    assert drifted.drifted
    assert drifted.zero_moved is not None
    assert abs(drifted.zero_moved.U95 - expanded) < 1e-5
    said = _text(next_check_text, drifted, MORNING)
    assert f"moved by −{expanded + 0.001:.3f} ± {expanded:.3f} mm since the check before (2026-11-18)" in said
    assert "check again" in said
    assert "zero moved by −" in _text(recorded_line, drifted, MORNING)


def test_a_first_check_and_one_stored_by_earlier_software_say_nothing_of_drift() -> None:
    assert history(0.02).zero_moved is None
    old = history(0.06, 0.0)
    assert old.drifted
    assert old.before is not None
    before = replace(old.before, check=replace(old.before.check, found=None, found_sd=None))
    assert not replace(old, before=before).drifted


def test_a_check_holds_for_the_day() -> None:
    told = history(0.01, 0.01)
    assert not told.due(MORNING + timedelta(hours=11))
    assert told.due(MORNING + timedelta(hours=13))
    assert _text(next_check_text, told, MORNING + timedelta(days=1)).startswith("Check again now:")
    assert "due again when this was measured" in _text(recorded_line, told, MORNING + timedelta(days=1))
    assert "due" not in _text(recorded_line, told, MORNING)
    never = CheckHistory(instrument="caliper")
    assert never.due(None)
    assert _text(next_check_text, never, None) == "Check it before measuring."
    assert not told.due(None)


def test_a_sessions_instruments_are_those_that_gave_a_reading(opened: Opened) -> None:
    events = [Event(sequence=1, time_utc=MORNING, payload=opened)]
    assert instruments_of(Session.from_events(events)) == ("caliper", "angle gauge")
    typed = Reading(feature=Feature.NEAR, value=119.9)
    read = Reading(feature=Feature.FAR, value=119.9, instrument="long caliper")
    events.append(Event(sequence=2, time_utc=MORNING, payload=ReadingAccepted(reading=typed)))
    assert instruments_of(Session.from_events(events)) == ("caliper",)
    events.append(Event(sequence=3, time_utc=MORNING, payload=ReadingAccepted(reading=read)))
    assert instruments_of(Session.from_events(events)) == ("long caliper",)
    check = replace(recorded(0.01).check, instrument="")
    events += [Event(sequence=n, time_utc=MORNING, payload=replace(check, zero=n / 1000)) for n in (4, 5)]
    long, caliper = checks_within("s", Session.from_events(events))
    assert (long.instrument, long.last) == ("long caliper", None)
    assert caliper.last is not None
    assert caliper.before is not None
    assert (caliper.instrument, caliper.last.check.zero, caliper.before.check.zero) == ("caliper", 0.005, 0.004)
