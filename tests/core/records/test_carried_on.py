"""What one coupon hands on to the next: the hand, and today's zero.

Source of the pooled variance: the sum of squares over the sum of degrees of freedom (JCGM 100:2008, H.5 and 4.2.4);
that a gauge is checked at the start of a working day, and after a fall, is common practice.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.features import Feature
from core.metrology.accuracy import MOST_EARLIER_NU
from core.metrology.readings import Quantity, Reading
from core.records.archive import Archive
from core.records.carried_on import MOST_SESSIONS, Carried
from core.records.events import Closed, GaugeChecked, Opened, Payload, QuestionAnswered, ReadingAccepted
from core.records.session import QUESTION_CHANGED, InstrumentChange, Session

MONDAY = datetime(2026, 11, 23, 7, 30, tzinfo=UTC)
DONE = Closed(verdict="go", size_verdict="go", skew_deg=0.0, skew_u95_deg=0.1, software="0.1.0")
ROUGH = (144.20, 144.28, 144.22)
ZERO = GaugeChecked(
    instrument="caliper",
    quantity=Quantity.LENGTH,
    zero=0.02,
    zero_sd=0.004,
    reference="closed jaws",
    found=0.021,
    found_sd=0.004,
)


class Wall:
    """A clock on the wall that the test sets; None: not set."""

    def __init__(self) -> None:
        self.time: datetime | None = MONDAY

    def __call__(self) -> datetime | None:
        return self.time

    def after(self, **passed: float) -> None:
        assert self.time is not None
        self.time += timedelta(**passed)


@pytest.fixture
def wall() -> Wall:
    return Wall()


@pytest.fixture
def bench(tmp_path: Path, wall: Wall) -> Archive:
    return Archive.open(tmp_path / "archive.sqlite", wall)


@pytest.fixture
def measure(bench: Archive, opened: Opened) -> Callable[..., str]:
    """A whole coupon, its diagonal read as told and whatever else happened to it."""

    def measured(*payloads: Payload, values: tuple[float, ...] = (), operator: str = "", to: Archive = bench) -> str:
        session = to.begin(replace(opened, operator=operator))
        for payload in payloads:
            to.append(session, payload)
        for value in values:
            reading = Reading(feature=Feature.NL_FR, value=value, instrument="caliper")
            to.append(session, ReadingAccepted(reading=reading))
        to.append(session, DONE)
        return session

    return measured


def carried(bench: Archive, operator: str = "") -> Carried:
    return bench.carried_on(operator=operator, simulated=True)


def changed(change: InstrumentChange, quantity: Quantity = Quantity.LENGTH) -> QuestionAnswered:
    return QuestionAnswered(question=QUESTION_CHANGED[quantity], answer=change)


def test_repeats_of_earlier_coupons_are_pooled(bench: Archive, measure: Callable[..., str]) -> None:
    assert carried(bench) == Carried()
    measure(values=ROUGH)
    measure(values=(143.91, 143.95))
    (hand,) = carried(bench).hands
    by_hand = (2 * statistics.variance(ROUGH) + statistics.variance((143.91, 143.95))) / 3
    assert (hand.instrument, hand.nu) == ("caliper", 3)
    assert hand.variance == pytest.approx(by_hand)


def test_its_memory_is_bounded(bench: Archive, measure: Callable[..., str]) -> None:
    for _ in range(MOST_SESSIONS + 2):
        measure(values=ROUGH)
    (hand,) = carried(bench).hands
    assert hand.nu == MOST_EARLIER_NU == 30
    for _ in range(MOST_SESSIONS):
        measure()
    assert not carried(bench).hands, "of coupons so far back nothing is left"


def test_a_slip_among_the_repeats_is_not_the_hands(bench: Archive, measure: Callable[..., str]) -> None:
    measure(values=(144.20, 145.20))
    assert not carried(bench).hands


def test_one_persons_hand_is_not_anothers(bench: Archive, measure: Callable[..., str]) -> None:
    measure(values=ROUGH, operator="Ana")
    assert carried(bench, "Ana").hands
    assert not carried(bench, "Ben").hands
    assert not carried(bench).hands, "where no operator is named it is one person, and not Ana"


def test_it_is_forgotten_after_ninety_days(bench: Archive, measure: Callable[..., str], wall: Wall) -> None:
    measure(values=ROUGH)
    wall.after(days=90)
    assert carried(bench).hands
    wall.after(days=1)
    assert not carried(bench).hands


@pytest.mark.parametrize("unset", ["when measured", "now"])
def test_without_a_clock_ninety_days_never_count(
    bench: Archive, measure: Callable[..., str], wall: Wall, unset: str
) -> None:
    if unset == "when measured":
        wall.time = None
    measure(values=ROUGH)
    wall.time = None if unset == "now" else MONDAY + timedelta(days=400)
    assert carried(bench).hands


def test_a_check_that_finds_another_zero_forgets_the_hand(bench: Archive, measure: Callable[..., str]) -> None:
    measure(ZERO, values=ROUGH)
    measure(replace(ZERO, found=0.026))
    assert carried(bench).hands, "the same zero within its U"
    measure(replace(ZERO, found=0.06))
    assert not carried(bench).hands
    measure(values=ROUGH)
    assert carried(bench).hands, "what was learned since counts"


def test_a_zero_holds_for_the_day_and_every_coupon_of_it(
    bench: Archive, measure: Callable[..., str], wall: Wall
) -> None:
    measure(ZERO)
    measure()
    wall.after(hours=11)
    assert carried(bench).checks == (ZERO,)
    wall.after(hours=2)
    assert not carried(bench).checks


def test_the_newest_zero_holds(bench: Archive, measure: Callable[..., str]) -> None:
    newer = replace(ZERO, zero=0.022)
    measure(ZERO)
    measure(newer)
    assert carried(bench).checks == (newer,)


@pytest.mark.parametrize("change", InstrumentChange)
def test_it_ends_with_what_happened_to_the_instrument(
    bench: Archive, measure: Callable[..., str], change: InstrumentChange
) -> None:
    measure(ZERO, values=ROUGH)
    measure(changed(change, Quantity.ANGLE))
    assert carried(bench).checks, "the other instrument"
    measure(changed(change))
    assert not carried(bench).checks
    assert bool(carried(bench).hands) == (change is not InstrumentChange.ANOTHER), "a fall does not change the hand"


def test_another_instrument_on_the_bench_has_another_zero(bench: Archive, measure: Callable[..., str]) -> None:
    measure(replace(ZERO, instrument="long caliper"))
    assert not carried(bench).for_bench(("caliper",), {}).checks
    assert carried(bench).for_bench(("long caliper", "angle gauge"), {}).checks


@pytest.mark.parametrize(
    ("checked", "there", "holds"), [("A1", "A1", True), ("A1", "B2", False), ("", "B2", True), ("A1", "", True)]
)
def test_another_identity_on_the_line_ends_a_zero(
    bench: Archive, measure: Callable[..., str], checked: str, there: str, holds: bool
) -> None:
    measure(replace(ZERO, instrument="caliper", identity=checked))
    assert bool(carried(bench).for_bench(("caliper",), {"caliper": there}).checks) is holds


def test_without_a_clock_a_day_ends_at_power_off(
    bench: Archive, measure: Callable[..., str], wall: Wall, tmp_path: Path
) -> None:
    wall.time = None
    measure(ZERO, values=ROUGH)
    assert carried(bench).checks
    bench.close()
    again = Archive.open(tmp_path / "archive.sqlite", wall)
    assert not carried(again).checks
    assert carried(again).hands
    again.close()


def test_a_coupon_opened_with_a_zero_is_judged_with_it(bench: Archive, opened: Opened) -> None:
    session = bench.begin(replace(opened, checks=(ZERO,)))
    assert Session.from_events(bench.events(session)).setup.caliper.zero == 0.02
    bench.append(session, changed(InstrumentChange.DROPPED))
    dropped = Session.from_events(bench.events(session))
    assert dropped.setup.caliper == opened.setup.caliper
    bench.append(session, replace(ZERO, zero=0.03))
    assert Session.from_events(bench.events(session)).setup.caliper.zero == 0.03
