"""The chain of checksums: no entry of a log changes, vanishes or is added between others without being named."""

from __future__ import annotations

from hypothesis import given, strategies as st
from msgspec.structs import replace

from core.records.chain import FIRST, Belief, Head, Link, examine, next_link

FIELDS = st.lists(st.tuples(st.text(max_size=8), st.none() | st.integers(-9, 9)), min_size=2, max_size=12)


def chained(entries: list[tuple]) -> tuple[list[Link], Head]:
    links, before = [], FIRST
    for number, fields in enumerate(entries, start=1):
        before = next_link(before, (number, *fields))
        links.append(Link(number=number, fields=(number, *fields), chain=before))
    return links, Head(entries=len(links), chain=before)


def test_links_are_known_numbers() -> None:
    """SHA-256 of '["","a",1,null]' and of '["<that>",2]', by `printf | sha256sum`, the first 32 figures."""
    first = next_link(FIRST, ("a", 1, None))
    assert first == "4a1060c45fdf45e141ed332f85561574"
    assert next_link(first, (2,)) == "37875832bb7875b1a3e51af7863bde71"


@given(FIELDS)
def test_what_was_written_is_whole(entries: list[tuple]) -> None:
    found = examine(*chained(entries))
    assert found.whole
    assert set(found.beliefs) == {Belief.PROVEN}


@given(FIELDS, st.data())
def test_a_changed_entry_is_named_and_only_that_one(entries: list[tuple], data: st.DataObject) -> None:
    links, head = chained(entries)
    place = data.draw(st.integers(0, len(links) - 1))
    links[place] = replace(links[place], fields=(*links[place].fields, "x"))
    found = examine(links, head)
    assert [place] == [at for at, belief in enumerate(found.beliefs) if belief is Belief.DAMAGED]
    assert found.missing == ()


@given(FIELDS, st.data())
def test_a_changed_checksum_costs_no_entry(entries: list[tuple], data: st.DataObject) -> None:
    links, head = chained(entries)
    place = data.draw(st.integers(0, len(links)))
    if place == len(links):
        head = Head(entries=head.entries, chain="0" * 32)
    else:
        links[place] = replace(links[place], chain="0" * 32)
    found = examine(links, head)
    assert set(found.beliefs) == {Belief.PROVEN}
    assert found.checksum_hit
    assert not found.whole


@given(FIELDS, st.data())
def test_a_lost_entry_is_named_by_its_number(entries: list[tuple], data: st.DataObject) -> None:
    links, head = chained(entries)
    place = data.draw(st.integers(0, len(links) - 1))
    lost = links.pop(place)
    found = examine(links, head)
    assert found.missing == (lost.number,)
    assert Belief.DAMAGED not in found.beliefs


@given(FIELDS)
def test_the_loss_of_the_newest_shows_by_the_head(entries: list[tuple]) -> None:
    links, head = chained(entries)
    assert examine(links[:1], head).missing == tuple(range(2, len(links) + 1))


@given(FIELDS)
def test_what_earlier_software_wrote_is_unproven_never_damaged(entries: list[tuple]) -> None:
    links, head = chained(entries)
    later = Link(number=len(links) + 1, fields=("later",), chain=None)
    found = examine([*links, later], head)
    assert found.whole
    assert found.beliefs[-1] is Belief.UNPROVEN


def test_a_number_that_a_flipped_bit_made_large_makes_no_long_list() -> None:
    links, head = chained([("a", 1), ("b", 2)])
    links[1] = replace(links[1], number=2**40)
    assert len(examine(links, head).missing) <= 1_000
