"""The journal and the fault report: every thread's errors by kind and place, and nothing that a person typed."""

from __future__ import annotations

import json
import logging
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from core.records.checksums import verify_folder
from core.records.whole_writing import write_folder
from ui.bench.fault_report import fault_report, report_name
from ui.bench.journal import Journal, keep_journal, kept_lines

TYPED = "Ana's secret template"


@pytest.fixture
def journal() -> Iterator[Journal]:
    hooks = sys.excepthook, threading.excepthook, sys.unraisablehook
    log = logging.getLogger("cornerwise")
    before = log.handlers[:], log.level, log.propagate
    loops = logging.getLogger("asyncio")
    of_loops = loops.handlers[:], loops.filters[:]
    journal = keep_journal()
    yield journal
    sys.excepthook, threading.excepthook, sys.unraisablehook = hooks
    log.handlers[:], log.level, log.propagate = before
    loops.handlers[:], loops.filters[:] = of_loops


def fail() -> None:
    raise ValueError(TYPED)


def test_what_escapes_from_a_thread_is_logged_by_kind_and_place(journal: Journal) -> None:
    thread = threading.Thread(target=fail, name="belt listener")
    thread.start()
    thread.join()
    (line,) = journal.lines()
    assert "belt listener: cornerwise: a thread ended [ValueError at test_journal.py:" in line
    assert TYPED not in line
    assert journal.counts() == {"critical cornerwise": 1}


ESCAPES = """
import asyncio, logging
from ui.bench.journal import keep_journal, kept_lines

class Typed:
    def __del__(self):
        raise ValueError("Jane's router")

async def called_back():
    def fails():
        raise ValueError("Jane's router")
    asyncio.get_running_loop().call_soon(fails)
    await asyncio.sleep(0)

keep_journal()
Typed()
asyncio.run(called_back())
print(*kept_lines()[0], sep="\\n")
"""


def test_what_escapes_where_nobody_can_catch_it_is_logged_by_kind_and_place() -> None:
    """From what Python itself calls, and from a callback of the radio's loop: in a program of its own, for pytest has
    hooks of its own there."""
    done = subprocess.run(
        [sys.executable, "-c", ESCAPES], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[3]
    )
    deleted, called = done.stdout.splitlines()
    assert "a callback ended [ValueError at <string>:7 __del__" in deleted
    assert "asyncio: a loop's callback ended [ValueError at <string>:11 fails" in called
    assert "Jane" not in done.stdout


def test_only_the_newest_lines_are_kept_and_all_are_counted(journal: Journal) -> None:
    for number in range(5_000):
        logging.getLogger("cornerwise.links").warning("flood %d", number)
    lines, counts = kept_lines()
    assert len(lines) <= 400
    assert lines[-1].endswith("flood 4999")
    assert counts == {"warning cornerwise.links": 5_000}


def test_lines_for_the_service_manager_carry_their_level(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, journal: Journal
) -> None:
    monkeypatch.setenv("JOURNAL_STREAM", "8:1234")
    log = logging.getLogger("cornerwise")
    log.removeHandler(journal)
    keep_journal()
    log.error("archive opened anew")
    assert capsys.readouterr().err == "<3>MainThread: cornerwise: archive opened anew\n"


def test_a_fault_report_holds_what_a_maintainer_needs_and_nothing_typed(tmp_path: Path, journal: Journal) -> None:
    try:
        fail()
    except ValueError:
        logging.getLogger("cornerwise").exception("unforeseen in archive")
    (tmp_path / "archive.sqlite").write_text(TYPED)
    (tmp_path / "archive.sqlite.damaged-1").write_text(TYPED)
    files = fault_report(tmp_path, json.dumps({"ok": True}), run=lambda command: f"{command[0]}\n")
    assert json.loads(files["files.json"]).keys() == {"archive.sqlite", "archive.sqlite.damaged-1"}
    assert b"ValueError at test_journal.py" in files["process.log"]
    assert json.loads(files["versions.json"])["software"].startswith("cornerwise")
    assert not [name for name, content in files.items() if TYPED.encode() in content]
    target = tmp_path / "out" / report_name(None)
    write_folder(files, target)
    verify_folder(target)
