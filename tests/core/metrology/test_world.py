"""The small seeded version of the world that shares no formula with core; its tables stand in tests/endurance/world."""

from __future__ import annotations

import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.geometry.features import TEN_FEATURES
from core.metrology.accuracy import CouponForm, InstrumentAccuracy, MeasuringSetup
from core.metrology.measuring_model import predicted_readings
from tests.endurance.world import slips
from tests.endurance.world.__main__ import joined, results_of
from tests.endurance.world.cutting import Machine, cut
from tests.endurance.world.hands import Hand, Instrument
from tests.endurance.world.jaws import flawless_readings
from tests.endurance.world.judging import ALL_GROUPS, ALL_TWICE, QUICK, Question, as_the_bench_asks, fixed
from tests.endurance.world.rows import (
    Row,
    beyond,
    coverage_of,
    inconsistent,
    largest_skew_error,
    moves_given,
    wrong_way,
    wrong_way_of_moves,
    wrong_word,
)
from tests.endurance.world.witnesses import by_light, by_reversal
from tests.endurance.world.worlds import BARE, EQUAL, KEYED, World, drawn

PERFECT = Hand(
    caliper=Instrument(scatter=0.0, linearity=0.0, zero=0.0, resolution=1e-6),
    gauge=Instrument(scatter=0.0, linearity=0.0, zero=0.0, resolution=1e-6),
)


@pytest.mark.parametrize("coupon", [KEYED, BARE])
@pytest.mark.parametrize("quarter_turns", range(4))
def test_a_machine_that_is_square_cuts_what_the_file_says(coupon: object, quarter_turns: int) -> None:
    rng, none = np.random.default_rng(1), np.zeros(1)
    square = Machine(skew=none, yaw_change=none, scale=np.ones((1, 2)), kerf=none, kerf_growth=none)
    pieces = cut(rng, coupon, square, edge_form=0.0, seat_form=0.0, burnt=np.zeros((1, 4)), quarter_turns=quarter_turns)
    read = flawless_readings(rng, pieces, 8.0, 0.0)[0]
    assert read == pytest.approx([coupon.nominal(feature) for feature in TEN_FEATURES], abs=0.004)
    assert math.degrees(pieces.true_skew[0]) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("coupon", [KEYED, BARE])
def test_the_model_predicts_what_jaws_and_blades_find_on_the_cut_polygon(coupon: object) -> None:
    """Skew and taper up to a degree and a tenth: the two know nothing of one another's formulas."""
    rng, m = np.random.default_rng(2), 20
    skew, taper = np.radians(rng.uniform(-1.0, 1.0, m)), np.radians(rng.uniform(-0.1, 0.1, m))
    none = np.zeros(m)
    machine = Machine(skew=skew, yaw_change=taper, scale=np.ones((m, 2)), kerf=none, kerf_growth=none)
    pieces = cut(rng, coupon, machine, edge_form=0.0, seat_form=0.0, burnt=np.zeros((m, 4)))
    found = flawless_readings(rng, pieces, 8.0, 0.0)
    for row in range(m):
        shape = shape_of(pieces.corners[row])
        predicted, _ = predicted_readings(coupon, np.array([*shape, 0.0, 0.0, 0.0]), MeasuringSetup())
        assert found[row, 4:6] == pytest.approx(predicted[4:6], abs=0.006)
        assert found[row, 6:] == pytest.approx(predicted[6:], abs=1e-4)
        # Rigid jaws touch the wider end, the model is taken half-way: up to 0.03 mm at such tapers.
        assert found[row, :4] == pytest.approx(predicted[:4], abs=0.03)


def shape_of(corners: np.ndarray) -> list[float]:
    """The five numbers of a quadrilateral's shape, straight from the definition of the corners' places."""
    width, height = KEYED.width_mm, KEYED.height_mm
    nl, nr, fr, fl = corners
    across = (nr - nl) + (fr - fl)
    turn = np.array([[across[0], across[1]], [-across[1], across[0]]]) / math.hypot(*across)
    nl, nr, fr, fl = (turn @ corner for corner in (nl, nr, fr, fl))
    a = ((nr - nl) + (fr - fl))[0] / (2 * width) - 1.0
    g, b = ((fl - nl) + (fr - nr)) / (2 * height)
    tx, ty = ((fr - fl) - (nr - nl))[0] / (2 * width), ((fr - nr) - (fl - nl))[1] / (2 * height)
    return [a, b - 1.0, g, tx, ty]


def test_most_intervals_hold_the_truth_and_words_are_right() -> None:
    row = Row("", World(), (), fixed(ALL_TWICE), Question(groups=ALL_GROUPS))
    results = results_of(row, 60, 3)
    assert len(results.covered) > 8
    for name, inside in results.covered.items():
        assert np.nanmean(inside) > 0.85, name
    assert wrong_word(results, settled=True) == 0.0


def test_the_world_can_tell_a_judgement_that_is_too_sure_of_itself() -> None:
    sure = InstrumentAccuracy(resolution=0.001, repeatability=0.003, linearity=0.003, zero_sd=0.001)
    setup = MeasuringSetup(caliper=sure, form=CouponForm(edge_mm=0.002, seat_mm=0.002))
    row = Row("", World(), (), fixed(ALL_TWICE), Question(setup=setup))
    assert coverage_of("squareness")(results_of(row, 60, 4)) < 0.9


@pytest.mark.parametrize("slip", [slips.diagonals_exchanged, slips.turned_over])
def test_keyed_seats_let_no_exchange_become_a_move(slip: slips.Slip) -> None:
    row = Row("", World(slip=slip), (), fixed(QUICK), Question(wants_move=True))
    assert moves_given(results_of(row, 60, 5)) == 0.0


@pytest.mark.parametrize("size_mm", [0.13, 0.5])
def test_one_misread_diagonal_does_not_become_a_wrong_move(size_mm: float) -> None:
    row = Row("", World(slip=slips.misread_diagonal(size_mm)), (), as_the_bench_asks(QUICK), Question())
    results = results_of(row, 40, 6)
    assert beyond(2.0)(results) == 0.0
    assert wrong_way(results) == 0.0
    assert moves_given(results) > 0.05


def test_burnt_corners_do_not_reach_the_seats() -> None:
    row = Row("", World(burnt_mm=0.4), (), fixed(QUICK), Question(wants_move=True))
    results = results_of(row, 60, 7)
    assert wrong_way(results) == 0.0
    assert beyond(2.0)(results) == 0.0
    assert wrong_word(results, settled=True) == 0.0


def test_kerf_up_to_3_mm_is_no_contradiction_and_hardly_shows_in_the_skew() -> None:
    world = World(kerf_mm=(0.0, 3.0), edge_form=0.0, seat_form=0.0, hand=PERFECT)
    for judge, groups in ((fixed(QUICK), Question().groups), (fixed(ALL_TWICE), ALL_GROUPS)):
        results = results_of(Row("", world, (), judge, Question(groups=groups)), 40, 8)
        assert inconsistent(results) == 0.0
        assert largest_skew_error(results) < 0.02


@pytest.mark.parametrize("witness", [by_light, by_reversal])
@pytest.mark.parametrize("coupon", [EQUAL, KEYED], ids=["seats", "keyed"])
def test_without_a_gauge_a_move_can_be_had_and_exchanged_diagonals_give_none(witness, coupon) -> None:
    world = World(coupon=coupon)
    asks = Question(wants_move=True)
    plain = results_of(Row("", world, (), fixed(QUICK), asks, witness=witness), 40, 3)
    assert moves_given(plain) > 0.7
    assert wrong_way_of_moves(plain) == 0.0
    exchanged = replace(world, slip=slips.diagonals_exchanged)
    assert wrong_way(results_of(Row("", exchanged, (), fixed(QUICK), asks, witness=witness), 40, 3)) == 0.0


def test_a_seed_draws_the_same_world_again() -> None:
    world = replace(World(), slip=slips.transposed_digits)
    assert np.array_equal(drawn(world, 5, 9)[0], drawn(world, 5, 9)[0])


def test_a_coupon_that_is_told_no_squareness_is_left_out_of_its_coverage() -> None:
    """Burnt corners make lengths and corners contradict: some are then told both, and no squareness. Pieces are joined
    all the same, whichever coupon comes first."""
    burnt = World(coupon=BARE, burnt_mm=1.5)
    row = Row("", burnt, (), fixed(ALL_TWICE), Question(groups=ALL_GROUPS))
    none_told, some_told = results_of(row, 2, 3), results_of(replace(row, world=World(coupon=BARE)), 6, 3)
    whole = joined([none_told, some_told])
    assert np.isnan(whole.covered["squareness"][:2]).all()
    assert coverage_of("squareness")(whole) == np.nanmean(some_told.covered["squareness"])
    assert len(whole.covered["skew"]) == 8
