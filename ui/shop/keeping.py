"""The shop's database itself: made, brought to this software's version, and opened to a bench; by the shop's keeper.

Input: the access of a keeper, who may create roles and schemas in the database. Output: a database with the schema of
`schema/`, and files that admit one bench each. What was applied is kept by the library that applies it (yoyo).
"""

from __future__ import annotations

import re
import secrets
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any, Literal

import psycopg
from msgspec.structs import replace
from psycopg import sql
from yoyo import read_migrations
from yoyo.backends.core.postgresql import PostgresqlPsycopgBackend
from yoyo.connections import DatabaseURI

from core.errors import BadInputError, NotAvailableError
from core.said import Name, said
from ui.shop.access import ShopAccess
from ui.shop.server import check_there, connection_options

_SCHEMA = Path(__file__).parent / "schema"
_APPLIED = "cornerwise_applied"
_ROLE = re.compile(r"[a-z][a-z0-9_]{0,40}")


def set_up(keeper: ShopAccess, today: date) -> None:
    """Make the shop in this database, or bring it to this version, with partitions for this year and the next."""
    with _as_keeper(keeper) as (connection, options):
        encoding = connection.info.parameter_status("server_encoding")
        if encoding != "UTF8":
            raise BadInputError(
                said("the database is in {encoding}: one in UTF8 is needed", encoding=Name(str(encoding)))
            )
        extra = {name: str(value) for name, value in options.items() if name.startswith("ssl")}
        where = DatabaseURI(
            scheme="postgresql+psycopg", username=keeper.role, password=keeper.password, hostname=keeper.host,
            port=keeper.port, database=keeper.database, args=extra,
        )  # fmt: skip
        backend = PostgresqlPsycopgBackend(where, _APPLIED)
        backend.init_database()
        try:
            with backend.lock():
                versions = read_migrations(str(_SCHEMA)).filter(lambda one: one.id.startswith("shop_"))
                backend.apply_migrations(backend.to_apply(versions))
        finally:
            backend.connection.close()
        # Of this year and the next; a coupon of a month that has no partition lies in the one for all others.
        months = (date(today.year, 1, 1), date(today.year + 1, 12, 1))
        connection.execute("SELECT cornerwise.make_months(%s, %s)", months)
        _let_in_only_admitted(connection, keeper.database)


def admit(keeper: ShopAccess, role: str) -> ShopAccess:
    """A role for one bench with a password of its own, or a new password for it; what the bench is given."""
    if not _ROLE.fullmatch(role):
        raise BadInputError(
            said("{role}: a role is small letters, digits and _, and begins with a letter", role=Name(repr(role[:60])))
        )
    password = secrets.token_urlsafe(24)
    with _as_keeper(keeper) as (connection, _options), connection.transaction():
        check_there(connection, keeper)
        known = connection.execute("SELECT FROM pg_roles WHERE rolname = %s", (role,)).fetchone()
        how: Literal["ALTER", "CREATE"] = "ALTER" if known is not None else "CREATE"
        if known is not None and not _is_bench(connection, role):
            raise BadInputError(said("{role}: this role is no bench's; choose another name", role=Name(role)))
        connection.execute(
            sql.SQL("{} ROLE {} LOGIN PASSWORD {}").format(sql.SQL(how), sql.Identifier(role), sql.Literal(password))
        )
        connection.execute(sql.SQL("GRANT cornerwise_bench TO {}").format(sql.Identifier(role)))
        if _owns_database(connection):
            _let_in(connection, keeper.database, role)
    return replace(keeper, role=role, password=password)


def _let_in_only_admitted(connection: psycopg.Connection[Any], database: str) -> None:
    """Roles are of the whole server: a bench of another shop on it is a member of cornerwise_bench too."""
    if not _owns_database(connection):
        return
    connection.execute(sql.SQL("REVOKE CONNECT, TEMPORARY ON DATABASE {} FROM PUBLIC").format(sql.Identifier(database)))
    known = connection.execute("SELECT role FROM cornerwise.bench JOIN pg_roles ON rolname = role").fetchall()
    for role in ("cornerwise_reader", *(row[0] for row in known)):
        _let_in(connection, database, role)


def _let_in(connection: psycopg.Connection[Any], database: str, role: str) -> None:
    connection.execute(
        sql.SQL("GRANT CONNECT ON DATABASE {} TO {}").format(sql.Identifier(database), sql.Identifier(role))
    )


def _owns_database(connection: psycopg.Connection[Any]) -> bool:
    row = connection.execute(
        "SELECT pg_has_role(datdba, 'USAGE') FROM pg_database WHERE datname = current_database()"
    ).fetchone()
    return bool(row and row[0])


def _is_bench(connection: psycopg.Connection[Any], role: str) -> bool:
    row = connection.execute("SELECT pg_has_role(%s, 'cornerwise_bench', 'MEMBER')", (role,)).fetchone()
    superuser = connection.execute("SELECT rolsuper FROM pg_roles WHERE rolname = %s", (role,)).fetchone()
    return bool(row and row[0]) and not (superuser and superuser[0])


@contextmanager
def _as_keeper(keeper: ShopAccess) -> Iterator[tuple[psycopg.Connection[Any], dict[str, Any]]]:
    with tempfile.NamedTemporaryFile("w", suffix=".pem") as certificate:
        certificate.write(keeper.certificate)
        certificate.flush()
        options = connection_options(keeper, certificate.name)
        try:
            with psycopg.connect(**options, autocommit=True) as connection:
                yield connection, options
        except psycopg.Error as error:
            raise NotAvailableError(
                said("{shop}: {reason}", shop=Name(keeper.shop), reason=Name(str(error).strip().split("\n")[0]))
            ) from error
