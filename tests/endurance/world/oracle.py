"""What no rule can better: `python -m tests.endurance.world.oracle [coupons] [--seed N]`.

A judge who knows the noise of a world (the covariance of all its readings, machines and hands included, taken from the
world itself and from no formula of core), takes the best twelve readings at once and looks a single time. Nobody who
calls at most so many coupons at the limit GO can call more of the good ones GO (J. Neyman and E. Pearson, 1933: of a
normal estimate the threshold is the best test). Printed for each world: the standard uncertainty of squareness, how
many coupons at least come to no word, and how many at most of those within three quarters of the limit come to one.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy

import argparse
import itertools
import math
from collections.abc import Iterator
from statistics import NormalDist

import numpy as np
from msgspec.structs import replace

from tests.endurance.world.hands import Hand
from tests.endurance.world.jaws import FEATURES
from tests.endurance.world.judging import MOST_READINGS
from tests.endurance.world.rows import FOUR
from tests.endurance.world.worlds import HEIGHT_MM, LIMIT_MM, REPEATS, World, drawn

AT_LIMIT = 0.06  # GO, and NO-GO, of coupons exactly at the limit
EASY_SHARE = 0.75
_LEAN_DEG = 0.1


def sets_of_twelve() -> Iterator[tuple[int, ...]]:
    """How often each of the ten features is read."""
    for corners, others in itertools.product(range(4), repeat=2):
        for near, left in itertools.product(range(3), repeat=2):
            diagonals = MOST_READINGS - 2 * (corners + others) - near - left
            if diagonals >= 2:
                one = diagonals // 2
                yield (near, 0, 0, left, one, diagonals - one, corners, others, corners, others)


def least_uncertainty(world: World, coupons: int, seed: int) -> tuple[float, tuple[int, ...]]:
    """Standard uncertainty (mm) of the best unbiased estimate of squareness by twelve readings, and which they are."""
    straight, truth = drawn(replace(world, skew_sd_deg=0.0), coupons, seed)
    leaning, leans = drawn(replace(world, skew_sd_deg=_LEAN_DEG), coupons, seed)
    read, by = straight.reshape(coupons, -1), leans.squareness - truth.squareness
    slopes = (by @ (leaning.reshape(coupons, -1) - read)) / float(by @ by)
    # What the changing yaw leans a coupon by is squareness of its own, no noise.
    covariance = np.cov(read - truth.squareness[:, None] * slopes, rowvar=False)
    best = (math.inf, (0,))
    for counts in sets_of_twelve():
        chosen = [place * REPEATS + repeat for place, count in enumerate(counts) for repeat in range(count)]
        a, among = slopes[chosen], covariance[np.ix_(chosen, chosen)]
        best = min(best, (1.0 / math.sqrt(float(a @ np.linalg.solve(among, a))), counts))
    return best


def shares(u_mm: float, skew_sd_deg: float) -> tuple[float, float]:
    """Of all coupons, those without a word; of those within three quarters of the limit, those with one."""
    normal, sd_mm = NormalDist(), HEIGHT_MM * math.tan(math.radians(skew_sd_deg))
    guard = normal.inv_cdf(1.0 - AT_LIMIT) * u_mm
    true = np.linspace(-5.0 * sd_mm, 5.0 * sd_mm, 8001)
    weight = np.exp(-0.5 * (true / sd_mm) ** 2)
    go, no_go = (LIMIT_MM - guard) / u_mm, (LIMIT_MM + guard) / u_mm
    word = np.array(
        [
            normal.cdf(go - t) - normal.cdf(-go - t) + normal.cdf(t - no_go) + normal.cdf(-t - no_go)
            for t in (true / u_mm).tolist()
        ]
    )
    easy = np.abs(true) <= EASY_SHARE * LIMIT_MM
    return 1.0 - float(word @ weight / weight.sum()), float(word[easy] @ weight[easy] / weight[easy].sum())


def main() -> None:
    """The table."""
    parser = argparse.ArgumentParser(prog="python -m tests.endurance.world.oracle", description=__doc__)
    parser.add_argument("coupons", nargs="?", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    for name, world, _ in FOUR:
        for kind, hand in (("as set", Hand()), ("three times noisier", Hand(noisier=3.0))):
            u_mm, counts = least_uncertainty(replace(world, hand=hand), args.coupons, args.seed)
            open_yet, ended = shares(u_mm, world.skew_sd_deg)
            read = ", ".join(f"{count} {feature}" for feature, count in zip(FEATURES, counts, strict=True) if count)
            print(f"{name}, hand {kind}: u {u_mm:.4f} mm  ({read})")
            print(f"    without a word at least {open_yet:.1%}; within 3/4 ended at most {ended:.1%}", flush=True)


if __name__ == "__main__":
    main()
