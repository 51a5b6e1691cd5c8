"""How often the right explanation of a single blunder comes first, 500 cases a kind, and how often clean coupons alarm.

PYTHONPATH=. python tests/endurance/blunder_table.py [cases]
"""

from __future__ import annotations

import sys
import time

from tests.core.metrology.blunders import REPORTED, WITH_TARGET, false_alarms, score


def main() -> None:
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    for title, table in (("target 95 % first", WITH_TARGET), ("reported, no target", REPORTED)):
        print(f"{title:32}  first   seen")
        for name, (blunder, least_skew_deg) in table.items():
            begun = time.perf_counter()
            result = score(blunder, least_skew_deg, cases, seed=1)
            took = time.perf_counter() - begun
            print(
                f"  {name:30} {result.first / cases:6.1%} {result.seen / cases:6.1%}   {took / cases * 1e3:.1f} ms each"
            )
    clean = cases * 20
    print(f"clean coupons called inconsistent: {false_alarms(clean, seed=2) / clean:.2%} of {clean}")


if __name__ == "__main__":
    main()
