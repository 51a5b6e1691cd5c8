"""What was acknowledged last, kept beside the archive: a log that lost its end looks like one that a kill cut off.

Stage: under the archive. Input: the head of a log after each commit. Output: on opening, how much of what was
acknowledged is not in the archive. It is written after the commit, so it never knows of more than was on the disk; what
is written is on the disk itself with `settle`, which nobody who waits for an answer waits for. Losing the file, or a
damaged one, costs this look and nothing else.
"""

import os
import sqlite3
from contextlib import suppress
from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError
from core.records import value_json
from core.records.chained_tables import BY_NAME, EVENTS, ChainedTable, head_of, rows_of
from core.records.digest import sha256
from core.regular_file import read_regular_file
from core.said import NOTHING, Name, Part, said

# Written over in place, always as long: no other block of the card is touched.
_FILE_BYTES = 4096
_DIGEST_LETTERS = 32
_FLAGS = os.O_WRONLY | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC


class Acknowledged(Struct, frozen=True, kw_only=True):
    """The log that was written to last, and how many entries it had then."""

    table: str
    log: str
    entries: int


def file_beside(archive: Path) -> Path:
    """Where it is kept."""
    return archive.with_name(f"{archive.name}.acknowledged")


def forget(archive: Path) -> None:
    """Before another file takes the archive's name: whoever puts it there says what is not in it."""
    with suppress(OSError):
        file_beside(archive).unlink(missing_ok=True)


class Acknowledgements:
    """Keeps what was acknowledged last for one open archive."""

    def __init__(self, archive: Path) -> None:
        self._file = file_beside(archive)
        self._handle: int | None = None
        self._unsettled = False

    def note(self, connection: sqlite3.Connection, table: ChainedTable, log: str) -> None:
        """After a commit: what the log's head is now. A card that refuses this refuses nothing that was stored."""
        with suppress(OSError, sqlite3.Error):
            head = head_of(connection, table, log)
            if head is None:
                return
            content = _content(Acknowledged(table=table.name, log=log, entries=head.entries))
            if self._handle is None:
                self._handle = os.open(self._file, _FLAGS, 0o644)
            os.pwrite(self._handle, content.ljust(_FILE_BYTES)[:_FILE_BYTES], 0)
            self._unsettled = True

    def settle(self) -> None:
        """Have the disk remember what was noted."""
        if self._handle is not None and self._unsettled:
            with suppress(OSError):
                os.fdatasync(self._handle)
            self._unsettled = False

    def close(self) -> None:
        """Settle, and free the file."""
        self.settle()
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


def last_acknowledged(archive: Path) -> Acknowledged | None:
    """What was acknowledged last; None where it is not known. To be asked before the archive's heads are."""
    try:
        if not file_beside(archive).exists():
            return None
        digest, _, text = read_regular_file(file_beside(archive), _FILE_BYTES).decode("utf-8").rstrip().partition(" ")
        if digest != _digest(text):
            return None
        return value_json.from_json(Acknowledged, value_json.load(text))
    except (BadInputError, OSError, UnicodeDecodeError):
        return None


def missing_words(connection: sqlite3.Connection, last: Acknowledged | None) -> Part:
    """What to tell the person where the archive ends before what was acknowledged; nothing where it does not."""
    table = BY_NAME.get(last.table) if last is not None else None
    if last is None or table is None:
        return NOTHING
    head = head_of(connection, table, last.log)
    # Where the head is what the card has damaged, the entries are counted.
    there = head.entries if head is not None else len(rows_of(connection, table, last.log))
    if there >= last.entries:
        return NOTHING
    if table is EVENTS:
        return said(
            "Session {name}: {total} events were stored, and the card has kept {there}; the newest are lost.",
            name=Name(last.log),
            total=last.entries,
            there=there,
        )
    return said("What was stored last is not on the card any more ({name}).", name=Name(last.log or last.table))


def _content(last: Acknowledged) -> bytes:
    text = value_json.dump(value_json.to_json(last))
    return f"{_digest(text)} {text}".encode("utf-8", "replace")


def _digest(text: str) -> str:
    return sha256(text.encode("utf-8", "replace")).hexdigest()[:_DIGEST_LETTERS]
