"""How often a verdict is wrong, and how many readings it takes: the table behind the verdict rules.

PYTHONPATH=. python tests/benchmarks/verdict_table.py [coupons]
"""

from __future__ import annotations

import sys

from core.metrology.verdict import Verdict
from tests.core.metrology.verdict_rates import ORDERS, after_all_ten, at_early_finish, at_the_limit


def main() -> None:
    coupons = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    for linearity in ("normal", "uniform"):
        headline, size = after_all_ten(coupons, 1, linearity)
        print(f"all ten, linearity {linearity:8} squareness  {headline}")
        print(f"all ten, linearity {linearity:8} size        {size}")
    for order in ORDERS:
        print(f"early finish, {order:9}           {at_early_finish(coupons, 2, order)}")
    for name in ("squareness", "edge-near"):
        for linearity in ("normal", "uniform"):
            shares = at_the_limit(coupons, 3, name, linearity)
            print(
                f"truly at the limit, {name}, linearity {linearity}: go {shares[Verdict.GO]:.2%}, "
                f"no-go {shares[Verdict.NO_GO]:.2%}"
            )


if __name__ == "__main__":
    main()
