"""SHA256SUMS: the checksums of a folder's files, in the layout that `sha256sum --check` reads."""

import os
import re
from collections.abc import Mapping
from pathlib import Path

from core.errors import BadInputError
from core.records.digest import sha256
from core.regular_file import opened_regular_file, read_regular_file
from core.said import Name, said

CHECKSUMS_FILE = "SHA256SUMS"

# A download has six files of which the report is the largest, some 100 kB.
MAX_FILES = 64
MAX_FILE_BYTES = 16 * 1024 * 1024
# A saved bench has all its records in one.
MAX_VERIFIED_BYTES = 4 * 1024**3
_BLOCK_BYTES = 1024 * 1024
_LINE = re.compile(r"([0-9a-f]{64})  ([A-Za-z0-9_][A-Za-z0-9_.-]{0,63})")
_MAX_LIST_BYTES = 16 * 1024


def checksums_text(files: Mapping[str, bytes]) -> str:
    """One line a file: digest, two spaces, name; names sorted."""
    return "".join(f"{sha256(files[name]).hexdigest()}  {name}\n" for name in sorted(files))


def verify_folder(folder: Path) -> None:
    """Read every file named in SHA256SUMS and compare; raises BadInputError naming the first that does not agree."""
    for name, digest in _digests(folder).items():
        found, read = sha256(), 0
        with opened_regular_file(folder / name) as file:
            if os.fstat(file.fileno()).st_size > MAX_VERIFIED_BYTES:
                raise _differs(folder, name)  # a file with holes in it is read for hours
            while read <= MAX_VERIFIED_BYTES and (block := file.read(_BLOCK_BYTES)):
                found.update(block)
                read += len(block)
        if read > MAX_VERIFIED_BYTES or found.hexdigest() != digest:
            raise _differs(folder, name)


def verified_file(folder: Path, wanted: str) -> bytes:
    """The content of one file as it was compared, after all that SHA256SUMS names agreed; raises BadInputError.

    A file that SHA256SUMS does not name is not read.
    """
    digests = _digests(folder)
    if wanted not in digests:
        raise BadInputError(
            said(
                "{folder}: {list} does not name {file}: this is no complete download",
                folder=Name(str(folder)),
                list=Name(CHECKSUMS_FILE),
                file=Name(wanted),
            )
        )
    for name, digest in digests.items():
        if name != wanted:
            _verified(folder, name, digest)
    return _verified(folder, wanted, digests[wanted])


def unnamed_files(folder: Path) -> tuple[str, ...]:
    """What lies in the folder beside the files that SHA256SUMS names: nothing vouches for it."""
    known = {CHECKSUMS_FILE, *_digests(folder)}
    return tuple(sorted(path.name for path in folder.iterdir() if path.name not in known))


def _digests(folder: Path) -> dict[str, str]:
    shown, listed = Name(str(folder)), Name(CHECKSUMS_FILE)
    try:
        lines = read_regular_file(folder / CHECKSUMS_FILE, _MAX_LIST_BYTES).decode("ascii").splitlines()
    except (BadInputError, UnicodeDecodeError) as exc:
        raise BadInputError(
            said("{folder}: {list} is missing or unreadable: this is no complete download", folder=shown, list=listed)
        ) from exc
    if not lines:
        raise BadInputError(said("{folder}: {list} is empty: this is no complete download", folder=shown, list=listed))
    if len(lines) > MAX_FILES:
        raise BadInputError(
            said("{folder}: {list} names more than {limit} files", folder=shown, list=listed, limit=MAX_FILES)
        )
    digests: dict[str, str] = {}
    for line in lines:
        match = _LINE.fullmatch(line)
        if match is None or match[2] in digests or match[2] == CHECKSUMS_FILE:
            raise BadInputError(
                said(
                    "{folder}: {list} says {line}, and that is no file of this folder",
                    folder=shown,
                    list=listed,
                    line=Name(repr(line[:160])),
                )
            )
        digests[match[2]] = match[1]
    return digests


def _verified(folder: Path, name: str, digest: str) -> bytes:
    content = read_regular_file(folder / name, MAX_FILE_BYTES)
    if sha256(content).hexdigest() != digest:
        raise _differs(folder, name)
    return content


def _differs(folder: Path, name: str) -> BadInputError:
    return BadInputError(
        said(
            "{folder}: {file} is not what was written (its checksum differs)",
            folder=Name(str(folder)),
            file=Name(name),
        )
    )
