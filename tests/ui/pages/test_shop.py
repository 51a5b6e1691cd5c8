"""What the shop screen says: what is sent before it is sent, and nothing joins by tapping on in one place."""

from __future__ import annotations

from dataclasses import replace

from core.said import NOTHING, worded
from tests.ui.scenes import SAME_MACHINE, SCENES, SHOP_FILE
from ui.bench.desks.records import SayWhichMachine
from ui.bench.desks.shop import JoinShop, LeaveShop, LookForShop
from ui.pages.shop import Reading, ShopAsked, Touch, shop_page


def names(scene: str, asked: ShopAsked) -> list[str]:
    return [name for name, _words in shop_page(SCENES[scene](), asked).choices]


def test_what_is_sent_and_what_never_is_stands_there_before_joining() -> None:
    snapshot, asked, told = SCENES["shop-found"](), ShopAsked(), ""
    for touched in ("file-0", Touch.WITH_NAMES, Touch.GO_ON):
        assert asked.command(touched, snapshot) is None
        asked = asked.after(touched, snapshot)
        told += worded(shop_page(snapshot, asked).text)
    for what in ("operators and customers", "readings, notes and verdict", "each machine", "Never sent", "stays there"):
        assert what in told
    assert asked.command(Touch.JOIN, snapshot) == JoinShop(path=SHOP_FILE.path, names=True)


def test_joining_and_leaving_never_stand_where_the_way_to_them_was_touched() -> None:
    last = ShopAsked(reading=Reading.NOT_SENT, path=SHOP_FILE.path)
    before = ShopAsked(reading=Reading.SENT, path=SHOP_FILE.path)
    on_last, on_before = names("shop-found", last), names("shop-found", before)
    assert len(on_last) == len(on_before)
    assert on_last.index(Touch.JOIN) != on_before.index(Touch.GO_ON)
    joined, leaving = names("shop-joined", ShopAsked()), names("shop-joined", ShopAsked(reading=Reading.LEAVING))
    assert joined.index(Touch.LEAVE) != leaving.index(Touch.LEAVE_NOW)


def test_a_question_comes_before_anything_else_and_its_answer_goes_to_the_bench() -> None:
    snapshot = SCENES["shop-asks"]()
    assert names("shop-asks", ShopAsked()) == [Touch.SAME, Touch.OTHER]
    assert ShopAsked().command(Touch.OTHER, snapshot) == SayWhichMachine(question=SAME_MACHINE, same=False)


def test_a_bench_that_is_alone_can_only_look_and_one_that_is_in_a_shop_can_leave() -> None:
    assert names("shop", ShopAsked()) == [Touch.LOOK]
    assert ShopAsked().command(Touch.LOOK, SCENES["shop"]()) == LookForShop()
    assert ShopAsked().command(Touch.LEAVE_NOW, SCENES["shop-joined"]()) == LeaveShop()


def test_what_hinders_is_said_else_what_was_refused_one_thing_at_a_time() -> None:
    hindered = SCENES["shop-hindered"]()
    text = worded(shop_page(hindered, ShopAsked()).text)
    assert "12 logs wait." in text
    assert "cannot be reached" in text
    assert "another end of it" not in text
    assert "Refused besides: 3" in text
    assert hindered.records.shop is not None
    reached = replace(hindered.records, shop=replace(hindered.records.shop, hindrance=NOTHING))
    text = worded(shop_page(replace(hindered, records=reached), ShopAsked()).text)
    assert "another end of it" in text
    assert "Refused besides: 2" in text
