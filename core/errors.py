"""The error tree: what can be wrong with an input or with the place, each with one sentence for the person.

    CornerwiseError
    ├── BadInputError           (ValueError)   an input file or argument says something impossible
    │   ├── ReadingsFileError                  a readings file: names file and line
    │   └── OutsideTableError                  a nominal size outside a standard's table
    ├── NotAvailableError       (RuntimeError) something the command needs is not there
    ├── StoppedError            (RuntimeError) the person did not want to wait any longer
    └── StorageError            (OSError)      the archive or a download cannot be written or read
        ├── DiskFullError
        ├── ReadOnlyError
        ├── LostFileError                      the archive's file was removed or replaced under the bench
        └── DamagedArchiveError

Bad bytes, pulled cables and contradictory readings are values, never exceptions.
"""

import errno

from core.said import Name, Part, Said, said, worded


class CornerwiseError(Exception):
    """Root of all errors of our own; `what` is the sentence for the person, `str(error)` the same in English.

    Either way it is one line, and no letter in it steers a terminal.
    """

    def __str__(self) -> str:
        return worded(self.what)

    @property
    def what(self) -> Part:
        """The sentence, to be worded where it is shown."""
        first = self.args[0] if self.args else ""
        return first if isinstance(first, Said) else Name(str(first))


# What the system says of a file, so that it can be said in the person's language.
_OF_THE_SYSTEM = {
    errno.ENOENT: said("No such file or directory"),
    errno.EACCES: said("Permission denied"),
    errno.EISDIR: said("Is a directory"),
    errno.ENOTDIR: said("Not a directory"),
    errno.EIO: said("Input/output error"),
    errno.ENOSPC: said("No space left on device"),
}


def reason_of(error: Exception) -> Part:
    """What to say of an error, of ours or of the system's."""
    if isinstance(error, CornerwiseError):
        return error.what
    if isinstance(error, OSError):
        return _OF_THE_SYSTEM.get(error.errno or 0, Name(error.strerror or str(error)))
    return Name(str(error))


class BadInputError(CornerwiseError, ValueError):
    """An input says something impossible; the sentence says where, what, and what would be right."""


class ReadingsFileError(BadInputError):
    """A readings file is wrong at a line; `line` is counted from 1, 0 when it is the file as a whole."""

    def __init__(self, file: str, line: int, what: Part) -> None:
        if line:
            super().__init__(said("{file}, line {line}: {what}", file=Name(file), line=line, what=what))
        else:
            super().__init__(said("{file}: {what}", file=Name(file), what=what))
        self.file = file
        self.line = line


class OutsideTableError(BadInputError):
    """A nominal size lies outside the table of a standard."""


class NotAvailableError(CornerwiseError, RuntimeError):
    """Something the command needs is not there (a port, a display, a stick)."""


class StoppedError(CornerwiseError, RuntimeError):
    """The person did not want to wait any longer; what was begun was taken away again."""

    def __init__(self) -> None:
        super().__init__(said("Stopped: nothing was changed."))


class StorageError(CornerwiseError, OSError):
    """The archive or a download cannot be written or read."""


class DiskFullError(StorageError):
    """There is no room left."""


class ReadOnlyError(StorageError):
    """The card or stick refuses writing."""


class LostFileError(StorageError):
    """The archive's file is no longer the one that stands on the disk."""


class DamagedArchiveError(StorageError):
    """The archive's file is damaged."""
