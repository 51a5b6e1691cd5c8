"""What holds for every screen: a way back, and words in the top bar."""

from __future__ import annotations


def test_back_leads_to_the_bench_from_every_screen(screen) -> None:
    from ui.touch.shell import SCREENS as KNOWN

    assert len(KNOWN) >= 20
    assert all(kind.heading for kind in KNOWN.values())
    for name in KNOWN:
        visited = [name]
        while visited[-1] != "bench":
            visited.append(KNOWN[visited[-1]].parent_screen)
            assert len(visited) < 5, visited
