"""With or without seats? A first diagonal that fits the other kind is asked about before it is accepted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, Feature
from core.geometry.seats import Seats, equal_seats, keyed_seats
from core.metrology.evaluation import evaluate
from core.metrology.live import square_value
from core.metrology.readings import Unit
from core.metrology.tolerances import limits_for_class
from core.records.session import QUESTION_SEATS
from tests.core.metrology.known_coupons import SETUP, exact_readings, shape
from tests.ui.bench_bits import COUPON, BenchUnderTest, running_bench
from ui.bench.capture import DROP, TAKE_HERE
from ui.bench.desks.measuring import AnswerQuestion, TypeReading
from ui.state.snapshot import Snapshot

KEYED = replace(COUPON, seats=keyed_seats(120.0, 80.0))
EQUAL = replace(COUPON, seats=equal_seats(120.0, 80.0))
# From corner to corner, and from seat to seat of both widths: plane trigonometry, rounded.
SHARP_MM, WIDE_MM, NARROW_MM = 144.22, 136.95, 139.65


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[BenchUnderTest]:
    with running_bench(tmp_path) as running:
        yield running


def typed(bench: BenchUnderTest, value_mm: float, feature: Feature = Feature.NL_FR) -> Snapshot:
    bench.bench.send(TypeReading(feature=feature, shown=value_mm, unit=Unit.MM))
    return bench.settled()


def answered(bench: BenchUnderTest, answer: str) -> Snapshot:
    bench.bench.send(AnswerQuestion(question=QUESTION_SEATS, answer=answer))
    return bench.settled()


@pytest.mark.parametrize(
    ("chosen", "value_mm", "answer", "seats"),
    [
        (KEYED, SHARP_MM + 0.6, "none", None),
        (EQUAL, SHARP_MM, "none", None),
        (COUPON, WIDE_MM - 0.5, "keyed", Seats(nl_fr_mm=8.0, nr_fl_mm=5.0)),
        (COUPON, NARROW_MM, "equal", Seats(nl_fr_mm=5.0, nr_fl_mm=5.0)),
    ],
)
def test_the_answer_changes_the_coupon_and_the_reading_counts(
    bench: BenchUnderTest, chosen: Coupon, value_mm: float, answer: str, seats: Seats | None
) -> None:
    bench.open(chosen)
    question = typed(bench, value_mm).question
    assert question is not None
    assert question.name == QUESTION_SEATS
    after = answered(bench, answer)
    assert after.coupon is not None
    assert after.coupon.seats == seats
    assert [item.reading.value for item in after.readings] == [pytest.approx(value_mm)]
    with closing(bench.open_archive()) as archive:
        assert archive.sessions()[0].coupon.seats == seats, "the list of coupons says it too"


@pytest.mark.parametrize("answer", [TAKE_HERE, DROP])
def test_the_coupon_may_be_as_it_was_chosen(bench: BenchUnderTest, answer: str) -> None:
    bench.open(EQUAL)
    typed(bench, WIDE_MM)
    after = answered(bench, answer)
    assert after.coupon == EQUAL
    assert len(after.readings) == (answer == TAKE_HERE)


def test_what_cannot_be_of_the_coupon_chosen_is_not_offered_as_such(bench: BenchUnderTest) -> None:
    bench.open(KEYED)
    question = typed(bench, SHARP_MM).question
    assert question is not None
    assert [name for name, _ in question.choices] == ["equal", "none", DROP]


@pytest.mark.parametrize(("chosen", "value_mm"), [(KEYED, WIDE_MM + 1.4), (COUPON, SHARP_MM - 1.4), (COUPON, 141.9)])
def test_what_fits_or_fits_none_is_not_asked_about(bench: BenchUnderTest, chosen: Coupon, value_mm: float) -> None:
    bench.open(chosen)
    assert typed(bench, value_mm).question is None


def test_only_the_first_diagonal_is_asked_about(bench: BenchUnderTest) -> None:
    bench.open(COUPON)
    typed(bench, SHARP_MM)
    assert typed(bench, NARROW_MM, Feature.NR_FL).question is None


@pytest.mark.parametrize("coupon", [COUPON, EQUAL, KEYED], ids=["corners", "seats", "keyed"])
def test_a_square_coupon_of_known_size_reads_as_a_square_one_does(coupon: Coupon) -> None:
    """With its edges read the live comparison went from corner to corner: 7 mm beside the seats."""
    readings = exact_readings(shape(scale_x=-0.001, scale_y=-0.002), EDGES * 3, coupon)
    fit = evaluate(coupon, readings, limits_for_class(coupon, "mK"), SETUP).adjustment
    exact = {r.feature: r.value for r in exact_readings(shape(scale_x=-0.001, scale_y=-0.002), DIAGONALS, coupon)}
    for diagonal in DIAGONALS:
        assert square_value(coupon, diagonal, fit) == pytest.approx(exact[diagonal], abs=0.02)
