"""The fault report: what a maintainer needs, in one folder on a stick, and nothing that a person typed or measured.

Input: this machine and this process. Output: files as bytes, SHA256SUMS among them. Without readings and without names
unless they are wanted; then the newest session goes along as it is downloaded.
"""

import json
import platform
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

from core import SOFTWARE
from core.records import CHECKSUMS_FILE, checksums_text, new_session_id
from hardware import PROGRAM
from ui.bench.journal import kept_lines

_JOURNAL_LINES = 2_000
_LOG_S = 20
_LIBRARIES = ("kivy", "numpy", "pyserial", "fpdf2", "ezdxf", "evdev", "RPi.GPIO", "rpi-lgpio")

Run = Callable[[list[str]], str]


def fault_report(data: Path, doctor: str, *, now: datetime | None = None, run: Run | None = None) -> dict[str, bytes]:
    """Name and content of every file; `doctor` is what the doctor says, as JSON."""
    run = run or _output
    lines, counts = kept_lines()
    texts = {
        "versions.json": json.dumps(_versions(), indent=1) + "\n",
        "doctor.json": doctor + "\n",
        "update.json": _text_of(PROGRAM / "update.json"),
        "process.log": "".join(f"{line}\n" for line in lines),
        "counts.json": json.dumps(counts, indent=1) + "\n",
        "journal.log": run(
            ["journalctl", "-u", "cornerwise*", "-b", "-n", str(_JOURNAL_LINES), "-o", "short-precise", "--no-pager"]
        ),
        "kernel.log": run(["journalctl", "-k", "-b", "-p", "warning", "-n", "300", "--no-pager"]),
        "files.json": json.dumps(_files(data), indent=1) + "\n",
        "when.txt": f"{(now or datetime.now(UTC)).isoformat(timespec='seconds')}\n",
    }
    files = {name: text.encode("utf-8", "backslashreplace") for name, text in texts.items()}
    return files | {CHECKSUMS_FILE: checksums_text(files).encode("ascii")}


def report_name(now: datetime | None) -> str:
    """The folder's name: lawful on FAT, and another one each time."""
    return f"fault-report-{new_session_id(now)}"


def _versions() -> dict[str, str]:
    found = {"software": SOFTWARE, "python": sys.version.split()[0], "system": platform.platform()}
    for name in _LIBRARIES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "not there"
    return found


def _files(data: Path) -> dict[str, int]:
    """What lies beside the archive, by size: whether something was set aside, without what is in it."""
    if not data.is_dir():
        return {}
    return {path.name: path.stat().st_size for path in sorted(data.iterdir()) if path.is_file()}


def _text_of(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8", errors="backslashreplace")[:65536]
    except OSError as error:
        return f"{type(error).__name__}\n"


def _output(command: list[str]) -> str:
    if shutil.which(command[0]) is None:
        return f"{command[0]} is not there\n"
    try:
        done = subprocess.run(
            command, capture_output=True, encoding="utf-8", errors="replace", timeout=_LOG_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"{type(error).__name__}\n"
    return done.stdout or done.stderr
