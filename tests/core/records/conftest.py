"""A session of the house scenario: a 120 x 80 mm coupon of 6 mm plywood from a template router."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Method, Quantity, Reading, Unit
from core.metrology.tolerances import Limits
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.events import (
    Closed,
    GaugeChecked,
    MarkConfirmed,
    Note,
    Opened,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
)
from core.records.session_record import SessionRecord


@pytest.fixture
def opened() -> Opened:
    return Opened(
        coupon=Coupon(width_mm=120.0, height_mm=80.0),
        limits=Limits(
            source="ISO 2768-mK", width_edge_mm=0.3, height_edge_mm=0.3, perpendicularity_mm=0.4, diagonal_mm=0.5
        ),
        setup=MeasuringSetup(),
        machine="template router",
        instruments=("caliper", "angle gauge"),
        operator="Ana",
        span_mm=640.0,
        software="0.1.0",
        simulated=True,
    )


@pytest.fixture
def payloads() -> tuple[Payload, ...]:
    """What follows `opened`: one of every kind, reading 3 voided, the session closed."""
    readings = [
        Reading(feature=Feature.NL_FR, value=144.61, instrument="caliper"),
        Reading(feature=Feature.NR_FL, value=143.85, instrument="caliper"),
        Reading(feature=Feature.NEAR, value=119.93, unit=Unit.INCH, method=Method.TYPED),
        Reading(feature=Feature.RIGHT, value=79.94, instrument="caliper"),
        Reading(feature=Feature.FAR, value=119.95, instrument="caliper"),
        Reading(feature=Feature.LEFT, value=79.92, instrument="caliper"),
        Reading(feature=Feature.NL, value=89.6, unit=Unit.DEG, instrument="angle gauge"),
        Reading(feature=Feature.NR, value=90.5, unit=Unit.DEG, instrument="angle gauge"),
    ]
    return (
        ReadingAccepted(reading=Reading(feature=Feature.NL_FR, value=146.61, instrument="caliper")),
        ReadingVoided(number=2, reason="digit misread"),
        GaugeChecked(instrument="caliper", quantity=Quantity.LENGTH, zero=0.02, zero_sd=0.004, reference="blocks"),
        MarkConfirmed(),
        *(ReadingAccepted(reading=reading) for reading in readings),
        QuestionAnswered(question="front", answer="operator side", feature=Feature.NEAR),
        Note(text="6 mm birch ply, “sheet” 3 – near the clamp"),
        Closed(verdict="no-go", size_verdict="go", skew_deg=0.4567, skew_u95_deg=0.081, software="0.1.0"),
    )


@pytest.fixture
def clock() -> Callable[[], datetime]:
    """A clock that goes on by 2.5 s whenever it is looked at."""

    def ticks() -> Iterator[datetime]:
        time = datetime(2026, 3, 1, 14, 5, 9, 250_000, tzinfo=UTC)
        while True:
            yield time
            time += timedelta(seconds=2.5)

    times = ticks()
    return lambda: next(times)


@pytest.fixture
def archive(tmp_path: Path, clock: Callable[[], datetime]) -> Iterator[Archive]:
    archive = Archive.open(tmp_path / "bench" / "archive.sqlite", clock)
    yield archive
    archive.close()


@pytest.fixture
def recorded(archive: Archive, opened: Opened, payloads: tuple[Payload, ...]) -> str:
    """The id of a whole session in the archive."""
    session_id = archive.begin(opened)
    for payload in payloads:
        archive.append(session_id, payload)
    return session_id


@pytest.fixture
def record(archive: Archive, recorded: str) -> SessionRecord:
    """What a download of the recorded session is made of."""
    return archived_record(archive, recorded)
