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
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
HELD = "held"


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """One script of this folder, or a file of tests: `option` takes `count`, without one it is run whole. `more` goes
    behind it; `needs` is an option of ours that names a program: a script gets it, tests are run in it."""

    name: str
    what: str
    option: str = "--times"
    count: int | None = None
    needs: str | None = None
    more: tuple[str, ...] = ()


# What may happen to a bench, and what proves that nothing is lost or believed by it.
PROOFS: dict[str, tuple[Proof, ...]] = {
    "sessions from elsewhere": (
        Proof(name="hostile", what="attacks with the real command"),
        Proof(name="tests/core/records/test_foreign_sessions.py", what="every field"),
        Proof(name="tests/ui/command_line/test_hostile_names.py", what="what every command prints"),
    ),
    "threads": (
        Proof(name="troubles", what="minutes with a flood, a loose plug and an error", option="--minutes", count=1440),
        Proof(name="unfed", what="a part hangs, and the watchdog is no longer fed"),
        Proof(name="tests/ui/bench/test_supervision.py", what="whatever escapes in a thread"),
    ),
    "a flood": (
        Proof(name="flood", what="seconds of 1 MB/s on two ports", option="--seconds", count=20),
        Proof(name="tests/endurance/test_fuzz_decoders.py", what="damaged lines"),
        Proof(name="tests/endurance/test_unplugs.py", what="cables pulled"),
    ),
    "the archive under it": (
        Proof(name="kill_nine", what="kill -9 while readings are stored", count=1000),
        Proof(name="power_cuts", what="power cuts", count=20, needs="boot"),
        Proof(name="bit_flips", what="flipped bits, none silent", count=500),
        Proof(name="bit_flips", what="flipped bits in file and log after a kill", count=500, more=("--killed",)),
        Proof(name="bit_flips", what="lost ends of the log after a kill", count=200, more=("--tail",)),
        Proof(name="tests/core/records/test_archive_survives.py", what="cards that are full, read-only, damaged, gone"),
    ),
    "the root helper": (
        Proof(name="tests/hardware/test_update_verbs.py", what="updates, unsigned and hostile"),
        Proof(name="tests/hardware/test_helper.py", what="what the helper is asked"),
        Proof(name="tests/hardware/test_exposure.py", what="systemd's own figure for each unit"),
    ),
    "ports": (
        Proof(name="tests/ui/bench/test_unchosen_ports.py", what="no line is raised, on the wire", needs="boot"),
    ),
    "writers at once": (Proof(name="at_once", what="rounds of commands at once", count=20),),
    "the fault report": (Proof(name="tests/ui/bench/test_journal.py", what="log and report, no reading and no name"),),
    "small ones": (
        Proof(name="interrupted", what="Ctrl-C at any instant", count=200),
        Proof(name="tests/ui/state/test_settings.py", what="settings"),
        Proof(name="tests/core/records/test_readings_csv.py", what="what a table calculates"),
        Proof(name="tests/ui/bench/test_designs.py", what="large designs, cancelled"),
    ),
    "other hands' tests": (
        Proof(name="against_recover", what="damaged archives beside SQLite's own tools", count=300, needs="sqlite3"),
        Proof(name="fuzz", what="minutes of a fuzzer on each way in", option="--minutes", count=10),
    ),
    "the whole bench": (
        Proof(name="kill_during", what="kills in each deed that moves records, save and restore too", count=100),
        Proof(name="tests/core/records/test_saved_bench.py", what="saved and back"),
        Proof(name="tests/ui/bench/test_keeping.py", what="by touch"),
    ),
}  # fmt: skip


def command_of(proof: Proof, share: float, given: dict[str, str | None]) -> list[str] | None:
    """What is run; None where the program that it needs was not given."""
    program = given[proof.needs] if proof.needs else None
    if proof.needs and program is None:
        return None
    if proof.name.startswith("tests/"):
        tests = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", proof.name]
        return [program, "--limit", "3000", "--", "env", "CORNERWISE_REAL_KERNEL=1", *tests] if program else tests
    command = [sys.executable, str(HERE / f"{proof.name}.py")]
    if proof.count is not None:
        command += [proof.option, str(max(1, round(proof.count * share)))]
    return [*command, *proof.more, *((f"--{proof.needs}", program) if program else ())]


def main(arguments: Sequence[str] | None = None) -> int:
    """0 where each proof ended well; a proof that could not be run is none."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--boot", help="runs a command in a machine and cuts its power")
    parser.add_argument("--sqlite3", help="an sqlite3 that has .recover")
    parser.add_argument("--share", type=float, default=1.0, help="how much of each count")
    parser.add_argument("--only", nargs="+", choices=PROOFS, metavar="POINT", help="some of: " + "; ".join(PROOFS))
    args = parser.parse_args(arguments)
    given, endings = {"boot": args.boot, "sqlite3": args.sqlite3}, Counter[str]()
    for point, proofs in PROOFS.items():
        if args.only and point not in args.only:
            continue
        for proof in proofs:
            word, seconds = outcome(proof, args.share, given)
            endings[word] += 1
            print(f"{word:<9} {point}: {proof.what} ({proof.name}), {seconds:.0f} s", flush=True)
    print(", ".join(f"{count} {word}" for word, count in endings.items()))
    return int(set(endings) != {HELD})


def outcome(proof: Proof, share: float, given: dict[str, str | None]) -> tuple[str, float]:
    """(How it ended, after how many seconds)."""
    command, begun_s = command_of(proof, share, given), time.monotonic()
    if command is None:
        return f"NOT DONE (no --{proof.needs})", 0.0
    print(f"--------  {' '.join(command)}", flush=True)
    done = subprocess.run(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False)
    return HELD if done.returncode == 0 else f"FAILED ({done.returncode})", time.monotonic() - begun_s


if __name__ == "__main__":
    sys.exit(main())
