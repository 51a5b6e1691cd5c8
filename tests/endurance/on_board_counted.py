"""What the installed bench costs on an emulated board, in executed instructions: no other work on this machine counts.

    python -m tests.endurance.on_board_counted --boot COMMAND [--seconds 20]

The board must be installed (`on_board.py package`) and its emulator take `--counted`: then a second inside
is 10^9 instructions on one core, and processor time inside is a count. Printed in 10^9: the start of the bench until
it says that it is ready, cold behind power-on and warm behind a restart (all that the board did meanwhile, and the
bench's own share); an idle second of the bench; and by `tests/benchmarks/bench_on_cable.py`, which runs inside by the
program's own Python, a judgement, an indication and an accepted reading.
"""

import argparse
import base64
import shlex
import sys
from pathlib import Path

from tests.endurance.board.emulated import Board

INSIDE = Path(__file__).parents[1] / "benchmarks" / "bench_on_cable.py"
PYTHON = "/opt/cornerwise/current/bin/python"
BEGAN, READY, USED = "ExecMainStartTimestampMonotonic", "ActiveEnterTimestampMonotonic", "CPUUsageNSec"


def start_of(board: Board) -> tuple[float, float]:
    """From its process to READY, 10^9 instructions: the whole board's, and the bench's own until it was asked."""
    shown = board.shown(BEGAN, READY, USED)
    return (int(shown[READY]) - int(shown[BEGAN])) / 1e6, int(shown[USED]) / 1e9


def idle_second(board: Board, seconds: int) -> float:
    """What the bench uses in a second in which nobody does anything."""
    said = board.run(
        "u() { systemctl show cornerwise.service -p CPUUsageNSec --value; }; sleep 30; "
        f"a=$(u); sleep {seconds}; b=$(u); echo $((b - a))"
    )
    return int(said.split()[-1]) / 1e9 / seconds


def without_screen(board: Board) -> str:
    """The figures that need no screen; the bench itself stands meanwhile."""
    text = base64.b64encode(INSIDE.read_bytes()).decode()
    return board.run(
        f"systemctl stop cornerwise.service; echo {text} | base64 -d >/tmp/bench_on_cable.py; "
        f"cd / && HOME=/tmp {PYTHON} /tmp/bench_on_cable.py; systemctl start cornerwise.service"
    )


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--boot", required=True, help="the command that drives the emulator")
    parser.add_argument("--seconds", type=int, default=20, help="how long the bench is watched idle")
    args = parser.parse_args()
    board = Board(command=tuple(shlex.split(args.boot)), pictures=Path())
    if board.is_up():
        parser.error("a board runs already with this card, and nobody counts its instructions: stop it first")
    board.start("virt", "--counted")
    board.until("the bench", lambda: board.shown("ActiveState")["ActiveState"] == "active")
    whole, own = start_of(board)
    print(
        f"start, cold: ready after {whole:.2f}e9 instructions of the board, {own:.2f}e9 of them the bench's", flush=True
    )
    # It is said to have started when it says so itself: what it has used then is the start's.
    board.run("systemctl restart cornerwise.service")
    whole, own = start_of(board)
    print(
        f"start, warm: ready after {whole:.2f}e9 instructions of the board, {own:.2f}e9 of them the bench's", flush=True
    )
    print(f"idle second: {idle_second(board, args.seconds):.4f}e9 instructions", flush=True)
    print("without a screen (a millisecond is 10^6 instructions):")
    print(without_screen(board), flush=True)
    board.ask("stop")
    return 0


if __name__ == "__main__":
    sys.exit(main())
