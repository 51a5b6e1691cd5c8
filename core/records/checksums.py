"""SHA256SUMS: the checksums of a folder's files, in the layout that `sha256sum --check` reads."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from core.errors import BadInputError

CHECKSUMS_FILE = "SHA256SUMS"


def checksums_text(files: Mapping[str, bytes]) -> str:
    """One line a file: digest, two spaces, name; names sorted."""
    return "".join(f"{hashlib.sha256(files[name]).hexdigest()}  {name}\n" for name in sorted(files))


def verify_folder(folder: Path) -> None:
    """Read every file named in SHA256SUMS and compare; raises BadInputError naming the first that does not agree."""
    try:
        lines = (folder / CHECKSUMS_FILE).read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError) as exc:
        raise BadInputError(
            f"{folder}: {CHECKSUMS_FILE} is missing or unreadable: this is no complete download"
        ) from exc
    if not lines:
        raise BadInputError(f"{folder}: {CHECKSUMS_FILE} is empty: this is no complete download")
    for line in lines:
        digest, _, name = line.partition("  ")
        if not name or Path(name).name != name:
            raise BadInputError(f"{folder}: {CHECKSUMS_FILE} names {name!r}, which is no file of this folder")
        try:
            found = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        except OSError as exc:
            raise BadInputError(f"{folder}: {name} cannot be read: {exc.strerror or exc}") from exc
        if found != digest:
            raise BadInputError(f"{folder}: {name} is not what was written (its checksum differs)")
