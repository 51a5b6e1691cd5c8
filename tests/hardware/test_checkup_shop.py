"""What the doctor says of the shop: alone is no fault, what hinders and what was refused is one; it only reads."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from core.records.archive import Archive
from core.records.outbox import LogKind
from core.records.shop_records import Mark
from hardware.checkup import Standing
from hardware.checkup_shop import check_shop


def archive(folder: Path) -> Archive:
    return Archive.open(folder / "archive.sqlite", lambda: datetime(2026, 3, 2, tzinfo=UTC))


def test_a_bench_that_is_alone_is_well_and_nothing_is_made_beside_its_archive(tmp_path: Path) -> None:
    assert check_shop(tmp_path).standing is Standing.ABSENT
    assert list(tmp_path.iterdir()) == []
    archive(tmp_path).close()
    before = sorted(tmp_path.iterdir())
    assert check_shop(tmp_path).standing is Standing.ABSENT
    assert sorted(tmp_path.iterdir()) == before


def test_what_hinders_and_what_was_refused_is_said_while_the_bench_is_at_work(tmp_path: Path) -> None:
    with closing(archive(tmp_path)) as records:
        records.shop.join("shop.example:5432/coupons", "by the door", names=False, machines={})
        assert check_shop(tmp_path).standing is Standing.OK
        records.shop.hinder("no network")
        found = check_shop(tmp_path)
        assert (found.standing, str(found.says)) == (Standing.NOT_OK, "Shop: nothing sent yet, not reached")
        records.shop.hinder("")
        records.shop.mark([Mark(kind=LogKind.SESSION, log="20260302-090000-0a1b2c3d", entries=3, refused="forks")])
        found = check_shop(tmp_path)
        assert found.standing is Standing.NOT_OK
        assert "1 refused" in str(found.says)


def test_a_file_that_is_no_archive_is_no_word_on_the_shop(tmp_path: Path) -> None:
    (tmp_path / "archive.sqlite").write_bytes(b"no database" * 100)
    found = check_shop(tmp_path)
    assert (found.standing, "cannot be asked" in str(found.says)) == (Standing.ABSENT, True)
