"""How many readings a settled word on squareness needs, by order of readings.

    PYTHONPATH=. python tests/benchmarks/reading_orders.py [coupons]

Every coupon goes through the whole evaluation, reading by reading.
"""

from __future__ import annotations

import sys

from tests.core.metrology.verdict_rates import ORDERS, at_early_finish


def main() -> None:
    coupons = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    for order in ORDERS:
        print(f"{order:9} {at_early_finish(coupons, 2, order)}")


if __name__ == "__main__":
    main()
