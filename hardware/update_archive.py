"""The update as one file on a stick: what is in it, whose it is, and whether it is whole. Nothing is run or installed.

Stage: hardware; runs as root, on a copy that only root can write. Input: the file. Output: its Manifest, its wheels in
a folder, or RefusedError with a sentence for the person.

The file is a ZIP of stored members: `manifest.json`, `manifest.sig` and Python wheels. The manifest names every wheel
with size and SHA-256, the signature is over the manifest, byte for byte: so it is over everything.

The signature is OpenSSH's file signature (`ssh-keygen -Y`, Ed25519): checked by a tool that the system keeps up to date
and that the board has anyway, where a Python library would be one more thing to carry in every release. It names what
it was made for, so that no signature made for another purpose counts, and the maker's key may have a passphrase or live
in a hardware token. Source: ssh-keygen(1), "ALLOWED SIGNERS".
"""

import hashlib
import json
import os
import re
import struct
import subprocess
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO

from msgspec import Struct

from core.said import Name, Said, said
from hardware.helper_client import VERSION_FORM
from hardware.root_verbs import RefusedError

MANIFEST, SIGNATURE = "manifest.json", "manifest.sig"
FORMAT = 1
# Who signs and what for, in the words of the allowed-signers file.
SIGNER, PURPOSE = "cornerwise-update", "update@cornerwise"

MAX_ARCHIVE_BYTES = 400 * 1024 * 1024
MAX_MANIFEST_BYTES = 64 * 1024
MAX_SIGNATURE_BYTES = 8 * 1024
MAX_MEMBERS = 100
_BLOCK_BYTES = 1024 * 1024
_END = struct.Struct("<4s4H2IH")
_END_MARK = b"PK\x05\x06"
# A name of 100 letters and what belongs to it, for each member.
_MAX_DIRECTORY_BYTES = 64 * 1024

# A wheel's name by its standard (PyPA, "Binary distribution format"): no separator of folders can be in it.
_WHEEL_FORM = re.compile(r"([A-Za-z0-9_.]+)-([A-Za-z0-9_.!+]+)(-[0-9][A-Za-z0-9_.]*)?(-[A-Za-z0-9_.]+){3}\.whl")
_SHA256_FORM = re.compile(r"[0-9a-f]{64}")
# What Python's zipfile raises for what is no ZIP, or is a broken, encrypted or absurd one.
_ZIP_ERRORS = (OSError, ValueError, EOFError, RuntimeError, OverflowError, struct.error, zipfile.BadZipFile)


def _damaged(why: Said) -> RefusedError:
    return RefusedError(said("the update on the stick is damaged ({why}): copy it onto the stick once more", why=why))


class Wheel(Struct, frozen=True, kw_only=True):
    """One member: a Python wheel by its file name."""

    name: str
    sha256: str
    size_bytes: int

    @property
    def distribution(self) -> str:
        """What pip calls it: name and version."""
        found = _WHEEL_FORM.fullmatch(self.name)
        assert found is not None  # parse_manifest took no other
        return f"{found[1]}=={found[2]}"


class Manifest(Struct, frozen=True, kw_only=True):
    """What an update says of itself. `system` is the digest of what the package puts outside of the releases (units,
    rules), `pythons` are such as 3.11, `machines` such as aarch64."""

    version: str
    pythons: tuple[str, ...]
    machines: tuple[str, ...]
    system: str
    wheels: tuple[Wheel, ...]


def read_header(file: IO[bytes], trusted: Path) -> Manifest:
    """The manifest alone, signed by a trusted key: what is believed of a file before any of it is copied or unpacked.

    Bounded in memory and time whatever the file is; raises RefusedError.
    """
    with _opened(file) as members:
        return _signed_manifest(members, trusted)


def read_update(archive: Path, trusted: Path) -> Manifest:
    """The manifest of an update that is signed by a trusted key and whole; raises RefusedError otherwise."""
    with archive.open("rb") as file, _opened(file) as members:
        manifest = _signed_manifest(members, trusted)
        _check_names(members, manifest)
        for wheel in manifest.wheels:
            for _ in _blocks(members, wheel):
                pass
    return manifest


def _signed_manifest(members: zipfile.ZipFile, trusted: Path) -> Manifest:
    manifest = _small(members, MANIFEST, MAX_MANIFEST_BYTES)
    check_signature(manifest, _small(members, SIGNATURE, MAX_SIGNATURE_BYTES), trusted)
    return parse_manifest(manifest)


def unpack_wheels(archive: Path, manifest: Manifest, folder: Path) -> None:
    """Write the wheels into a folder, each checked against the manifest once more while it is written."""
    with archive.open("rb") as file, _opened(file) as members:
        for wheel in manifest.wheels:
            with (folder / wheel.name).open("xb") as writing:
                for block in _blocks(members, wheel):
                    writing.write(block)


def check_signature(manifest: bytes, signature: bytes, trusted: Path) -> None:
    """Raise RefusedError unless one of the trusted keys signed these very bytes for this purpose."""
    if not trusted.is_file():
        raise RefusedError(
            said("this bench was installed without a key for updates: its package brings one, made with --update-key")
        )
    with TemporaryDirectory(prefix="cornerwise-signature-") as folder:
        file = Path(folder) / SIGNATURE
        file.write_bytes(signature)
        command = ["ssh-keygen", "-q", "-Y", "verify", "-f", str(trusted), "-I", SIGNER, "-n", PURPOSE, "-s", str(file)]
        try:
            done = subprocess.run(command, input=manifest, capture_output=True, timeout=30, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise RefusedError(
                said("the signature cannot be checked on this bench: {why}", why=Name(str(error)))
            ) from error
    if done.returncode != 0:
        raise RefusedError(
            said("not signed by a key this bench trusts, or changed since: get it again from whoever made it")
        )


def parse_manifest(content: bytes) -> Manifest:
    """The manifest in these bytes; RefusedError for anything but the exact form."""
    try:
        told = json.loads(content)
        if told["format"] != FORMAT:
            raise RefusedError(said("the update is of a form that this version does not know: install its package"))
        manifest = Manifest(
            version=_worded(told["version"], VERSION_FORM),
            pythons=tuple(_worded(one, re.compile(r"3\.[0-9]{1,2}")) for one in told["pythons"]),
            machines=tuple(_worded(one, re.compile(r"[a-z0-9_]{1,20}")) for one in told["machines"]),
            system=_worded(told["system"], _SHA256_FORM),
            wheels=tuple(
                Wheel(
                    name=_worded(name, _WHEEL_FORM),
                    sha256=_worded(wheel["sha256"], _SHA256_FORM),
                    size_bytes=int(wheel["bytes"]),
                )
                for name, wheel in told["wheels"].items()
            ),
        )
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise _damaged(said("its manifest cannot be read")) from error
    total = sum(wheel.size_bytes for wheel in manifest.wheels)
    if not 0 < len(manifest.wheels) <= MAX_MEMBERS or total > MAX_ARCHIVE_BYTES:
        raise _damaged(said("too much or nothing in it"))
    return manifest


def _worded(value: object, form: re.Pattern[str]) -> str:
    if not isinstance(value, str) or not form.fullmatch(value):
        raise ValueError(f"{value!r} is not of the form {form.pattern}")
    return value


@contextmanager
def _opened(file: IO[bytes]) -> Iterator[zipfile.ZipFile]:
    """The ZIP for reading; whatever is wrong with one is a damaged update."""
    try:
        _check_directory(file)
        with zipfile.ZipFile(file) as members:
            yield members
    except _ZIP_ERRORS as error:
        raise _damaged(said("it is not whole")) from error


def _check_directory(file: IO[bytes]) -> None:
    """Bound the list of members before the library reads it: millions of them fit into a file of this size.

    The end record, as the standard has it (ZIP File Format Specification 4.3.16), must be the last thing in the file.
    """
    size = file.seek(0, os.SEEK_END)
    file.seek(max(0, size - _END.size))
    tail = file.read(_END.size)
    if len(tail) < _END.size:
        raise _damaged(said("it is not whole"))
    mark, disk, first, here, total, length, offset, comment = _END.unpack(tail)
    whole = mark == _END_MARK and not comment and disk == first == 0 and offset + length == size - _END.size
    if not whole or not here == total <= MAX_MEMBERS + 2 or length > _MAX_DIRECTORY_BYTES:
        raise _damaged(said("its list of members is not that of an update"))


def _small(members: zipfile.ZipFile, name: str, most_bytes: int) -> bytes:
    try:
        info = members.getinfo(name)
    except KeyError:
        raise _damaged(said("there is no {name} in it", name=Name(name))) from None
    if info.compress_type != zipfile.ZIP_STORED or info.file_size > most_bytes:
        raise _damaged(said("{name} is too large", name=Name(name)))
    return members.read(info)


def _check_names(members: zipfile.ZipFile, manifest: Manifest) -> None:
    """Exactly what the manifest names, each once: nothing that was not signed for is in the file."""
    named = [MANIFEST, SIGNATURE, *(wheel.name for wheel in manifest.wheels)]
    if sorted(members.namelist()) != sorted(named):
        raise _damaged(said("it does not hold what its manifest names"))


def _blocks(members: zipfile.ZipFile, wheel: Wheel) -> Iterator[bytes]:
    """A member's bytes; RefusedError at the end unless they are those that were signed for."""
    info = members.getinfo(wheel.name)
    if info.compress_type != zipfile.ZIP_STORED or info.file_size != wheel.size_bytes:
        raise _damaged(said("{name} has another size", name=Name(wheel.name)))
    digest = hashlib.sha256()
    with members.open(info) as member:
        while block := member.read(_BLOCK_BYTES):
            digest.update(block)
            yield block
    if digest.hexdigest() != wheel.sha256:
        raise _damaged(said("{name} is not what was signed", name=Name(wheel.name)))
