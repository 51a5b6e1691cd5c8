"""A real server for the tests of this folder, one for all of them; each test has a shop of its own on it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import psycopg
import pytest

from tests.ui.shop.real_server import RealServer, missing
from tests.ui.shop.shop_bits import Bench, Connection
from ui.shop.access import ShopAccess
from ui.shop.keeping import set_up
from ui.shop.server import connection_options


@pytest.fixture(scope="session")
def server() -> Iterator[RealServer]:
    reason = missing()
    if reason:
        pytest.skip(reason)
    server = RealServer("fsync = off", "full_page_writes = off")
    yield server
    server.remove()


@pytest.fixture(scope="session")
def template(server: RealServer) -> ShopAccess:
    """A shop that is set up, and empty."""
    access = server.shop()
    set_up(access, date(2026, 3, 1))
    return access


@pytest.fixture
def keeper(server: RealServer, template: ShopAccess) -> ShopAccess:
    """The keeper of a shop of the test's own."""
    return server.shop(template)


@pytest.fixture
def first(keeper: ShopAccess, tmp_path: Path) -> Iterator[Bench]:
    """A bench that belongs to the shop."""
    bench = Bench(tmp_path / "first", keeper, "first bench")
    yield bench
    bench.archive.close()


@pytest.fixture
def second(keeper: ShopAccess, tmp_path: Path) -> Iterator[Bench]:
    """Another bench, which belongs to no shop yet."""
    bench = Bench(tmp_path / "second", keeper, "second bench")
    yield bench
    bench.archive.close()


@pytest.fixture
def hostile(first: Bench, second: Bench, server: RealServer) -> Iterator[Connection]:
    """The role of a second bench, used by hand, beside a first bench that has sent a session and a log."""
    first.join()
    first.upset()
    first.measure()
    first.round()
    second.join()
    options = connection_options(second.access, str(server.authority))
    with psycopg.connect(**options, autocommit=True) as connection:
        yield connection
