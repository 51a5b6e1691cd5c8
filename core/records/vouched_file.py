"""Small files beside the archive by which is measured: one flipped bit in a number of theirs is another number.

Stage: under settings, instruments and their accuracy. A file beside each holds its checksum and when it was written.
One that was written then and has another checksum now was damaged on the card; one that was written since, by a
person's hand or an earlier version of the program, vouches for itself.
"""

import re
from contextlib import suppress
from pathlib import Path

from core.errors import BadInputError, StorageError
from core.records.digest import sha256
from core.records.whole_writing import write_file
from core.regular_file import read_regular_file
from core.said import said

_FORM = re.compile(r"([0-9a-f]{64}) ([0-9]{1,20})\n")
_MAX_BYTES = 128


def voucher_of(file: Path) -> Path:
    """The file that vouches for this one."""
    return file.with_name(f"{file.name}.sum")


def write_vouched(file: Path, content: bytes) -> None:
    """Put the content under this name, and what vouches for it beside it; raises StorageError and its kin.

    Cut off in between, the older voucher knows nothing of the file, and the file stands as it is.
    """
    write_file(file, content)
    with suppress(StorageError, OSError):
        write_file(voucher_of(file), f"{_digest(content)} {file.stat().st_mtime_ns}\n".encode("ascii"))


def read_vouched(file: Path, limit_bytes: int) -> bytes:
    """The bytes of a file; raises BadInputError where it cannot be read, or is not what was written."""
    content = read_regular_file(file, limit_bytes)
    found = _FORM.fullmatch(_voucher(file))
    if found is None or int(found[2]) != file.stat().st_mtime_ns:
        return content
    # A bit that was flipped in the voucher itself leaves all letters but one.
    if sum(one != other for one, other in zip(found[1], _digest(content), strict=True)) > 1:
        raise BadInputError(said("this is not what was written, the card has damaged it"))
    return content


def _voucher(file: Path) -> str:
    voucher = voucher_of(file)
    with suppress(BadInputError, UnicodeDecodeError, OSError):
        if voucher.exists():
            return read_regular_file(voucher, _MAX_BYTES).decode("ascii")
    return ""


def _digest(content: bytes) -> str:
    return sha256(content).hexdigest()
