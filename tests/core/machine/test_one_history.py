"""Several benches, one sequence: by time, each bench's own order kept."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given, strategies as st

from core.machine.one_history import in_one_order

Dated = tuple[str, datetime | None]


def at(name: str, day: int | None) -> Dated:
    return name, None if day is None else datetime(2026, 3, day, tzinfo=UTC)


def order(*sequences: list[Dated]) -> str:
    return "".join(name for name, _ in in_one_order(lambda one: one[1], *sequences))


def test_two_benches_are_one_sequence_by_time() -> None:
    assert order([at("a", 1), at("c", 3)], [at("b", 2), at("d", 4)]) == "abcd"


def test_what_has_no_time_or_a_clock_put_back_stays_behind_what_was_before_it() -> None:
    assert order([at("a", 2), at("b", None), at("c", 1)], [at("d", 3)]) == "abcd"
    assert order([at("a", None), at("b", 5)], [at("c", 1)]) == "acb"


@given(st.lists(st.lists(st.none() | st.integers(1, 28), max_size=8), max_size=4))
def test_every_bench_keeps_its_own_order_and_nothing_is_lost(days: list[list[int | None]]) -> None:
    sequences = [[at(f"{bench}:{place}", day) for place, day in enumerate(row)] for bench, row in enumerate(days)]
    found = in_one_order(lambda one: one[1], *sequences)
    for sequence in sequences:
        assert [one for one in found if one in sequence] == sequence
    assert len(found) == sum(map(len, sequences))
