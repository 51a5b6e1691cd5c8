"""SHA-256, from the library that is loaded with the first of them: the first screen needs none, and waits for none."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hashlib import _Hash


def sha256(content: bytes = b"") -> _Hash:
    """The digest of this, which goes on growing by `update`."""
    import hashlib

    return hashlib.sha256(content)
