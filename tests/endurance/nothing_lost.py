"""All that must be survived, once more, with the counts asked for: one table at the end, status 1 on a failure.

    PYTHONPATH=. python tests/endurance/nothing_lost.py [--boot BOOT] [--sqlite3 PROGRAM] [--kept FILE]
        [--share 0.05] [--only POINT ...] [--patience 4]

Each proof is a script of its own that says its own figures; a long one is run in pieces, each with a seed of its own.
What held is noted in `--kept`, so that the same command goes on where it was ended, and pieces of several days add up,
as long as the tree is the same. A piece that takes `--patience` times as long as it should is ended with all that it
started, and has failed. `--share` takes so much of each count, for a quick look; `--only` some of the points.
Power cuts need `--boot`, a command that runs another in a machine and cuts its power, and the comparison with SQLite's
own recovery an sqlite3 that has `.recover`; without them these are said to be not done, and the status is 1: unproven
is not survived. So is what was not asked for or not reached.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import asdict

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
HELD, NOT_REACHED = "held", "NOT REACHED"
TO_BEGIN_MIN = 3.0


class Proof(Struct, frozen=True, kw_only=True):
    """One script of this folder, or a file of tests: `option` takes `count`, without one it is run whole. `more` goes
    behind it; `needs` is an option of ours that names a program: a script gets it, tests are run in it. `piece` is how
    much of the count is done at a time, with a seed of its own; None: all at once. `minutes` is how long the whole
    takes on two cores that nobody else uses, as measured: by it a piece that hangs is told from one that takes long."""

    name: str
    what: str
    minutes: float
    option: str = "--times"
    count: int | None = None
    piece: int | None = None
    needs: str | None = None
    more: tuple[str, ...] = ()


class Piece(Struct, frozen=True, kw_only=True):
    """One call: `command` is what it is known by, `count` how much of the proof's it does, of `wanted` in all."""

    command: tuple[str, ...]
    count: int
    limit_s: float


class Ending(Struct, frozen=True, kw_only=True):
    """How a piece ended on which tree, and after how long."""

    tree: str
    command: tuple[str, ...]
    word: str
    seconds: float


# What may happen to a bench, and what proves that nothing is lost or believed by it.
PROOFS: dict[str, tuple[Proof, ...]] = {
    "sessions from elsewhere": (
        Proof(name="hostile", what="session folders, to the real command", minutes=4, more=("--only", "import")),
        Proof(name="hostile", what="ids that are paths and patterns", minutes=2, more=("--only", "export")),
        Proof(name="hostile", what="pipes, devices, files without end", minutes=3, more=("--only", "files")),
        Proof(name="hostile", what="what lies beside the archive", minutes=8, more=("--only", "bench")),
        Proof(name="tests/core/records/test_foreign_sessions.py", what="every field", minutes=1),
        Proof(name="tests/ui/command_line/test_hostile_names.py", what="what every command prints", minutes=1),
    ),
    "threads": (
        Proof(name="troubles", what="minutes with a flood, a loose plug and an error",
              minutes=30, option="--minutes", count=1440),
        Proof(name="unfed", what="a part hangs, and the watchdog is no longer fed", minutes=4),
        Proof(name="tests/ui/bench/test_supervision.py", what="whatever escapes in a thread", minutes=1),
    ),
    "a flood": (
        Proof(name="flood", what="1 MB/s on two ports", minutes=2),
        Proof(name="tests/endurance/test_fuzz_decoders.py", what="damaged lines", minutes=3),
        Proof(name="tests/endurance/test_unplugs.py", what="cables pulled", minutes=1),
    ),
    "the archive under it": (
        Proof(name="kill_nine", what="kill -9 while readings are stored", minutes=8, count=1000, piece=100),
        Proof(name="power_cuts", what="power cuts", minutes=15, count=20, piece=5, needs="boot"),
        Proof(name="bit_flips", what="flipped bits, none silent", minutes=6, count=500, piece=100),
        Proof(name="bit_flips", what="flipped bits in file and log after a kill",
              minutes=6, count=500, piece=100, more=("--killed",)),
        Proof(name="bit_flips", what="lost ends of the log after a kill",
              minutes=3, count=200, piece=100, more=("--tail",)),
        Proof(name="tests/core/records/test_archive_survives.py", what="cards that are full, read-only, damaged, gone",
              minutes=1),
    ),
    "the root helper": (
        Proof(name="tests/hardware/test_update_verbs.py", what="updates, unsigned and hostile", minutes=1),
        Proof(name="tests/hardware/test_helper.py", what="what the helper is asked", minutes=1),
        Proof(name="tests/hardware/test_exposure.py", what="systemd's own figure for each unit", minutes=1),
    ),
    "ports": (
        Proof(name="tests/ui/bench/test_unchosen_ports.py", what="no line is raised, on the wire",
              minutes=8, needs="boot"),
    ),
    "writers at once": (Proof(name="at_once", what="rounds of commands at once", minutes=8, count=20, piece=5),),
    "the fault report": (
        Proof(name="tests/ui/bench/test_journal.py", what="log and report, no reading and no name",
              minutes=1),
    ),
    "small ones": (
        Proof(name="interrupted", what="Ctrl-C at any instant", minutes=8, count=200, piece=50),
        Proof(name="tests/ui/state/test_settings.py", what="settings", minutes=1),
        Proof(name="tests/core/records/test_readings_csv.py", what="what a table calculates", minutes=1),
        Proof(name="tests/ui/bench/test_designs.py", what="large designs, cancelled", minutes=1),
    ),
    "other hands' tests": (
        Proof(name="against_recover", what="damaged archives beside SQLite's own tools",
              minutes=15, count=300, piece=100, needs="sqlite3"),
        Proof(name="fuzz", what="seconds of a fuzzer on each way in",
              minutes=240, option="--seconds", count=600, piece=60),
    ),
    "the whole bench": (
        Proof(name="kill_during", what="kills in each deed that moves records, save and restore too",
              minutes=60, count=100, piece=10),
        Proof(name="tests/core/records/test_saved_bench.py", what="saved and back", minutes=1),
        Proof(name="tests/ui/bench/test_keeping.py", what="by touch", minutes=1),
    ),
}  # fmt: skip


def pieces_of(proof: Proof, share: float, patience: float, given: dict[str, str | None]) -> list[Piece]:
    """What is run, one after the other; the program that it needs is given."""
    program = given[proof.needs] if proof.needs else None
    limit_s = 60 * patience * (TO_BEGIN_MIN + proof.minutes)
    if proof.name.startswith("tests/"):
        tests = (sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", proof.name)
        inside = (program, "--limit", "3000", "--", "env", "CORNERWISE_REAL_KERNEL=1") if program else ()
        return [Piece(command=(*inside, *tests), count=1, limit_s=limit_s)]
    script = (sys.executable, str(HERE / f"{proof.name}.py"))
    more = (*proof.more, *((f"--{proof.needs}", program) if program else ()))
    if proof.count is None:
        return [Piece(command=(*script, *more), count=1, limit_s=limit_s)]
    wanted = max(1, round(proof.count * share))
    return [
        Piece(
            command=(*script, proof.option, str(count), *(("--seed", str(seed)) if proof.piece else ()), *more),
            count=count,
            limit_s=60 * patience * (TO_BEGIN_MIN + proof.minutes * count / proof.count),
        )
        for seed, count in enumerate(divided(wanted, proof.piece or wanted), start=1)
    ]


def divided(wanted: int, piece: int) -> Iterator[int]:
    """So much at a time."""
    for begun in range(0, wanted, piece):
        yield min(piece, wanted - begun)


def run(piece: Piece, tree: str) -> Ending:
    """The piece to its end, or ended with all that it started."""
    print(f"--------  {' '.join(piece.command)}", flush=True)
    begun_s = time.monotonic()
    # Programs by the thousand are started: an installed one is compiled, and none compiles itself anew each time.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    child = subprocess.Popen(
        piece.command, cwd=ROOT, env={**environment, "PYTHONPATH": str(ROOT)}, start_new_session=True
    )
    try:
        status = child.wait(piece.limit_s)
        word = HELD if status == 0 else f"FAILED ({status})"
    except subprocess.TimeoutExpired:
        word = f"HUNG ({piece.limit_s:.0f} s)"
    finally:
        end_session(child.pid)
        child.wait()
    return Ending(tree=tree, command=piece.command, word=word, seconds=time.monotonic() - begun_s)


def end_session(leader: int) -> None:
    """Whatever runs in its session, in whatever group: a machine that is emulated outlives its parent."""
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if os.getsid(int(entry.name)) == leader:
                os.kill(int(entry.name), signal.SIGKILL)
        except ProcessLookupError:
            continue


def tree_now() -> str:
    """What is proven: the commit, and whether anything differs from it."""
    command = ["git", "describe", "--always", "--dirty", "--abbrev=40", "--exclude=*"]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()


def endings_kept(kept: Path | None, tree: str) -> dict[tuple[str, ...], Ending]:
    """What earlier calls noted of this tree, the last word of each piece."""
    lines = kept.read_text(encoding="utf-8").splitlines() if kept and kept.exists() else []
    noted = (json.loads(line) for line in lines)
    found = (Ending(**{**one, "command": tuple(one["command"])}) for one in noted)
    return {ending.command: ending for ending in found if ending.tree == tree}


def keep(kept: Path | None, ending: Ending) -> None:
    """One line more; two calls may write at once, on points of their own."""
    if kept is not None:
        with kept.open("a", encoding="utf-8") as file:
            file.write(json.dumps(asdict(ending)) + "\n")


def row(proof: Proof, pieces: Sequence[Piece] | None, ended: dict[tuple[str, ...], Ending]) -> tuple[str, str, float]:
    """(How the whole proof stands, how much of its count held, seconds)."""
    if pieces is None:
        return f"NOT DONE (no --{proof.needs})", "", 0.0
    endings = [ended[piece.command] for piece in pieces if piece.command in ended]
    fallen = [ending.word for ending in endings if ending.word != HELD]
    held = sum(piece.count for piece in pieces if piece.command in ended and ended[piece.command].word == HELD)
    word = fallen[0] if fallen else (HELD if len(endings) == len(pieces) else NOT_REACHED)
    counts = f"{held} of {sum(piece.count for piece in pieces)}" if proof.count is not None else ""
    return word, counts, sum(ending.seconds for ending in endings)


def main(arguments: Sequence[str] | None = None) -> int:
    """0 where each proof ended well; a proof that could not be run is none."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--boot", help="runs a command in a machine and cuts its power")
    parser.add_argument("--sqlite3", help="an sqlite3 that has .recover")
    parser.add_argument("--kept", type=Path, help="notes what held, and goes on from there")
    parser.add_argument("--share", type=float, default=1.0, help="how much of each count")
    parser.add_argument("--patience", type=float, default=4.0, help="how many times its time until a piece hangs")
    parser.add_argument("--only", nargs="+", choices=PROOFS, metavar="POINT", help="some of: " + "; ".join(PROOFS))
    args = parser.parse_args(arguments)
    given, tree = {"boot": args.boot, "sqlite3": args.sqlite3}, tree_now()
    todo = {
        (point, proof): None
        if proof.needs and given[proof.needs] is None
        else pieces_of(proof, args.share, args.patience, given)
        for point, proofs in PROOFS.items()
        for proof in proofs
    }
    ended = endings_kept(args.kept, tree)
    for (point, _), pieces in todo.items():
        for piece in (pieces or ()) if not args.only or point in args.only else ():
            if piece.command not in ended or ended[piece.command].word != HELD:
                ended[piece.command] = run(piece, tree)
                keep(args.kept, ended[piece.command])
    return print_table({key: row(key[1], pieces, ended) for key, pieces in todo.items()}, tree)


def print_table(rows: dict[tuple[str, Proof], tuple[str, str, float]], tree: str) -> int:
    """One line a proof, and the status of all."""
    print(f"\n{tree}")
    for (point, proof), (word, counts, seconds) in rows.items():
        print(f"{word:<22} {counts:>13}  {seconds:>6.0f} s  {point}: {proof.what} ({proof.name})")
    total = Counter(word for word, _, _ in rows.values())
    print(", ".join(f"{count} {word}" for word, count in total.items()))
    return int(set(total) != {HELD})


if __name__ == "__main__":
    sys.exit(main())
