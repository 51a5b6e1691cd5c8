"""Print a table of the world: `python -m tests.endurance.world TABLE [coupons] [--only WORDS] [--seed N]`.

TABLE is one of those in rows.TABLES, or `all`. Beside each figure stands the range it must lie in, and PASS or FAIL.
Ends with status 1 where something fails. 2,000 coupons a row, ten times as many where rare things are counted. A row is
drawn and judged in pieces by `--workers` processes, one a core: what is printed does not depend on how many.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy: a process a core, and no threads beside it
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import math
import time
from collections.abc import Sequence
from concurrent.futures import Executor, ProcessPoolExecutor

import numpy as np
from msgspec.structs import replace

from tests.endurance.world.rows import TABLES, Check, Results, Row
from tests.endurance.world.worlds import LIMIT_MM, Seed, drawn

PIECE = 250  # coupons drawn and judged at once
NICENESS = 10


def results_of(row: Row, coupons: int, seed: Seed) -> Results:
    """Judge so many coupons of a row."""
    displays, truth = drawn(row.world, coupons, seed)
    asked = [row.asked] * coupons
    if row.witness is not None:
        asked = [replace(row.asked, answers=answers) for answers in row.witness(truth, seed)]
    outcomes = [row.judge(displays[k], question) for k, question in enumerate(asked)]
    covered = {}
    for name in dict.fromkeys(name for outcome in outcomes for name in outcome.intervals):
        true = truth.of(name)
        if true is not None:
            pairs = np.array([outcome.intervals.get(name, (math.nan, math.nan)) for outcome in outcomes])
            inside = np.abs(pairs[:, 0] - true) <= pairs[:, 1]
            covered[name] = np.where(np.isnan(pairs[:, 0]), math.nan, inside)
    return Results(
        outcomes=outcomes,
        good=truth.good,
        share_of_limit=truth.squareness / LIMIT_MM,
        move=truth.move,
        skew_error=np.array([outcome.intervals["skew"][0] for outcome in outcomes]) - truth.squareness,
        covered=covered,
    )


def piece_of(table: str, place: int, coupons: int, seed: Seed) -> Results:
    """The same of the row at a place of a table: what can be told to another process."""
    return results_of(TABLES[table]()[place], coupons, seed)


def joined(pieces: Sequence[Results]) -> Results:
    """All pieces of a row as one."""
    names = dict.fromkeys(name for piece in pieces for name in piece.covered)
    nowhere = [np.full(len(piece.outcomes), math.nan) for piece in pieces]
    return Results(
        outcomes=[outcome for piece in pieces for outcome in piece.outcomes],
        good=np.concatenate([piece.good for piece in pieces]),
        share_of_limit=np.concatenate([piece.share_of_limit for piece in pieces]),
        move=np.concatenate([piece.move for piece in pieces]),
        skew_error=np.concatenate([piece.skew_error for piece in pieces]),
        covered={
            name: np.concatenate([piece.covered.get(name, none) for piece, none in zip(pieces, nowhere, strict=True)])
            for name in names
        },
    )


def in_pieces(workers: Executor, table: str, place: int, coupons: int, seed: int) -> Results:
    """Judge so many coupons of a row in many processes, each piece drawn by a seed of its own."""
    sizes = [min(PIECE, coupons - begin) for begin in range(0, coupons, PIECE)]
    waiting = [workers.submit(piece_of, table, place, size, (seed, number)) for number, size in enumerate(sizes)]
    return joined([piece.result() for piece in waiting])


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


def print_row(row: Row, results: Results, seconds: float) -> bool:
    """Print what a row came to; whether all holds."""
    figures = [figure(check, check.of(results)) for check in row.checks]
    print(f"{row.name}  [{len(results.outcomes)} coupons, {seconds:.0f} s]", flush=True)
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
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    args = parser.parse_args()
    names = tuple(TABLES) if args.table == "all" else (args.table,)
    held = True
    with ProcessPoolExecutor(args.workers, initializer=os.nice, initargs=(NICENESS,)) as workers:
        for name in names:
            print(f"== {name}, seed {args.seed}", flush=True)
            for place, row in enumerate(TABLES[name]()):
                if args.only in row.name:
                    begun = time.perf_counter()
                    results = in_pieces(workers, name, place, args.coupons * row.times, args.seed)
                    held &= print_row(row, results, time.perf_counter() - begun)
    return 0 if held else 1


if __name__ == "__main__":
    raise SystemExit(main())
