"""The archive's lock and whoever runs on what others leave of a processor, with the kernel's own word for it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from core.records.unstarved import unstarved

_MARK = """
import os, sys
from pathlib import Path
from core.records import Archive
from core.records.outbox import LogKind
from core.records.shop_records import Mark
archive = Archive.open(Path(sys.argv[1]), lambda: None)
os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
seen = []
archive._connection.set_trace_callback(lambda statement: seen.append((statement.split()[0], os.sched_getscheduler(0))))
archive.shop.mark([Mark(kind=LogKind.SESSION, log="a", entries=1)])
archive._connection.set_trace_callback(None)
print({what: policy == os.SCHED_IDLE for what, policy in seen}, os.sched_getscheduler(0) == os.SCHED_IDLE)
"""


@pytest.mark.skipif(os.getuid() != 0, reason="only root, or a unit's limit, lets an idle process be like others again")
def test_the_lock_is_never_held_by_a_process_that_may_wait_for_ever(tmp_path: Path) -> None:
    told = subprocess.run(
        [sys.executable, "-c", _MARK, str(tmp_path / "archive.sqlite")], capture_output=True, text=True, check=True
    )
    idle_at, idle_behind = told.stdout.split("} ")
    assert "'BEGIN': False" in idle_at
    assert "'INSERT': False" in idle_at
    assert "'COMMIT': False" in idle_at
    assert "'PRAGMA': True" in idle_at
    assert idle_behind.strip() == "True"


def test_who_runs_like_others_goes_on_like_others() -> None:
    before = os.sched_getscheduler(0)
    with unstarved():
        assert os.sched_getscheduler(0) == before
    assert os.sched_getscheduler(0) == before
