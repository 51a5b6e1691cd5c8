from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.accuracy import DEFAULT_GAUGE, MeasuringSetup
from core.metrology.characteristics import Scope
from core.metrology.expansion import expansion_difference
from core.metrology.readings import Reading
from core.metrology.tolerances import Limits
from core.records.events import Closed, Event, Note, Opened, Payload, ReadingAccepted, ReadingVoided, Unrecognised
from core.records.session import Session


def log(*payloads: Payload) -> list[Event]:
    now = datetime(2026, 3, 1, tzinfo=UTC)
    return [Event(sequence=place, time_utc=now, payload=payload) for place, payload in enumerate(payloads, start=1)]


def test_a_session_is_what_its_events_amount_to(opened: Opened, payloads: tuple[Payload, ...]) -> None:
    session = Session.from_events(log(opened, *payloads))
    assert session.opened == opened
    assert session.mark_confirmed
    assert [item.number for item in session.readings] == [2, 6, 7, 8, 9, 10, 11, 12, 13]
    assert session.readings[0].voided == "digit misread"
    assert len(session.active) == 8
    assert session.active[0].value == 144.61
    assert session.setup.caliper.zero == 0.02
    assert session.setup.caliper.zero_sd == 0.004
    assert session.setup.gauge == DEFAULT_GAUGE
    assert session.answers[0].answer == "operator side"
    assert session.notes == ("6 mm birch ply, “sheet” 3 – near the clamp",)
    assert session.closed is not None
    assert session.closed.verdict == "no-go"


def test_a_reading_voided_twice_keeps_its_first_reason(opened: Opened) -> None:
    reading = ReadingAccepted(reading=Reading(feature=Feature.NEAR, value=120.0))
    session = Session.from_events(
        log(opened, reading, ReadingVoided(number=2, reason="burr"), ReadingVoided(number=2, reason="again"))
    )
    assert session.readings[0].voided == "burr"


def test_what_cannot_follow_is_refused(opened: Opened) -> None:
    closed = Closed(verdict="go", size_verdict="go", skew_deg=None, skew_u95_deg=None, software="0.1.0")
    reading = ReadingAccepted(reading=Reading(feature=Feature.NEAR, value=120.0))
    for payloads in (
        (),
        (reading,),
        (opened, opened),
        (opened, ReadingVoided(number=7, reason="no such reading")),
        (opened, closed, reading),
    ):
        with pytest.raises(BadInputError):
            Session.from_events(log(*payloads))
    with pytest.raises(BadInputError):
        Session.from_events(log(opened, reading)[::-1])


def test_notes_and_later_software_may_follow_the_close(opened: Opened) -> None:
    closed = Closed(verdict="go", size_verdict="go", skew_deg=None, skew_u95_deg=None, software="0.1.0")
    session = Session.from_events(
        log(opened, closed, Note(text="sheet 4 next"), Unrecognised(kind="seen", version=1, text="{}"))
    )
    assert session.closed == closed
    assert len(session.log) == 4


@given(steps=st.lists(st.tuples(st.booleans(), st.integers(0, 30)), max_size=30))
def test_nothing_accepted_ever_disappears(steps: list[tuple[bool, int]]) -> None:
    """Whatever is accepted and voided in any order, every reading stays, and counts exactly when it was not voided."""
    opened = Opened(
        coupon=Coupon(width_mm=120.0, height_mm=80.0), limits=Limits(source="own limits"), setup=MeasuringSetup()
    )
    payloads: list[Payload] = [opened]
    accepted: list[int] = []
    voided: set[int] = set()
    for accept, choice in steps:
        if accept or not accepted:
            payloads.append(ReadingAccepted(reading=Reading(feature=Feature.FAR, value=120.0 + choice / 100)))
            accepted.append(len(payloads))
        else:
            number = accepted[choice % len(accepted)]
            payloads.append(ReadingVoided(number=number, reason="tried"))
            voided.add(number)
    session = Session.from_events(log(*payloads))
    assert [item.number for item in session.readings] == accepted
    assert {item.number for item in session.readings if item.voided} == voided
    assert len(session.active) == len(accepted) - len(voided)


def test_the_judgement_follows_what_the_session_was_opened_with(opened: Opened) -> None:
    readings = [
        ReadingAccepted(reading=Reading(feature=feature, value=value))
        for feature, value in ((Feature.NL_FR, 144.2), (Feature.NR_FL, 144.25), (Feature.NEAR, 120.0))
    ]
    warm = expansion_difference("acrylic", 30.0)
    quick = Session.from_events(log(replace(opened, scope=Scope.SQUARENESS, expansion=warm), *readings))
    evaluation = quick.evaluation()
    assert evaluation is not None
    assert {item.name for item in evaluation.characteristics} >= {"squareness"}
    whole = Session.from_events(log(replace(opened, expansion=warm), *readings)).evaluation()
    cold = Session.from_events(log(opened, *readings)).evaluation()
    assert whole is not None
    assert cold is not None
    assert whole.characteristics[-1].value < cold.characteristics[-1].value
    assert Session.from_events(log(opened)).evaluation() is None


def test_the_same_readings_are_judged_once(opened: Opened) -> None:
    """A contradiction's explanations take a hundred times as long as a word: a note must not ask for them again."""
    one, other = (ReadingAccepted(reading=Reading(feature=Feature.NL_FR, value=value)) for value in (144.2, 144.3))
    session = Session.from_events(log(opened, one))
    before = session.evaluation()
    assert before is not None
    assert Session.from_events(log(opened, one, Note(text="scratched"))).evaluation() is before
    assert Session.from_events(log(opened, one, other)).evaluation() is not before
    assert session.evaluation(among=[Feature.NEAR]) is not before
