"""Files from elsewhere, read whole and bounded: never a pipe, a device or more than was agreed on.

Stage: every place where a person, a stick or another bench hands a file in. Input: its path and the most it may hold.
Output: its bytes, or one sentence that says why not.
"""

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from core.errors import BadInputError, reason_of
from core.said import Name, said


@contextmanager
def opened_regular_file(path: Path) -> Iterator[IO[bytes]]:
    """The file open for reading; raises BadInputError where it cannot be read or is no ordinary file."""
    shown = Name(str(path))
    try:
        # Without O_NONBLOCK, opening a pipe that nobody writes to would wait for ever.
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        with os.fdopen(handle, "rb") as file:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise BadInputError(said("{file}: this is no ordinary file, so it is not read", file=shown))
            yield file
    except (OSError, ValueError) as exc:
        if isinstance(exc, BadInputError):
            raise
        raise BadInputError(said("{file}: cannot be read: {reason}", file=shown, reason=reason_of(exc))) from exc


def read_regular_file(path: Path, limit_bytes: int) -> bytes:
    """The bytes of a file; raises BadInputError where it cannot be read, is no ordinary file, or holds too much."""
    with opened_regular_file(path) as file:
        content = file.read(limit_bytes + 1)
    if len(content) > limit_bytes:
        raise BadInputError(
            said("{file}: larger than {limit} kB, so it is not read", file=Name(str(path)), limit=limit_bytes // 1024)
        )
    return content
