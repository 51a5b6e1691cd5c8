"""The check of the place where records are kept: writable, room left, and how long a committed write takes.

Stage: hardware. Input: the data folder. Output: one check. Every accepted reading waits for one such write.
"""

import os
import shutil
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import NamedTemporaryFile

from core.errors import reason_of
from core.said import Name, Number, said
from hardware.checkup import Check, fine, wrong

ROOM_NEEDED_BYTES = 200_000_000  # a thousand sessions take about 20 MB; the rest is for exports and updates
SLOW_S = 0.5  # a reading that takes longer than this to be accepted feels broken at the bench
WRITES, BLOCK = 10, b"\0" * 4096


def _writes_with_sync(folder: Path, clock_s: Callable[[], float]) -> list[float]:
    """Seconds that each small write took until it was on the disk."""
    took_s = []
    with NamedTemporaryFile(dir=folder, prefix=".cornerwise-check-") as file:
        for _ in range(WRITES):
            begun_s = clock_s()
            file.write(BLOCK)
            file.flush()
            os.fsync(file.fileno())
            took_s.append(clock_s() - begun_s)
    return took_s


def check_disk(folder: Path, *, clock_s: Callable[[], float] = time.monotonic) -> Check:
    """Whether the data folder (or where it will be made) takes writes, has room, and how fast a synced write is."""
    name = "disk"
    while not folder.exists():
        folder = folder.parent
    try:
        took_s = _writes_with_sync(folder, clock_s)
    except OSError as error:
        to_do = said("free or replace the card, or choose another folder with --data")
        return wrong(name, said("{file}: {what}", file=Name(str(folder)), what=reason_of(error)), to_do)
    free = shutil.disk_usage(folder).free
    median_ms, worst_ms = statistics.median(took_s) * 1e3, max(took_s) * 1e3
    says = said(
        "{folder}: {free} free, a synced write {usual}, at worst {worst}",
        folder=Name(str(folder)),
        free=Number(free / 1e9, 1, "GB"),
        usual=Number(median_ms, 1, "ms"),
        worst=Number(worst_ms, 1, "ms"),
    )
    if free < ROOM_NEEDED_BYTES:
        to_do = said("download and remove old records, or use a larger card")
        return wrong(name, says, to_do)
    if median_ms > SLOW_S * 1e3:
        to_do = said("the card is worn or poor: copy it to a new one")
        return wrong(name, says, to_do)
    return fine(name, says)
