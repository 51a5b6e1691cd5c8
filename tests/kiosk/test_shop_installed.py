"""The sending service as installed, under systemd in its sandbox, with a real PostgreSQL: it joins, sends, goes on
when the server is back, and ends when the bench leaves.

Runs in a machine made for it; skipped elsewhere.
"""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from msgspec import Struct

from core.records.value_json import dump, to_json
from tests.kiosk.on_systemd import BENCH, PROGRAM, SENDER, WATCHER, Installed, why_not
from tests.ui.shop.real_server import RealServer, missing
from tests.ui.shop.shop_bits import MACHINE, Bench
from ui.shop.access import ShopAccess
from ui.shop.keeping import set_up

pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(3000),
    pytest.mark.skipif(bool(why_not() or missing()), reason=why_not() or missing() or "-"),
]
DATA = Path("/var/lib/cornerwise")
# Of /proc/PID/status: calls of the system go through a filter.
FILTERED = "2"


class Shop(Struct, frozen=True, kw_only=True):
    """A server, an installed machine, and the bench on it, whose archive is written here as its program would."""

    server: RealServer
    keeper: ShopAccess
    machine: Installed
    bench: Bench

    def stored(self) -> str:
        """Sessions, entries and entries of machines' logs that the server has."""
        return self.server.as_owner(
            self.keeper.database,
            "SELECT count(DISTINCT session), count(*), (SELECT count(*) FROM cornerwise.machine_event) "
            "FROM cornerwise.session_event",
        )

    def cornerwise(self, *words: str) -> str:
        """The program as the bench's own user starts it."""
        return self.machine.run(
            "setpriv", "--reuid=cornerwise", "--regid=cornerwise", "--clear-groups",
            "env", f"CORNERWISE_DATA={DATA}", f"HOME={DATA}", str(PROGRAM / "current/bin/cornerwise"), *words,
        )  # fmt: skip

    def measured(self) -> None:
        """Another coupon; the one before it can no longer be taken back, and goes."""
        self.bench.measure()
        self.give_to_bench()

    def give_to_bench(self) -> None:
        """What was written as root is the bench's."""
        self.machine.run("chown", "-R", "cornerwise:cornerwise", str(DATA))


@pytest.fixture
def shop() -> Iterator[Shop]:
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
    server = RealServer()
    try:
        keeper = server.shop()
        set_up(keeper, date(2026, 3, 1))
        with tempfile.TemporaryDirectory(prefix="cornerwise-installed-") as folder:
            machine = Installed(Path(folder), {"0.1.0-1": BENCH})
            try:
                data = Path(folder, "data")
                data.mkdir(mode=0o700)
                machine.run("mkdir", str(DATA))
                machine.run("mount", "--bind", str(data), str(DATA))
                bench = Bench(data, keeper, "by the door")
                bench.time = datetime.now(UTC) - timedelta(hours=1)
                yield Shop(server=server, keeper=keeper, machine=machine, bench=bench)
                print(machine.systemctl("status", "--no-pager", "--full", "--lines=0", SENDER, WATCHER))
            finally:
                machine.end()
    finally:
        server.remove()


def test_the_installed_service_joins_sends_goes_on_after_the_server_and_ends(shop: Shop) -> None:
    shop.bench.upset()
    shop.bench.measure()
    admits = shop.machine.place("/var/tmp/bench.shop")
    admits.write_text(dump(to_json(shop.bench.access)))
    shop.give_to_bench()
    shop.machine.systemctl("start", WATCHER)
    assert shop.machine.shown(SENDER)["ActiveState"] == "inactive"
    assert "belongs to" in shop.cornerwise(
        "shop", "join", "--from", "/var/tmp/bench.shop", "--bench", "by the door", "--yes"
    )
    shop.machine.until("the first coupon", lambda: shop.stored() == "1|6|1")
    sandboxed(shop)
    shop.server.stop()
    shop.measured()
    shop.machine.until("its hindrance", lambda: "cannot be reached" in shop.cornerwise("shop", "status"))
    shop.server.start()
    shop.measured()
    shop.machine.until("the coupons of meanwhile", lambda: shop.stored() == "3|18|1")
    assert shop.machine.shown(SENDER)["NRestarts"] == "0"
    another_bench_is_heard(shop)
    assert "Everything stays here" in shop.cornerwise("shop", "leave")
    shop.machine.until("its end", lambda: shop.machine.shown(SENDER)["ActiveState"] == "inactive")
    assert shop.machine.shown(SENDER)["Result"] == "success"


def sandboxed(shop: Shop) -> None:
    """What its unit says holds of the process: its user, that it gives way, no more rights, what it may see."""
    process = int(shop.machine.shown(SENDER)["MainPID"])
    status = dict(
        line.split(":\t", 1)
        for line in shop.machine.run("cat", f"/proc/{process}/status").splitlines()
        if ":\t" in line
    )
    assert status["Uid"].split()[0] == shop.machine.run("id", "-u", "cornerwise")
    assert (status["NoNewPrivs"], status["Seccomp"], int(status["CapEff"], 16)) == ("1", FILTERED, 0)
    shop.machine.until("it gives way", lambda: shop.machine.run("ps", "-o", "cls=", "-p", str(process)) == "IDL")
    seen = f"/proc/{process}/root"
    for place in ("/etc", "/opt/cornerwise", "/usr"):
        assert "Read-only file system" in shop.machine.run("touch", f"{seen}{place}/mine"), place
    assert shop.machine.run("ls", f"{seen}/dev/tty1", f"{seen}/dev/dri").count("No such file") == 2


def another_bench_is_heard(shop: Shop) -> None:
    """What another bench does to the machine that a person says is the same comes by the same service."""
    mine = shop.bench.archive.shop.machines()[0].id
    with tempfile.TemporaryDirectory() as folder:
        other = Bench(Path(folder), shop.keeper, "at the window")
        other.upset()
        other.join(same={MACHINE: mine})
        other.round()
        other.archive.close()
    shop.bench.upset()
    shop.give_to_bench()
    shop.machine.until("the other's line", lambda: len(shop.bench.archive.shop.shared_logs(MACHINE)) == 1)
