"""Wrong verdicts are rare, finishing early included, and the house's order of readings is no longer than plain ones.

The full tables are printed by tests/benchmarks/wrong_verdicts.py and tests/benchmarks/reading_orders.py.
"""

import numpy as np
import pytest

from core.geometry.features import TEN_FEATURES
from core.metrology.evaluation import evaluate
from core.metrology.tolerances import Limits
from core.metrology.verdict import Verdict
from tests.core.metrology.many_verdicts import (
    DIAGONALS_EDGES,
    GO,
    NO_GO,
    PLAIN,
    SETUP,
    UNDECIDED,
    at_the_limit,
    batch,
    columns_of,
    early_finish,
    house_finish,
    random_orders,
    verdicts,
)
from tests.core.metrology.simulated_readings import HOUSE_COUPON, reading

ONCE = np.ones(10, dtype=int)
CODE = {Verdict.GO: GO, Verdict.NO_GO: NO_GO, Verdict.UNDECIDED: UNDECIDED, Verdict.INCONSISTENT: UNDECIDED}


def test_verdicts_for_arrays_are_those_of_the_house() -> None:
    coupons = batch(120, seed=1, tolerance=0.4)
    codes, headlines = verdicts(coupons, np.tile(ONCE, (120, 1)))
    limits = Limits(source="own limits", perpendicularity_mm=0.4)
    for shown, code, headline in zip(coupons.shown[:, 0], codes, headlines, strict=True):
        readings = [reading(feature, value) for feature, value in zip(TEN_FEATURES, shown, strict=True)]
        evaluation = evaluate(HOUSE_COUPON, readings, limits, SETUP)
        assert CODE[evaluation.verdict] == headline
        judged = [c for c in evaluation.characteristics if c.name.startswith("perpendicularity")]
        assert [CODE[c.verdict] for c in judged] == code.tolist()


@pytest.mark.parametrize("tolerance", [0.4, 0.2])
def test_wrong_verdicts_are_rare_after_all_ten_and_at_early_finish(tolerance: float) -> None:
    coupons = batch(4000, seed=2, tolerance=tolerance)
    _, after_ten = verdicts(coupons, np.tile(ONCE, (4000, 1)))
    _, early = early_finish(coupons, random_orders(4000, seed=3))
    for codes in (after_ten, early):
        assert ((codes == GO) & ~coupons.good).mean() < 0.01
        assert ((codes == NO_GO) & coupons.good).mean() < 0.01
        assert (codes != UNDECIDED).mean() > 0.75  # undecided is no way out


def test_at_the_limit_itself_a_wrong_word_is_said_at_most_as_often_as_promised() -> None:
    codes, _ = verdicts(at_the_limit(6000, seed=6, tolerance=0.4), np.tile(ONCE, (6000, 1)))
    # 5.5 % and three times the scatter of 6000 coupons
    assert (codes[:, 0] == GO).mean() < 0.064
    assert (codes[:, 0] == NO_GO).mean() < 0.064


def test_the_house_order_needs_fewest_readings() -> None:
    coupons = batch(80, seed=4, tolerance=0.4)
    house, _ = house_finish(coupons)
    for columns in (
        columns_of(DIAGONALS_EDGES, 80),
        columns_of(PLAIN, 80),
        random_orders(80, seed=5),
    ):
        assert house.mean() < early_finish(coupons, columns)[0].mean()
