"""How many coupons a second adjust_many does on one core, by processor time, all ten features read.

PYTHONPATH=. python tests/benchmarks/adjust_many_speed.py
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy: one core
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import time

import numpy as np

from core.metrology.accuracy import MeasuringSetup
from tests.core.metrology.adjust_many import adjust_many
from tests.core.metrology.simulated_readings import HOUSE_COUPON, simulate_many

COUPONS = 50_000


def main() -> None:
    setup = MeasuringSetup()
    _, means = simulate_many(np.random.default_rng(1), COUPONS, setup=setup)
    best = float("inf")
    for _ in range(7):
        begun = time.process_time()
        adjust_many(HOUSE_COUPON, means, setup)
        best = min(best, time.process_time() - begun)
    print(f"{COUPONS / best:,.0f} coupons a second on one core")


if __name__ == "__main__":
    main()
