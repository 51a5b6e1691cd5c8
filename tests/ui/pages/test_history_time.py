"""History tells the time of the wall: files keep UTC, people read their own clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from msgspec.structs import replace

from core.said import Name, said_counted
from tests.ui.scenes import SCENES
from ui.pages.history import history_text, session_rows
from ui.speech.language import Language
from ui.speech.speech import Speech
from ui.terminal.records import history_lines

SUMMER = Speech(zone=timezone(timedelta(hours=2), "CEST"))
NOON = datetime(2026, 7, 1, 12, 5, tzinfo=UTC)


@pytest.fixture
def one_at_noon():
    snapshot = SCENES["history"]()
    history = snapshot.records.history
    sessions = (replace(history.sessions[0], opened_utc=NOON),)
    history = replace(history, machine="Left", sessions=sessions)
    return replace(snapshot, records=replace(snapshot.records, history=history))


def test_a_coupon_begun_at_noon_utc_is_listed_at_two(one_at_noon) -> None:
    (row,) = session_rows(one_at_noon)
    assert SUMMER.say(row.title) == "2026-07-01 14:05"
    listed = history_lines(one_at_noon.records.history).items
    assert "2026-07-01 14:05" in SUMMER.say(listed[1])


def test_one_coupon_is_one_and_the_machine_keeps_its_name(one_at_noon) -> None:
    german = Speech(language=Language.GERMAN, zone=UTC)
    heading = history_lines(one_at_noon.records.history).items[0]
    assert Speech().say(heading) == "== Left: 1 coupon, newest first"
    assert german.say(heading) == "== Left: 1 Probestück, neuestes zuerst"
    two = said_counted(
        "== {machine}: {count} coupon, newest first",
        "== {machine}: {count} coupons, newest first",
        count=2,
        machine=Name("Left"),
    )
    assert german.say(two) == "== Left: 2 Probestücke, neueste zuerst"


def test_what_is_said_of_drift_is_said_once() -> None:
    """Too few coupons since the machine was set: when to check next is the same sentence."""
    told = str(history_text(SCENES["history"]()))
    assert told.count("coupons needed before drift can be told") == 1
