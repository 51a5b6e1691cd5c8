"""Where a shop's database is, and as whom this bench logs in: from an address, or from a file that admits a bench.

Input: what a person typed, or a file of the shop's keeper, on a stick for instance. Output: a ShopAccess; kept in the
data folder in a file that nobody else can read. A password never stands in an address: what is typed as a command is
kept by shells and seen by everybody who lists processes.
"""

import os
import stat
from pathlib import Path
from urllib.parse import parse_qs, unquote, urlsplit

from msgspec import Struct

from core.errors import BadInputError
from core.records import value_json, writing_errors
from core.regular_file import opened_regular_file, read_regular_file
from core.said import Name, said

FILE_NAME = "shop.json"
# Of a file that admits one bench.
ADMITS = ".shop"
_MAX_BYTES = 64 * 1024
_FORMAT = "cornerwise shop access"
_PORT = 5432


class ShopAccess(Struct, frozen=True, kw_only=True):
    """`host` is a name, or a folder (from '/') with the server's Unix socket; `certificate` that of the authority that
    vouches for the server (PEM), empty: those that the system trusts; `bench` what the shop calls this bench, where its
    keeper has named it."""

    host: str
    database: str
    role: str
    port: int = _PORT
    password: str = ""
    certificate: str = ""
    bench: str = ""
    format: str = _FORMAT

    @property
    def shop(self) -> str:
        """What the shop is called."""
        return f"{self.host}:{self.port}/{self.database}"


def parse_address(address: str) -> ShopAccess:
    """postgresql://ROLE@HOST[:PORT]/DATABASE; raises BadInputError for anything else, a password above all."""
    parts = urlsplit(address)
    query = parse_qs(parts.query)
    if parts.password is not None or "password" in query:
        raise BadInputError(
            said("a password in an address stays in the history of commands: leave it out, it is asked for")
        )
    try:
        port = parts.port or _PORT
    except ValueError:
        port = 0
    host = unquote(parts.hostname or "") or (query.pop("host", [""])[0])
    database = parts.path.strip("/")
    role = unquote(parts.username or "")
    if parts.scheme not in ("postgresql", "postgres") or query or not (host and database and role and port):
        raise BadInputError(
            said(
                "{address} is no address of a shop: one such as {example} is expected",
                address=Name(repr(address[:200])),
                example=Name("postgresql://bench_2@shop.example/coupons"),
            )
        )
    return ShopAccess(host=host, port=port, database=unquote(database), role=role)


def read_access(path: Path) -> ShopAccess:
    """A file that the shop's keeper made for one bench (`cornerwise shop admit`); raises BadInputError."""
    return parse_access(read_regular_file(path, _MAX_BYTES), str(path))


def parse_access(content: bytes, file: str) -> ShopAccess:
    """What such a file holds; raises BadInputError."""
    if len(content) > _MAX_BYTES:
        raise BadInputError(said("{file}: this is no file that admits a bench to a shop", file=Name(file)))
    try:
        access = value_json.from_json(ShopAccess, value_json.load(content.decode("utf-8")))
    except UnicodeDecodeError as exc:
        raise BadInputError(said("{file}: this is no text in UTF-8", file=Name(file))) from exc
    if access.format != _FORMAT:
        raise BadInputError(said("{file}: this is no file that admits a bench to a shop", file=Name(file)))
    return access


def read_password(path: Path) -> str:
    """The first line of a file that only its owner can read; raises BadInputError where others can."""
    with opened_regular_file(path) as file:
        mode = os.fstat(file.fileno()).st_mode
        content = file.read(_MAX_BYTES)
    if stat.S_IMODE(mode) & 0o077:
        raise BadInputError(
            said("{file}: others can read this password; take that from them first (chmod 600)", file=Name(str(path)))
        )
    return content.decode("utf-8", "replace").split("\n")[0].rstrip("\r")


class AccessFile:
    """The access that is kept in a data folder."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE_NAME

    def load(self) -> ShopAccess | None:
        """What is kept; None where nothing is."""
        return read_access(self.path) if self.path.exists() else None

    def save(self, access: ShopAccess) -> None:
        """Keep it, for nobody else to read; raises StorageError."""
        write_private(self.path, value_json.dump(value_json.to_json(access)) + "\n")

    def remove(self) -> None:
        """Forget it."""
        self.path.unlink(missing_ok=True)


def write_private(path: Path, text: str) -> None:
    """A file whole or not at all, which was never open to anybody else; raises StorageError."""
    partial = path.with_name(f"{path.name}-partial")
    with writing_errors(path):
        partial.unlink(missing_ok=True)
        handle = os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(handle)
        partial.replace(path)
