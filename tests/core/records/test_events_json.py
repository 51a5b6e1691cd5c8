from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import get_args

import pytest
from hypothesis import given, strategies as st

from core.errors import BadInputError
from core.geometry.features import Feature
from core.metrology.readings import Method, Reading, Unit
from core.records import events_json
from core.records.events import Event, Opened, Payload, ReadingAccepted, Unrecognised
from core.records.payload_kinds import EncodedPayload


def test_every_kind_has_a_stored_form() -> None:
    assert {*events_json._KINDS._kinds.values(), Unrecognised} == set(get_args(Payload))


def test_every_kind_comes_back_equal(opened: Opened, payloads: tuple[Payload, ...]) -> None:
    for payload in (opened, *payloads):
        assert events_json.decode(events_json.encode(payload)) == payload


@given(value=st.floats(allow_nan=False, allow_infinity=False), typed=st.booleans())
def test_a_value_comes_back_to_the_last_bit(value: float, typed: bool) -> None:
    method = Method.TYPED if typed else Method.CABLE
    payload = ReadingAccepted(reading=Reading(feature=Feature.NEAR, value=value, unit=Unit.MM, method=method))
    assert events_json.decode(events_json.encode(payload)) == payload


def test_an_unknown_kind_or_version_survives_to_the_letter() -> None:
    for kind, version in (("vacuum-read", 1), ("note", 7)):
        text = '{"text":"x",  "later":[1.50]}'
        payload = events_json.decode(EncodedPayload(kind=kind, version=version, text=text))
        assert payload == Unrecognised(kind=kind, version=version, text=text)
        assert events_json.encode(payload) == EncodedPayload(kind=kind, version=version, text=text)


def test_a_field_added_later_does_not_stop_an_older_reader() -> None:
    encoded = EncodedPayload(kind="reading-voided", version=1, text='{"number":3,"reason":"burr","witness":"B"}')
    assert events_json.encode(events_json.decode(encoded)).kind == "reading-voided"


@pytest.mark.parametrize(
    ("kind", "text", "named"),
    [
        ("note", "{", "not JSON"),
        ("note", '{"text":5}', "Note.text"),
        ("note", "{}", "text"),
        ("reading-voided", '{"number":"3","reason":"x"}', "ReadingVoided.number"),
        ("reading-accepted", '{"reading":{"feature":"top","value":1}}', "near, right"),
        ("reading-accepted", '{"reading":{"feature":"nl","value":90.0}}', "does not fit"),
        ("mark-confirmed", "[]", "MarkConfirmed"),
    ],
)
def test_a_payload_that_does_not_fit_is_named(kind: str, text: str, named: str) -> None:
    with pytest.raises(BadInputError, match=named):
        events_json.decode(EncodedPayload(kind=kind, version=1, text=text))


def test_an_event_comes_back_through_json_text(payloads: tuple[Payload, ...]) -> None:
    for time in (None, datetime(2026, 3, 1, 14, 5, 9, 250_000, tzinfo=UTC)):
        event = Event(sequence=4, time_utc=time, payload=payloads[0])
        assert events_json.event_from_json(json.loads(json.dumps(events_json.event_to_json(event)))) == event


def test_an_entry_that_is_no_event_is_refused() -> None:
    for entry in (None, [], {}, {"sequence": "1"}, {"sequence": 1, "time_utc": "noon", "kind": "note", "version": 1}):
        with pytest.raises(BadInputError):
            events_json.event_from_json(entry)
