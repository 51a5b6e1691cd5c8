"""Real power cuts while readings stream onto an ext4 card: acknowledged readings missing must be 0.

    python tests/endurance/power_cuts.py --boot /path/to/boot --times 20

Each round boots a machine with its own kernel and a disk of its own, checks the archive left by the cut before, streams
readings on, and is killed dead when it has printed a random number of acknowledgements; what the disk had in its cache
and was not told to keep is gone. The same script is what runs inside (`--inside`).
"""

from __future__ import annotations

import argparse
import random
import re
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from kill_nine import COUPON, missing_after, now, reading

from core.metrology.accuracy import MeasuringSetup
from core.metrology.tolerances import Limits
from core.records.archive import Archive
from core.records.events import Opened

DISK = Path("/dev/vda")
CARD = Path("/tmp/card")
DISK_BYTES = 64 * 1024 * 1024


def inside(acknowledged: int) -> int:
    """In the machine: check what the last cut left, then stream until the power goes."""
    CARD.mkdir(exist_ok=True)
    subprocess.run(["mount", "-t", "ext4", DISK, CARD], check=True)
    path = CARD / "archive.sqlite"
    missing = missing_after(path, acknowledged)
    connection = sqlite3.connect(path)
    state = connection.execute("PRAGMA integrity_check").fetchone()[0]
    connection.close()
    print(f"CHECK missing={missing} integrity={state}", flush=True)
    archive = Archive.open(path, now)
    opened = Opened(coupon=COUPON, limits=Limits(source="own limits", perpendicularity_mm=0.4), setup=MeasuringSetup())
    session_id = archive.unfinished() or archive.begin(opened)
    sequence = archive.events(session_id)[-1].sequence
    first = sequence
    while sequence < first + 2000:
        sequence = archive.append(session_id, reading(sequence + 1)).sequence
        print(f"ACK {sequence} ROUND {sequence - first}.", flush=True)
    return 0


def round_of(boot: str, disk: Path, acknowledged: int, cut_after: int) -> tuple[int, int]:
    """(missing, last acknowledged) of one boot that ends in a power cut."""
    command = [boot, "--limit", "900", "--disk", str(disk), "--cut-power-after", f"ROUND {cut_after}\\.", "--"]
    command += [sys.executable, str(Path(__file__).resolve()), "--inside", str(acknowledged)]
    for _ in range(3):
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        output = done.stdout
        check = re.search(r"CHECK missing=(\d+) integrity=(.+)", output)
        if check is not None:
            break
        print(f"the machine did not start, once more: {done.stderr[-500:]}{output[-500:]}", flush=True)
    if check is None or check[2].strip() != "ok":
        raise SystemExit(f"the archive is not whole:\n{output[-3000:]}")
    numbers = [int(number) for number in re.findall(r"ACK (\d+) ", output)]
    return int(check[1]), max([acknowledged, *numbers])


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--boot", help="the virtual machine's boot command")
    parser.add_argument("--times", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--inside", type=int, metavar="ACKNOWLEDGED", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.inside is not None:
        return inside(args.inside)
    random_source = random.Random(args.seed)
    missing = acknowledged = 0
    with tempfile.TemporaryDirectory() as folder:
        disk = Path(folder) / "card.img"
        with disk.open("wb") as file:
            file.truncate(DISK_BYTES)
        subprocess.run(["mkfs.ext4", "-q", "-F", disk], check=True)
        for cut in range(args.times + 1):
            lost, acknowledged = round_of(args.boot, disk, acknowledged, random_source.randint(5, 60))
            missing += lost
            print(f"after {cut} cuts: {acknowledged} acknowledged, missing: {missing}", flush=True)
    print(f"{args.times} power cuts, {acknowledged} acknowledged events, missing: {missing}, integrity_check ok")
    return int(missing > 0)


if __name__ == "__main__":
    sys.exit(main())
