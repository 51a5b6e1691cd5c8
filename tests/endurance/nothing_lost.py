"""All that must be survived, once more, with the counts that are asked for: a line a proof, status 1 on a failure.

    PYTHONPATH=. python tests/endurance/nothing_lost.py [--boot BOOT] [--sqlite3 PROGRAM] [--share 0.05] [--only ...]

`--share` takes so much of each count, for a quick look. Power cuts need `--boot`, a command that runs another in a
machine and cuts its power, and the comparison with SQLite's own recovery an sqlite3 that has `.recover`; without them
these are said to be not done, and the status is 1: unproven is not survived.
Each proof is a script of its own, says its own figures, and ends with a status of its own.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """One script or test: `option` takes `count`; without a count it is run whole, a test by pytest, a script where
    `option` is empty. `more` goes behind it; `needs` is an option of ours that names a program, and is handed on."""

    name: str
    what: str
    option: str = "--times"
    count: int | None = None
    needs: str | None = None
    more: tuple[str, ...] = ()


PROOFS = (
    Proof(name="kill_nine", what="kill -9 while readings are stored", count=1000),
    Proof(name="power_cuts", what="power cuts", count=20, needs="boot"),
    Proof(name="kill_during", what="kills in each deed that moves records", count=100),
    Proof(name="bit_flips", what="flipped bits, none silent", count=500),
    Proof(name="bit_flips", what="flipped bits in file and log after a kill", count=500, more=("--killed",)),
    Proof(name="against_recover", what="damaged archives beside SQLite's own recovery", count=300, needs="sqlite3"),
    Proof(name="troubles", what="minutes with a flood, a loose plug and an error", option="--minutes", count=1440),
    Proof(name="flood", what="seconds of 1 MB/s on two ports", option="--seconds", count=20),
    Proof(name="fuzz", what="minutes of a fuzzer on each way in", option="--minutes", count=10),
    Proof(name="unfed", what="a part hangs, and the watchdog is no longer fed", option=""),
    Proof(name="test_unplugs", what="cables pulled"),
    Proof(name="test_fuzz_decoders", what="damaged lines"),
)


def command_of(proof: Proof, share: float, given: dict[str, str | None]) -> list[str] | None:
    """What is run; None where the program that it needs was not given."""
    script = str(HERE / f"{proof.name}.py")
    if proof.count is None:
        return [sys.executable, script] if not proof.option else [sys.executable, "-m", "pytest", "-q", script]
    command = [sys.executable, script, proof.option, str(max(1, round(proof.count * share))), *proof.more]
    if proof.needs is None:
        return command
    program = given[proof.needs]
    return None if program is None else [*command, f"--{proof.needs}", program]


def main(arguments: Sequence[str] | None = None) -> int:
    """0 where each proof ended well; a proof that could not be run is none."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--boot", help="runs a command in a machine and cuts its power")
    parser.add_argument("--sqlite3", help="an sqlite3 that has .recover")
    parser.add_argument("--share", type=float, default=1.0, help="how much of each count")
    parser.add_argument("--only", nargs="+", choices=[proof.name for proof in PROOFS])
    args = parser.parse_args(arguments)
    given, failed = {"boot": args.boot, "sqlite3": args.sqlite3}, False
    for proof in PROOFS:
        if args.only and proof.name not in args.only:
            continue
        command, begun_s = command_of(proof, args.share, given), time.monotonic()
        if command is None:
            print(f"NOT DONE  {proof.name}: {proof.what} (no --{proof.needs})", flush=True)
            failed = True
            continue
        print(f"--------  {' '.join(command[1:])}", flush=True)
        done = subprocess.run(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False)
        word = "held" if done.returncode == 0 else f"FAILED ({done.returncode})"
        print(f"{word:<9} {proof.name}: {proof.what}, {time.monotonic() - begun_s:.0f} s", flush=True)
        failed = failed or done.returncode != 0
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
