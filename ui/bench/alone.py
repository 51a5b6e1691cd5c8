"""One bench at a time on one data folder: two would go on with the same coupon.

The lock is the kernel's on an open file, so it is gone with its process, however that ended.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from core.errors import NotAvailableError, reason_of
from core.said import Name, said

LOCK_FILE = "bench.lock"


@contextmanager
def alone_on(folder: Path) -> Iterator[None]:
    """Hold the folder for this bench; raises NotAvailableError where another is at work on it, or where
    nobody could tell.

    A folder that cannot be written to is held by nobody: the archive says what is wrong with it.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = os.open(folder / LOCK_FILE, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError:
        yield
        return
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as exc:
            holder = os.pread(lock, 20, 0).decode("ascii", "replace").strip()
            raise NotAvailableError(
                said(
                    "another bench is at work on {folder} (process {process}): end that one first, or give this one a "
                    "folder of its own by --data",
                    folder=Name(str(folder)),
                    process=Name(holder or "?"),
                )
            ) from exc
        except OSError as exc:
            raise NotAvailableError(
                said(
                    "{folder} lies where nothing can be locked ({why}), so that two benches could write at once: put "
                    "the records onto this computer's own card or disk by --data",
                    folder=Name(str(folder)),
                    why=reason_of(exc),
                )
            ) from exc
        with suppress(OSError):  # on a full card it says nothing of whose it is, and holds all the same
            os.ftruncate(lock, 0)
            os.pwrite(lock, f"{os.getpid()}\n".encode("ascii"), 0)
        yield
    finally:
        os.close(lock)
