"""Which sessions a list shows, and what it knows of their sizes."""

from __future__ import annotations

from datetime import timedelta

from msgspec.structs import replace

from core.machine.machine_log import CorrectionApplied
from core.records.archive import Archive
from core.records.events import Closed, Opened
from core.records.session_tables import SessionFilter


def cut(archive: Archive, opened: Opened, verdict: str) -> str:
    session = archive.begin(opened)
    closed = Closed(
        verdict=verdict,
        size_verdict="go",
        skew_deg=0.1,
        skew_u95_deg=0.06,
        software="test",
        scale_x=-0.0004,
        scale_x_u95=0.0003,
        scale_y=0.0006,
        scale_y_u95=0.0005,
    )
    archive.append(session, closed)
    return session


def test_sessions_are_listed_by_verdict_by_correction_and_by_time(archive: Archive, opened: Opened) -> None:
    first, second, third = (cut(archive, opened, verdict) for verdict in ("no-go", "go", "no-go"))
    other = cut(archive, replace(opened, machine="knife"), "no-go")
    archive.append_machine_event(opened.machine, CorrectionApplied(session=first, made_mm=2.0))
    archive.append_machine_event("knife", CorrectionApplied(session=third, made_mm=2.0))

    def listed(only: SessionFilter, machine: str | None = opened.machine) -> list[str]:
        return [one.id for one in archive.sessions(machine=machine, only=only)]

    assert listed(SessionFilter()) == [third, second, first]
    assert listed(SessionFilter(verdict="no-go")) == [third, first]
    assert listed(SessionFilter(verdict="no-go"), machine=None) == [other, third, first]
    # The knife's correction names a session of another machine: it is none of the knife's.
    assert listed(SessionFilter(corrected=True)) == [first]
    assert listed(SessionFilter(corrected=True), machine="knife") == []
    begun = archive.sessions()[1].opened_utc
    assert begun is not None
    assert listed(SessionFilter(since_utc=begun)) == [third]
    assert listed(SessionFilter(since_utc=begun + timedelta(days=1), verdict="go")) == []


def test_the_list_knows_the_sizes_of_a_closed_coupon(archive: Archive, opened: Opened) -> None:
    cut(archive, opened, "go")
    archive.begin(opened)
    still_open, closed = archive.sessions()
    assert (still_open.scale_x, still_open.scale_y_u95) == (None, None)
    assert (closed.scale_x, closed.scale_x_u95, closed.scale_y, closed.scale_y_u95) == (
        -0.0004,
        0.0003,
        0.0006,
        0.0005,
    )
