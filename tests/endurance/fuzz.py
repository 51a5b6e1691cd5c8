"""Minutes of a coverage-guided fuzzer on all that comes from elsewhere; status 1 where anything but a refusal escapes.

    pip install atheris
    PYTHONPATH=. python tests/endurance/fuzz.py [--seconds 600] [--seed 1] [--only svg dxf ...] [--keep DIR]

Each target (fuzz_targets.py) runs in a process of its own, with the house's files as a corpus. What made one
fall is left in --keep. The suite holds a small seeded version (tests/test_fuzz_targets.py).
Also counted is what hangs for 60 s or takes more than 2 GB.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

HANGS_S = 60
MOST_MB = 2048
LONGEST_BYTES = 65536


def one(name: str, arguments: Sequence[str]) -> None:
    """In the child: hand the target to the fuzzer, which ends the process itself."""
    import atheris

    with atheris.instrument_imports(include=["core", "firmware_bridge", "hardware"]):
        from tests.endurance.fuzz_targets import TARGETS

    atheris.Setup([sys.argv[0], *arguments], TARGETS[name].eats)
    atheris.Fuzz()


def run(name: str, seconds: int, seed: int, keep: Path) -> tuple[str, bool]:
    """What the fuzzer counted, and whether nothing fell."""
    from tests.endurance.fuzz_targets import TARGETS

    with tempfile.TemporaryDirectory() as corpus:
        for number, content in enumerate(TARGETS[name].corpus()):
            (Path(corpus) / str(number)).write_bytes(content)
        command = [
            sys.executable, __file__, "--one", name, f"-seed={seed}", f"-max_total_time={seconds}",
            f"-timeout={HANGS_S}", f"-rss_limit_mb={MOST_MB}", f"-max_len={LONGEST_BYTES}",
            f"-artifact_prefix={keep}/{name.replace(' ', '-')}-",
            "-print_final_stats=1", corpus,
        ]  # fmt: skip
        done = subprocess.run(command, capture_output=True, text=True, errors="replace", cwd=ROOT, check=False)
    said = done.stdout + done.stderr
    runs = re.search(r"number_of_executed_units: *(\d+)", said)
    covered = re.findall(r"cov: (\d+)", said)
    text = f"{runs[1] if runs else '?'} inputs, coverage {covered[0] if covered else '?'} -> {(covered or '?')[-1]}"
    if done.returncode:
        text += "\n" + "\n".join(said.splitlines()[-25:])
    return text, done.returncode == 0


def main() -> int:
    if "--one" in sys.argv[1:2]:
        one(sys.argv[2], sys.argv[3:])
        return 0
    from tests.endurance.fuzz_targets import TARGETS

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=int, default=600, help="for each target")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=TARGETS)
    parser.add_argument("--keep", type=Path, default=Path("/tmp/fuzz-findings"))
    args = parser.parse_args()
    args.keep.mkdir(parents=True, exist_ok=True)
    fell = 0
    for name in args.only or TARGETS:
        text, held = run(name, args.seconds, args.seed, args.keep)
        print(f"{'held' if held else 'FELL':<5} {name}: {text}", flush=True)
        fell += not held
    return int(fell > 0)


if __name__ == "__main__":
    sys.exit(main())
