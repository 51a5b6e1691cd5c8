"""What the shop screen says: what is sent before it is sent, and nothing joins by tapping on in one place."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.said import NOTHING, worded
from tests.ui.scenes import SAME_MACHINE, SCENES, SHOP_FILE
from ui.bench.desks.records import say_which_machine
from ui.bench.desks.shop import JoinShop, LeaveShop, LookForShop
from ui.pages.shop import ALONE, Reading, ShopAsked, Touch, shop_page
from ui.speech import Language, Speech


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


@pytest.mark.parametrize("scene", ["shop-joined", "shop-hindered", "shop-answered", "shop-forked"])
def test_leaving_does_not_stand_where_it_was_asked_for_however_many_keys_there_are(scene: str) -> None:
    def part_of_the_row(touch: Touch, row: list[str]) -> tuple[float, float]:
        return row.index(touch) / len(row), (row.index(touch) + 1) / len(row)

    left, right = part_of_the_row(Touch.LEAVE, names(scene, ShopAsked()))
    low, high = part_of_the_row(Touch.LEAVE_NOW, names(scene, ShopAsked(reading=Reading.LEAVING)))
    assert right <= low or high <= left


def test_a_question_comes_before_anything_else_and_its_answer_goes_to_the_bench() -> None:
    snapshot = SCENES["shop-asks"]()
    assert names("shop-asks", ShopAsked()) == [Touch.SAME, Touch.OTHER]
    assert ShopAsked().command(Touch.OTHER, snapshot) == say_which_machine(question=SAME_MACHINE, same=False)


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


def test_what_was_answered_is_shown_one_by_one_and_can_be_said_anew() -> None:
    snapshot, asked = SCENES["shop-answered"](), ShopAsked()
    assert names("shop-answered", asked) == [Touch.AGAIN, Touch.ANSWERS, Touch.LEAVE]
    asked = asked.after(Touch.ANSWERS, snapshot)
    assert "is the same machine as template router at bench in the hall" in worded(shop_page(snapshot, asked).text)
    assert asked.command(Touch.WRONG, snapshot) == say_which_machine(question=SAME_MACHINE, same=False)
    assert asked.command(Touch.AS_SAID, snapshot) is None
    asked = asked.after(Touch.AS_SAID, snapshot)
    assert "is another machine than" in worded(shop_page(snapshot, asked).text)
    assert asked.command(Touch.WRONG, snapshot) == say_which_machine(question=SAME_MACHINE, same=True)
    assert asked.after(Touch.AS_SAID, snapshot) == asked.after(Touch.WRONG, snapshot) == ShopAsked()


def test_a_bench_with_an_older_card_joins_as_a_new_one_by_a_file_and_reads_first_what_is_sent() -> None:
    assert Touch.NEW_BENCH in names("shop-forked", ShopAsked())
    assert Touch.NEW_BENCH not in names("shop-hindered", ShopAsked())
    asked = ShopAsked().after(Touch.NEW_BENCH, SCENES["shop-forked"]())
    assert "an older one was put in" in worded(shop_page(SCENES["shop-forked"](), asked).text)
    assert asked.command(Touch.LOOK, SCENES["shop-forked"]()) == LookForShop()
    found = SCENES["shop-forked-found"]()
    for touched in (Touch.LOOK, "file-0", Touch.WITHOUT_NAMES, Touch.GO_ON):
        assert shop_page(found, asked).lamp[1] != ALONE[1]
        asked = asked.after(touched, found)
    assert asked.command(Touch.JOIN, found) == JoinShop(path=SHOP_FILE.path, names=False, new_bench=True)
    assert asked.after(Touch.STAY_ALONE, found) == ShopAsked()


def test_no_page_about_machines_or_an_older_card_is_longer_than_forty_words() -> None:
    for way in (("shop-answered", Touch.ANSWERS), ("shop-forked", Touch.NEW_BENCH)):
        snapshot = SCENES[way[0]]()
        page = shop_page(snapshot, ShopAsked().after(way[1], snapshot))
        said = [page.word, page.caption, page.text, *(words for _name, words in page.choices)]
        for voice in (Speech(), Speech(language=Language.GERMAN)):
            assert len(" ".join(worded(part, voice) for part in said).split()) <= 40
