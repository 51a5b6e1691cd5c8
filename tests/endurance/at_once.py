"""Commands at once on one place: what lies under a final name afterwards is whole, nothing half lies beside it.

    PYTHONPATH=. python tests/endurance/at_once.py --times 20

In each round some commands of one kind are started together: exports of one session into one folder, imports of one
session, saved benches, fault reports; beside one that is killed. Status 1 where one does not hold.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.errors import BadInputError
from core.records.archive import Archive
from core.records.checksums import verify_folder
from tests.endurance.bit_flips import make_archive, now
from tests.endurance.hostile import COMMAND, write_session

AT_ONCE = 4


def started(words: list[str], data: Path) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "CORNERWISE_DATA": str(data), "PYTHONPATH": str(Path(__file__).parents[2])}
    return subprocess.Popen([*COMMAND, *words], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def faults_of(round_of: str, out: Path, data: Path, statuses: list[int]) -> list[str]:
    """What must not be after a round; the first command was killed and may have left what no final name has."""
    faults = [f"status {status}" for status in statuses[1:] if status != 0]
    folders = [path for path in out.iterdir() if "partial" not in path.name] if out.exists() else []
    for folder in folders:
        try:
            if round_of != "fault-report":
                verify_folder(folder)
        except BadInputError as error:
            faults.append(str(error))
    expected = {"export": 1, "save-bench": AT_ONCE - 1, "fault-report": AT_ONCE - 1, "import": 0}[round_of]
    if not expected <= len(folders) <= expected + (round_of in ("save-bench", "fault-report")):
        faults.append(f"{len(folders)} folders")
    with closing(Archive.open(data / "archive.sqlite", now)) as archive:
        if archive.notice:
            faults.append(str(archive.notice))
        if round_of == "import" and len(archive.sessions()) != 4:
            faults.append(f"{len(archive.sessions())} sessions")
    return faults


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    chance, failed = random.Random(args.seed), 0
    with tempfile.TemporaryDirectory() as name:
        top = Path(name)
        make_archive(top / "data" / "archive.sqlite", 3)
        make_archive(top / "other" / "archive.sqlite", 2)
        foreign = write_session(top / "other", top / "foreign")
        calls = {
            "export": ["export", "last", "--to", str(top / "out")], "import": ["import", str(foreign)],
            "save-bench": ["save-bench", "--to", str(top / "out")],
            "fault-report": ["fault-report", "--to", str(top / "out")],
        }  # fmt: skip
        for number in range(args.times):
            for round_of, words in calls.items():
                shutil.rmtree(top / "out", ignore_errors=True)
                data = top / f"data-{number}-{round_of}"
                shutil.copytree(top / "data", data)
                running = [started(words, data) for _ in range(AT_ONCE)]
                time.sleep(chance.uniform(0.5, 3.0))
                running[0].kill()
                statuses = [child.wait() for child in running]
                for fault in faults_of(round_of, top / "out", data, statuses):
                    failed += 1
                    told = running[1].stderr.read().decode()[-300:] if running[1].stderr else ""
                    print(f"round {number}, {round_of}: {fault}: {told}", flush=True)
                shutil.rmtree(data)
    print(f"{args.times} rounds of {AT_ONCE} {', '.join(calls)} at once, one of them killed; faults: {failed}")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
