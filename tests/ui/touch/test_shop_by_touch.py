"""Joining a shop by touch, from the file on a stick, and leaving: what is sent is read first, the password is wiped.

The real bench, archive, download thread and files; a folder stands for the mounted stick. House scenario, SIMULATED.
"""

from __future__ import annotations

import stat
from contextlib import closing
from pathlib import Path

from msgspec.structs import replace

from core.records.archive import Archive
from core.records.outbox import LogKind, forked
from core.records.shop_records import Mark
from core.records.value_json import dump, to_json
from core.said import Name, said
from core.said_wire import as_line
from tests.ui.bench.test_keeping import bench_with_stick, measured
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from tests.ui.touching import tap_text
from ui.bench.desks.records import look_up_shop
from ui.shop import joining
from ui.shop.access import AccessFile, ShopAccess, write_private
from ui.state.stick import ShopStage
from ui.touch.screens import shop

ADMITS = ShopAccess(
    host="shop.example", database="coupons", role="bench_2", password="much secret", bench="by the door"
)


def admitting(stick: Path, name: str = "bench_2.shop") -> Path:
    stick.mkdir(exist_ok=True)
    write_private(stick / name, dump(to_json(ADMITS)))
    return stick / name


def words(screen: Offscreen) -> str:
    page = screen.app.root.screen.page
    return f"{page.word} {page.caption} {page.text}"


def test_a_bench_joins_by_the_file_on_a_stick_and_leaves_again(tmp_path: Path) -> None:
    stick, card = tmp_path / "stick", tmp_path / "card"
    file = admitting(stick)
    with bench_with_stick(card, stick) as (bench, _until), Offscreen(bench.bench) as screen:
        measured(bench)
        screen.go("menu")
        tap_text(screen, "Shop of benches")
        assert "ALONE" in words(screen)
        tap_text(screen, "Look on the stick")
        screen.frames_until(lambda: bool(screen.app.snapshot.shop.files))
        screen.frames()
        tap_text(screen, "by the door")
        assert "names of operators and customers" in words(screen)
        tap_text(screen, "Without names")
        assert "every finished coupon" in words(screen)
        tap_text(screen, "Go on")
        assert "Never sent" in words(screen)
        assert not AccessFile(card).path.exists()
        tap_text(screen, "Join")
        screen.frames_until(lambda: screen.app.snapshot.shop.joined_by != "")
        screen.frames_until(lambda: screen.app.snapshot.records.shop.membership is not None)
        screen.frames()
        assert "holds a password" in words(screen)
        kept = AccessFile(card)
        assert kept.load() == ADMITS
        assert stat.S_IMODE(kept.path.stat().st_mode) == 0o600
        tap_text(screen, "Wipe it off")
        screen.frames_until(lambda: not file.exists())
        screen.frames_until(lambda: screen.app.snapshot.shop.joined_by == "")
        screen.frames()
        joined = screen.app.snapshot.records.shop
        assert joined.membership.bench == "by the door"
        assert not joined.membership.names
        assert "as by the door" in words(screen)
        tap_text(screen, "Leave the shop")
        assert "Everything stays here" in words(screen)
        tap_text(screen, "Be alone again")
        screen.frames_until(lambda: screen.app.snapshot.records.shop.membership is None)
        screen.frames()
        assert not kept.path.exists()
        assert "ALONE" in words(screen)


def test_who_stays_alone_has_joined_nothing_and_a_damaged_file_is_said(tmp_path: Path) -> None:
    stick, card = tmp_path / "stick", tmp_path / "card"
    file = admitting(stick)
    with bench_with_stick(card, stick) as (bench, _until), Offscreen(bench.bench) as screen:
        screen.go("shop")
        tap_text(screen, "Look on the stick")
        screen.frames_until(lambda: bool(screen.app.snapshot.shop.files))
        screen.frames()
        tap_text(screen, "by the door")
        tap_text(screen, "With names")
        tap_text(screen, "Stay alone")
        file.write_bytes(b"{")
        screen.go("bench")
        screen.go("shop")
        tap_text(screen, "by the door")
        tap_text(screen, "With names")
        tap_text(screen, "Go on")
        tap_text(screen, "Join")
        screen.frames_until(lambda: screen.app.snapshot.shop.stage is ShopStage.FAILED)
        screen.frames()
        assert "FAILED" in words(screen)
        assert not AccessFile(card).path.exists()
        file.unlink()
        tap_text(screen, "Look on the stick")
        screen.frames_until(lambda: screen.app.snapshot.shop.stage is ShopStage.FOUND)
        screen.frames()
        assert "No file that admits a bench" in words(screen)


def test_a_bench_with_an_older_card_goes_on_as_a_new_one_by_another_file(tmp_path: Path) -> None:
    """The file that admitted it before is refused, and the bench stays what it was; a new one is read as the first."""
    stick, card = tmp_path / "stick", tmp_path / "card"
    file = admitting(stick)
    with bench_with_stick(card, stick) as (bench, _until), Offscreen(bench.bench) as screen:
        session = measured(bench)
        with closing(Archive.open(card / "archive.sqlite", lambda: None, may_set_aside=False)) as archive:
            joining.join_here(archive, ADMITS, card, bench="by the door", names=False)
            reason = as_line(said("Session {name}: {reason}.", name=Name(session), reason=forked(session)))
            archive.shop.mark([Mark(kind=LogKind.SESSION, log=session, entries=2, refused=reason)])
            before = archive.shop.bench_id()
        screen.go("shop")
        screen.frames_until(lambda: screen.app.snapshot.records.shop is not None)
        screen.frames()
        for again in (False, True):
            if again:
                write_private(file, dump(to_json(replace(ADMITS, role="bench_3"))))
            tap_text(screen, "Older card?")
            assert ("must make a new one" if again else "an older one was put in") in words(screen)
            tap_text(screen, "Look on the stick")
            screen.frames_until(lambda: bool(screen.app.snapshot.shop.files))
            screen.frames()
            for touched in ("by the door", "Without names", "Go on", "Join"):
                tap_text(screen, touched)
            screen.frames_until(lambda: not screen.app.snapshot.shop.stage.is_busy)
            screen.frames()
            with closing(Archive.open(card / "archive.sqlite", lambda: None, may_set_aside=False)) as archive:
                assert (archive.shop.bench_id() != before) is again
                assert bool(archive.shop.refused()) is not again
        kept = AccessFile(card).load()
        assert kept is not None
        assert kept.role == "bench_3"


def test_nothing_is_looked_up_any_more_when_the_window_is_gone(monkeypatch) -> None:
    monkeypatch.setattr(shop, "LOOK_S", 0.0)
    with Offscreen(StandInBench(SCENES["shop"]())) as screen:
        screen.go("shop")
        screen.frames(5)
        assert screen.bench.sent.count(look_up_shop()) > 1
    with Offscreen(StandInBench(SCENES["edges"]())) as screen:
        screen.go("bench")
        screen.frames(5)
        assert screen.bench.sent == []
