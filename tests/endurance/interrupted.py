"""Ctrl-C at any instant of a command: it ends by the signal or with its own word, never with a traceback.

    PYTHONPATH=. python tests/endurance/interrupted.py --times 200

Each command is run once undisturbed to learn how long it takes; then SIGINT comes at a random moment of that time, of
the loading of libraries above all. Status 1 where anything but the end of a command was seen.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.endurance.bit_flips import make_archive
from tests.patience import hangs

COMMANDS = (
    ("--version",),
    ("--simulate", "--text"),
    ("instruments",),
    ("doctor",),
    ("evaluate", "readings.csv"),
    ("coupon", "--size", "120x80", "OUT.svg"),
    ("export", "last", "--to", "OUT"),
    ("save-bench", "--to", "OUT"),
)
LONGEST_S = 120.0
# Before our first line nobody can set how Ctrl-C ends a program: whoever printed no mark had not come to it.
MARK = b"reached\n"
COMMAND = (
    *(sys.executable, "-c"),
    f"import os; from ui.command_line.entry import main; os.write(1, {MARK!r}); raise SystemExit(main())",
)
BETWEEN = 'Traceback (most recent call last):\n  File "<string>", line 1, in <module>\nKeyboardInterrupt'


def run(words: tuple[str, ...], folder: Path, after_s: float | None) -> tuple[int, str, float]:
    """(Status, what was printed, how long it took), interrupted after so long."""
    for left in folder.glob("OUT*"):
        shutil.rmtree(left) if left.is_dir() else left.unlink()
    with tempfile.TemporaryFile() as printed:
        begun_s = time.monotonic()
        child = subprocess.Popen(
            [*COMMAND, *words], cwd=folder, stdin=subprocess.DEVNULL, stdout=printed, stderr=subprocess.STDOUT,
            env={**os.environ, "CORNERWISE_DATA": str(folder / "data"), "PYTHONPATH": str(Path(__file__).parents[2])},
        )  # fmt: skip
        if after_s is not None:
            time.sleep(after_s)
            os.kill(child.pid, signal.SIGINT)  # it may have ended; not yet reaped, it can still be waited for
        if hangs(child.pid, LONGEST_S):
            child.kill()
            child.wait()
            return -1000, "it goes on", LONGEST_S
        child.wait()
        took_s = time.monotonic() - begun_s
        printed.seek(0)
        return child.returncode, printed.read().decode("utf-8", "replace"), took_s


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a child of a shell's background would ignore it
    chance, endings, failed = random.Random(args.seed), Counter[str](), 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_archive(folder / "data" / "archive.sqlite", 3)
        (folder / "readings.csv").write_text("feature,value,unit\nnl-fr,144.61,mm\nnr-fl,143.85,mm\n")
        whole_s = {words: run(words, folder, None)[2] for words in COMMANDS}
        for number in range(args.times):
            words = COMMANDS[number % len(COMMANDS)]
            after_s = chance.uniform(0.0, whole_s[words])
            status, printed, _ = run(words, folder, after_s)
            if not printed.startswith(MARK.decode()) or printed.removeprefix(MARK.decode()).startswith(BETWEEN):
                endings["while Python itself was starting"] += 1
                continue
            endings["by the signal" if status == -signal.SIGINT else f"status {status}"] += 1
            if "Traceback" in printed or "Exception" in printed or status in (70, -1000):
                failed += 1
                print(f"{' '.join(words)}, after {after_s:.2f} s: {status}: {printed[-1500:]}", flush=True)
            left = [path.name for path in folder.rglob("*partial*")]
            if left:
                failed += 1
                print(f"{' '.join(words)}, after {after_s:.2f} s left {left}", flush=True)
    counts = ", ".join(f"{count} {ending}" for ending, count in endings.most_common())
    print(f"{args.times} interrupted ({counts}); traceback or half a file: {failed}")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
