"""What holds for every screen: a short kv beside it, a way back, and words in the top bar."""

from __future__ import annotations

from pathlib import Path

import pytest

SCREENS = Path(__file__).resolve().parents[4] / "ui" / "touch" / "screens"
# These are no screens: the base of them all, the application, what is in sight, the panel's sleep.
WITHOUT_KV = {"__init__", "screen", "bench_app", "sight", "sleep"}
KV_LINES = 120


@pytest.mark.parametrize("module", sorted(path.stem for path in SCREENS.glob("*.py") if path.stem not in WITHOUT_KV))
def test_a_screen_has_a_short_kv_beside_it(module: str) -> None:
    lines = (SCREENS / f"{module}.kv").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= KV_LINES


def test_back_leads_home_from_every_screen(screen) -> None:
    from ui.touch.screens.shell import SCREENS as KNOWN

    assert all(kind.heading for kind in KNOWN.values())
    for name in KNOWN:
        visited = [name]
        while visited[-1] != "home":
            visited.append(KNOWN[visited[-1]].parent_screen)
            assert len(visited) < 5, visited
