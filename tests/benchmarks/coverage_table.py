"""Share of 95 % intervals that contain the truth: 20,000 simulated coupons, instruments as modelled.

    PYTHONPATH=. python tests/benchmarks/coverage_table.py [coupons]

Target 94.5 to 95.5 %. Linearity errors are drawn once from the uniform distribution of an instrument's limits, once
from the normal one of the same standard deviation.
"""

from __future__ import annotations

import sys

from tests.core.metrology.interval_coverage import CASES, QUANTITIES, coverage


def main() -> None:
    coupons = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    print(f"{'':34}" + "".join(f"{name:>11}" for name in (*QUANTITIES, "alarms")))
    for linearity in ("uniform", "normal"):
        for name, columns, repeats in CASES:
            inside, alarms = coverage(coupons, 1, columns, repeats, linearity)
            print(f"{name:24} {linearity:9}" + "".join(f"{share:11.2%}" for share in (*inside, alarms)))


if __name__ == "__main__":
    main()
