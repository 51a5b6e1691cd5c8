"""How many readings the headline needs, by order of readings: 2,000 random coupons for each of two tolerances.

    PYTHONPATH=. python tests/benchmarks/reading_orders.py [coupons]

Settled means go or no-go, and cross-checked. The house's order runs through the whole evaluation, coupon by coupon.
"""

from __future__ import annotations

import sys

import numpy as np

from tests.core.metrology.many_verdicts import (
    DIAGONALS_EDGES,
    PLAIN,
    batch,
    columns_of,
    early_finish,
    house_finish,
    random_orders,
)


def main() -> None:
    coupons = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    for tolerance, name in ((0.4, "class K"), (0.2, "class H")):
        drawn = batch(coupons, 1, tolerance)
        print(f"{name}, perpendicularity {tolerance} mm on 80 mm; {drawn.good.mean():.0%} of the coupons are good")
        for order, (needed, final) in {
            "the house's": house_finish(drawn),
            "diagonals, edges, diagonals, corners": early_finish(drawn, columns_of(DIAGONALS_EDGES, coupons)),
            "plain: edges, diagonals, corners": early_finish(drawn, columns_of(PLAIN, coupons)),
            "random": early_finish(drawn, random_orders(coupons, 2)),
        }.items():
            settled = final != 0
            middle, late = np.quantile(needed[settled], [0.5, 0.9])
            print(
                f"  {order:38} settled {settled.mean():6.1%}  readings: mean {needed[settled].mean():5.2f}  "
                f"median {middle:4.0f}  nine in ten {late:4.0f}"
            )


if __name__ == "__main__":
    main()
