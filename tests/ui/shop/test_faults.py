"""What goes wrong between a bench and its shop, with a real server: nothing is lost, nothing is there twice."""

from __future__ import annotations

import random
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import BadInputError, NotAvailableError
from core.records.archive import Archive
from core.records.events import Note
from core.records.history import history_of
from core.records.shop_state import shop_state
from core.said import Part, said, worded
from tests.ui.shop.cut_line import CutLine
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import MACHINE, Bench
from ui.shop.access import AccessFile, ShopAccess
from ui.shop.courier import Round
from ui.shop.joining import join_here_anew
from ui.shop.keeping import admit, set_up
from ui.shop.service import LONGEST_PAUSE_S, SendingService


@pytest.fixture
def line(server: RealServer) -> Iterator[CutLine]:
    line = CutLine(server.port)
    yield line
    line.close()


def through(bench: Bench, port: int) -> None:
    """From now on the bench reaches its shop by another port."""
    AccessFile(bench.folder).save(replace(bench.access, port=port))


def stored(server: RealServer, keeper: ShopAccess) -> str:
    return server.as_owner(
        keeper.database,
        "SELECT count(*), count(DISTINCT session), (SELECT count(*) FROM cornerwise.machine_event) "
        "FROM cornerwise.session_event",
    )


def rounds_until_sent(bench: Bench) -> None:
    """Rounds as the service makes them: whatever hinders one, the next goes on."""
    for _ in range(50):
        try:
            bench.round()
        except NotAvailableError:
            continue
        return
    raise AssertionError("it never arrived")


@pytest.mark.parametrize("seed", range(4))
def test_a_line_that_is_cut_in_mid_send_loses_nothing_and_sends_nothing_twice(
    server: RealServer, keeper: ShopAccess, first: Bench, line: CutLine, seed: int
) -> None:
    first.join()
    first.upset()
    for _ in range(3):
        first.measure()
    first.upset()
    through(first, line.port)
    chance = random.Random(seed)
    for _ in range(4):
        line.cut_after = chance.randrange(1, 30_000)
        try:
            first.round()
        except NotAvailableError:
            continue
    line.cut_after = None
    first.round()
    assert stored(server, keeper) == "18|3|2"
    assert first.archive.shop.waiting(first.time) == ()
    assert first.archive.shop.refused() == ()


def test_a_server_that_is_killed_in_mid_send_keeps_what_it_confirmed_and_gets_the_rest(
    server: RealServer, keeper: ShopAccess, first: Bench, line: CutLine
) -> None:
    first.join()
    for _ in range(4):
        first.measure()
    through(first, line.port)
    line.cut_after, line.at_cut = 9_000, server.kill
    with pytest.raises(NotAvailableError):
        first.round()
    line.cut_after = None
    with pytest.raises(NotAvailableError, match="cannot be reached"):
        first.round()
    server.start()
    rounds_until_sent(first)
    assert line.cuts == 1
    assert stored(server, keeper) == "24|4|0"


def test_a_day_without_network_is_tried_now_and_then_said_once_and_then_everything_goes() -> None:
    told: list[Part] = []
    passed_s, tries = 0.0, 0

    def one_round() -> Round | None:
        nonlocal tries
        tries += 1
        if passed_s < 86_400.0:
            raise NotAvailableError(said("the shop cannot be reached ({reason})", reason=1))
        return Round(sent=3, entries=18) if tries < 1_000 and not sent.append(tries) and len(sent) < 2 else None

    def wait(seconds: float) -> bool:
        nonlocal passed_s
        passed_s += seconds
        return True

    sent: list[int] = []
    SendingService(one_round, lambda: int(passed_s), wait, told.append).run()
    assert len(told) == 1
    assert 86_400.0 / LONGEST_PAUSE_S < tries < 200
    assert len(sent) == 2


def test_one_session_sent_by_two_processes_at_once_is_there_once(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    first.join()
    first.measure()
    shutil.copytree(first.folder, first.folder.with_name("again"))
    first.round()
    copy = Bench.__new__(Bench)
    copy.folder, copy.time = first.folder.with_name("again"), first.time
    copy.archive = Archive.open(copy.folder / "archive.sqlite", lambda: copy.time)
    done = copy.round()
    copy.archive.close()
    assert (done.sent, done.entries, done.refused) == (1, 0, ())
    assert stored(server, keeper) == "6|1|0"


def test_a_bench_restored_from_an_old_card_is_said_and_nothing_is_overwritten(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    first.join()
    first.upset()
    session = first.measure()
    first.round()
    old_card = first.copy_card()
    first.archive.append(session, Note(text="before the card was lost"))
    first.upset()
    lost = first.measure()
    first.round()
    before = stored(server, keeper)
    first.put_in(old_card)
    first.archive.append(session, Note(text="after"))
    first.upset()
    later = first.measure()
    done = first.round()
    assert [worded(reason) for reason in done.refused] == [
        "Log of template router: template router: the shop has another end of it, as after an older card was put in; "
        "nothing was overwritten.",
        f"Session {session}: {session}: the shop has another end of it, as after an older card was put in; "
        "nothing was overwritten.",
    ]
    assert server.as_owner(keeper.database, "SELECT payload LIKE '%before the card%' FROM cornerwise.session_event "
                           "WHERE kind = 'note'") == "t"  # fmt: skip
    assert before == "13|2|2"
    assert stored(server, keeper) == "19|3|2"
    assert {one.id for one in first.archive.sessions()} == {session, lost, later}
    assert len(first.archive.shop.refused()) == 2
    assert first.round().refused == ()
    go_on_as_another(server, keeper, first, session)


def go_on_as_another(server: RealServer, keeper: ShopAccess, bench: Bench, forked: str) -> None:
    """The same bench with a new id: what was done to the machine is sent anew, and each mark is shown once."""
    machine = bench.archive.shop.machines()[0].id
    bench.access = admit(keeper, f"again_{bench.access.role}")
    bench.join(same={MACHINE: machine}, new_bench=True)
    done = bench.round()
    assert [forked in worded(reason) for reason in done.refused] == [True]
    assert stored(server, keeper) == "19|3|4"
    assert server.as_owner(keeper.database, "SELECT count(*), count(DISTINCT machine_id) FROM cornerwise.machine_marks "
                           f"WHERE machine_id = '{machine}'") == "3|1"  # fmt: skip
    bench.round()
    history = history_of(bench.archive, MACHINE).history
    assert history is not None
    assert len(history.marks) == 3
    assert len(history.coupons) == 3


def with_older_card(bench: Bench) -> str:
    """Its card was put back to how it was before its last round; a session of that has another end at the shop."""
    bench.join()
    session = bench.measure()
    bench.round()
    old_card = bench.copy_card()
    bench.archive.append(session, Note(text="before the card was lost"))
    bench.round()
    bench.put_in(old_card)
    bench.archive.append(session, Note(text="after"))
    bench.round()
    assert shop_state(bench.archive.shop).forked
    return session


def test_an_older_card_goes_on_as_a_new_bench_without_network_and_its_machines_stay_what_they_were(
    server: RealServer, keeper: ShopAccess, first: Bench
) -> None:
    """As by touch: the file that admitted the bench before is refused, for its role is that one's."""
    with_older_card(first)
    before = first.archive.shop.bench_id()
    with pytest.raises(BadInputError, match="must make a new one"):
        join_here_anew(first.archive, first.access, first.folder, bench=first.name, names=False)
    assert first.archive.shop.bench_id() == before
    assert AccessFile(first.folder).load() == first.access
    again = admit(keeper, f"again_{first.access.role}")
    join_here_anew(first.archive, again, first.folder, bench=first.name, names=False)
    assert first.archive.shop.bench_id() != before
    first.measure()
    assert first.round().sent == 1
    assert shop_state(first.archive.shop).questions == ()
    assert server.as_owner(keeper.database, "SELECT machine, benches, sessions FROM cornerwise.machines") == (
        "template router|2|2"
    )


def test_a_new_bench_that_the_shop_does_not_admit_stays_the_bench_that_it_was(first: Bench) -> None:
    with_older_card(first)
    before = first.archive.shop.bench_id()
    with pytest.raises(NotAvailableError, match="admits another bench"):
        first.join(new_bench=True)
    assert first.archive.shop.bench_id() == before
    first.measure()
    assert first.round().sent == 1


def test_a_wrong_clock_keeps_nothing_back_and_bends_no_other_history(
    server: RealServer, keeper: ShopAccess, first: Bench, second: Bench
) -> None:
    first.join()
    first.time = datetime(2099, 1, 1, tzinfo=UTC)
    first.measure()
    first.time = None
    first.measure()
    first.time = datetime(2026, 3, 2, tzinfo=UTC)
    first.measure()
    assert first.round().sent == 3
    assert server.as_owner(keeper.database, "SELECT count(*) FILTER (WHERE clock_doubtful), count(*) "
                           "FROM cornerwise.sessions") == "2|3"  # fmt: skip
    assert server.as_owner(keeper.database, "SELECT count(*) FROM cornerwise.session_event_other") == "12"
    second.measure()
    second.join(same={MACHINE: first.archive.shop.machines()[0].id})
    assert second.round().taken == 1
    assert len(history_of(second.archive, MACHINE).sessions) == 2


def test_a_server_that_is_another_is_told_nothing(server: RealServer, keeper: ShopAccess, first: Bench) -> None:
    first.join()
    first.measure()
    other = first.folder / "other"
    other.mkdir()
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout",
         "key", "-out", "other.crt", "-subj", "/CN=another authority", "-days", "2"],
        cwd=other, check=True, capture_output=True,
    )  # fmt: skip
    mistaken = (
        replace(first.access, certificate=(other / "other.crt").read_text()),
        replace(first.access, certificate=""),
        replace(first.access, host="127.0.0.1"),
    )
    for access in mistaken:
        AccessFile(first.folder).save(access)
        with pytest.raises(NotAvailableError, match="does not prove that it is the shop's; nothing was sent"):
            first.round()
    assert stored(server, keeper) == "0|0|0"
    AccessFile(first.folder).save(first.access)
    assert first.round().sent == 1


def test_a_password_that_was_changed_is_said_and_what_waits_goes_with_the_new_one(
    keeper: ShopAccess, first: Bench
) -> None:
    first.join()
    first.measure()
    changed = admit(keeper, first.access.role)
    with pytest.raises(NotAvailableError, match="does not let this bench in"):
        first.round()
    AccessFile(first.folder).save(changed)
    assert first.round().sent == 1


def fill(path: Path) -> None:
    """Write until there is no room left."""
    with path.open("wb", buffering=0) as file:
        while True:
            file.write(b"0" * 4096)


def test_a_full_disk_at_the_server_loses_nothing(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """A server of its own on a file system of 96 MB, filled to the last block while a bench sends."""
    small = Path(tempfile.mkdtemp(prefix="small-", dir="/tmp"))  # a socket's path is short
    request.addfinalizer(small.rmdir)
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=96m,mode=755", "tmpfs", str(small)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("a small file system cannot be mounted here")
    request.addfinalizer(lambda: subprocess.run(["umount", "-l", str(small)], check=True))
    server = RealServer("fsync = off", "wal_recycle = off", "max_wal_size = 32MB", "min_wal_size = 32MB", place=small)
    request.addfinalizer(server.remove)
    keeper = server.shop()
    set_up(keeper, date(2026, 3, 1))
    bench = Bench(tmp_path / "bench", keeper, "bench")
    bench.join()
    for _ in range(5):
        bench.measure()
    filler = server.folder / "filler"
    with pytest.raises(OSError, match="No space left"):
        fill(filler)
    session = bench.archive.sessions()[0].id
    hindered = 0
    for number in range(400):
        bench.archive.append(session, Note(text=f"{number} " + "long " * 600))
        try:
            bench.round(after=timedelta(minutes=6))
        except NotAvailableError:
            hindered += 1
            break
    assert hindered == 1
    filler.unlink()
    server.stop()
    server.start()
    rounds_until_sent(bench)
    sent = sum(len(bench.archive.events(one.id)) for one in bench.archive.sessions())
    assert stored(server, keeper) == f"{sent}|5|0"
    bench.archive.close()
