"""A coupon opened again: the word that was stored stands beside today's, with the version that said each."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core import SOFTWARE
from core.records.events import Closed, Event
from tests.ui.scenes import SCENES
from ui.pages.numbers import numbers_page
from ui.pages.verdict import said_then, verdict_page
from ui.state.snapshot import Snapshot


def finished(verdict: str, software: str) -> Snapshot:
    closed = Closed(verdict=verdict, size_verdict="go", skew_deg=0.5, skew_u95_deg=0.05, software=software)
    log = (Event(sequence=9, time_utc=None, payload=closed),)
    return replace(SCENES["no-go"](), closed=True, log=log)


def test_another_word_of_an_older_version_stands_beside_todays() -> None:
    old = finished("go", "cornerwise 0.0.9")
    assert "When it was finished: GO, by cornerwise 0.0.9." in str(said_then(old))
    assert f"By today's rules: NO-GO, by {SOFTWARE}." in str(said_then(old))
    assert str(numbers_page(old).sentences[0]) == str(said_then(old))
    assert "when finished: GO" in str(verdict_page(old).caption)


def test_a_word_that_was_not_settled_is_not_told_as_if_it_had_been() -> None:
    closed = Closed(
        verdict="no-go", size_verdict="go", skew_deg=0.5, skew_u95_deg=0.05, software=SOFTWARE, settled=False
    )
    old = replace(SCENES["no-go"](), closed=True, log=(Event(sequence=9, time_utc=None, payload=closed),))
    assert f"When it was finished: NO-GO, not settled, by {SOFTWARE}." in str(said_then(old))
    kept = replace(closed, settled=True)
    assert not said_then(replace(old, log=(Event(sequence=9, time_utc=None, payload=kept),)))


def test_the_same_word_by_another_version_is_said_among_the_numbers_alone() -> None:
    old = finished("no-go", "cornerwise 0.0.9")
    assert "NO-GO, by cornerwise 0.0.9" in str(numbers_page(old).sentences[0])
    assert "when finished" not in str(verdict_page(old).caption)


@pytest.mark.parametrize("snapshot", [finished("no-go", SOFTWARE), SCENES["no-go"](), finished("splendid", "0.0")])
def test_nothing_where_there_is_nothing_to_tell(snapshot: Snapshot) -> None:
    assert not said_then(snapshot)
    assert "When it was finished" not in str(numbers_page(snapshot).sentences[0])
