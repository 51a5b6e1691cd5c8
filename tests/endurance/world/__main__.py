"""Print a table of the world: `python -m tests.endurance.world TABLE [coupons] [--only WORDS] [--seed N]`.

TABLE is one of those in rows.TABLES, or `all`. Beside each figure stands the range it must lie in, and PASS or FAIL.
Ends with status 1 where something fails. 2,000 coupons a row, ten times as many where rare things are counted.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import replace

import numpy as np

from tests.endurance.world.rows import TABLES, Check, Results, Row
from tests.endurance.world.worlds import LIMIT_MM, drawn


def results_of(row: Row, coupons: int, seed: int) -> Results:
    """Judge so many coupons of a row."""
    displays, truth = drawn(row.world, coupons, seed)
    asked = [row.asked] * coupons
    if row.witness is not None:
        asked = [replace(row.asked, answers=answers) for answers in row.witness(truth, seed)]
    outcomes = [row.judge(displays[k], question) for k, question in enumerate(asked)]
    covered = {}
    for name in outcomes[0].intervals:
        true = truth.of(name)
        if true is not None:
            pairs = np.array([outcome.intervals.get(name, (math.nan, math.nan)) for outcome in outcomes])
            covered[name] = np.abs(pairs[:, 0] - true) <= pairs[:, 1]
    return Results(
        outcomes=outcomes,
        good=truth.good,
        share_of_limit=truth.squareness / LIMIT_MM,
        move=truth.move,
        skew_error=np.array([outcome.intervals["skew"][0] for outcome in outcomes]) - truth.squareness,
        covered=covered,
    )


def figure(check: Check, value: float) -> tuple[str, bool]:
    """The figure with its range, and whether it holds."""
    holds = (check.least is None or value >= check.least) and (check.most is None or value <= check.most)
    shown = f"{value:.2%}" if check.percent else f"{value:.4g}"
    bounds = [
        sign + (f"{bound:.4g}" if not check.percent else f"{100 * bound:g} %")
        for sign, bound in ((">= ", check.least), ("<= ", check.most))
        if bound is not None
    ]
    mark = "" if not bounds else f" ({', '.join(bounds)}: {'PASS' if holds else 'FAIL'})"
    return f"{check.name} {shown}{mark}", holds


def print_row(row: Row, coupons: int, seed: int) -> bool:
    """Judge and print one row; whether all holds."""
    begun = time.perf_counter()
    m = coupons * row.times
    results = results_of(row, m, seed)
    figures = [figure(check, check.of(results)) for check in row.checks]
    print(f"{row.name}  [{m} coupons, {time.perf_counter() - begun:.0f} s]", flush=True)
    for text, _ in figures:
        print(f"    {text}", flush=True)
    return all(holds for _, holds in figures)


def main() -> int:
    """The tables asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.endurance.world", description=__doc__)
    parser.add_argument("table", choices=(*TABLES, "all"))
    parser.add_argument("coupons", nargs="?", type=int, default=2000)
    parser.add_argument("--only", default="", help="rows whose name contains this")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    names = tuple(TABLES) if args.table == "all" else (args.table,)
    held = True
    for name in names:
        print(f"== {name}")
        for row in TABLES[name]():
            if args.only in row.name:
                held &= print_row(row, args.coupons, args.seed)
    return 0 if held else 1


if __name__ == "__main__":
    raise SystemExit(main())
