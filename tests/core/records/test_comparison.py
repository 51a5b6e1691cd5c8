"""Which coupon is compared with which, by the order of sessions and the machine log."""

from __future__ import annotations

import pytest

from core.geometry.features import Feature
from core.machine.before_after import Outcome
from core.machine.machine_log import (
    CoarseReset,
    CorrectionApplied,
    LogPayload,
    MachineEvent,
    MachineEventKind,
)
from core.machine.profile import MachineProfile
from core.metrology.readings import Reading, Unit
from core.records.archive import Archive
from core.records.comparison import compared
from core.records.events import Closed, Opened, ReadingAccepted

MACHINE = "template router"


def measured(archive: Archive, opened: Opened, corner_deg: float) -> str:
    """A session with four corners read: NL and FR at 90 less, NR and FL at 90 plus."""
    session = archive.begin(opened)
    for name, sign in (("nl", -1.0), ("nr", 1.0), ("fr", -1.0), ("fl", 1.0)):
        reading = Reading(feature=Feature(name), value=90.0 + sign * corner_deg, unit=Unit.DEG)
        archive.append(session, ReadingAccepted(reading=reading))
    closed = Closed(verdict="no-go", size_verdict="undecided", skew_deg=0.0, skew_u95_deg=0.1, software="test")
    archive.append(session, closed)
    return session


@pytest.fixture
def shop(archive: Archive, opened: Opened) -> Archive:
    assert opened.machine == MACHINE
    archive.save_machine(MachineProfile(name=MACHINE, span_mm=640.0))
    return archive


def test_the_first_coupon_has_nothing_before_it(shop: Archive, opened: Opened) -> None:
    assert compared(shop, measured(shop, opened, 0.8)) is None


def test_without_a_correction_the_last_coupon_is_compared(shop: Archive, opened: Opened) -> None:
    measured(shop, opened, 1.5)
    measured(shop, opened, 0.8)
    comparison = compared(shop, measured(shop, opened, 0.8))
    assert comparison is not None
    assert comparison.outcome is Outcome.NO_CHANGE
    assert comparison.change_deg.value == pytest.approx(0.0, abs=1e-9)
    assert comparison.scatter_deg is None


def corrected(shop: Archive, session: str) -> None:
    shop.append_machine_event(MACHINE, CorrectionApplied(session=session, made_mm=8.9))


def test_all_coupons_since_the_correction_count(shop: Archive, opened: Opened) -> None:
    before = measured(shop, opened, 0.8)
    corrected(shop, before)
    measured(shop, opened, 0.1)
    comparison = compared(shop, measured(shop, opened, 0.1))
    assert comparison is not None
    assert comparison.skew_before_deg.value == pytest.approx(0.8, abs=0.02)
    assert comparison.scatter_deg == 0.0


@pytest.mark.parametrize(
    "upset",
    [
        MachineEvent(kind=MachineEventKind.CRASH),
        CorrectionApplied(session="", made_mm=None, coarse=CoarseReset.END_STOP),
    ],
)
def test_after_an_upset_the_correction_explains_nothing(shop: Archive, opened: Opened, upset: LogPayload) -> None:
    before = measured(shop, opened, 0.8)
    corrected(shop, before)
    shop.append_machine_event(MACHINE, upset)
    measured(shop, opened, 0.5)
    comparison = compared(shop, measured(shop, opened, 0.1))
    assert comparison is not None
    assert comparison.skew_before_deg.value == pytest.approx(0.5, abs=0.02)
    assert comparison.scatter_deg is None
