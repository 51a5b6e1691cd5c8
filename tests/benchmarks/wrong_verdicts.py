"""Wrong verdicts over random truth: 20,000 coupons, after all ten readings and at early finish, in any order.

    PYTHONPATH=. python tests/benchmarks/wrong_verdicts.py [coupons]

Targets: `go` on a bad coupon and `no-go` on a good one below 1 % of all coupons; at a limit itself at most 5.5 % a
characteristic.
"""

from __future__ import annotations

import sys

import numpy as np

from tests.core.metrology.many_verdicts import (
    DIAGONALS_EDGES,
    GO,
    NO_GO,
    Batch,
    at_the_limit,
    batch,
    columns_of,
    early_finish,
    random_orders,
    verdicts,
)


def main() -> None:
    m = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    ten = np.ones((m, 10), dtype=int)
    for linearity in ("uniform", "normal"):
        for tolerance in (0.4, 0.2):
            drawn: Batch = batch(m, 1, tolerance, linearity)
            print(f"linearity {linearity}, perpendicularity {tolerance} mm; {drawn.good.mean():.0%} good")
            for name, codes in {
                "all ten": verdicts(drawn, ten)[1],
                "early finish, lengths first": early_finish(drawn, columns_of(DIAGONALS_EDGES, m))[1],
                "early finish, random order": early_finish(drawn, random_orders(m, 2))[1],
            }.items():
                wrong_go = ((codes == GO) & ~drawn.good).mean()
                wrong_no_go = ((codes == NO_GO) & drawn.good).mean()
                print(
                    f"  {name:30} go on bad {wrong_go:6.2%}  no-go on good {wrong_no_go:6.2%}  "
                    f"undecided {(codes == 0).mean():6.1%}"
                )
            codes, _ = verdicts(at_the_limit(m, 3, tolerance, linearity), ten)
            print(
                f"  corner NL exactly at its limit: go {(codes[:, 0] == GO).mean():.2%} "
                f"no-go {(codes[:, 0] == NO_GO).mean():.2%}"
            )


if __name__ == "__main__":
    main()
