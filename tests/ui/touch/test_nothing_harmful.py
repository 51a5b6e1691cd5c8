"""What voids, finishes or begins a correction never comes up where a finger has just been: the bench and its
neighbours; all screens by tests/endurance/screens_hold.py."""

from __future__ import annotations

import pytest

from tests.endurance.screens_hold import HARMFUL, buttons, enter, overlap, targets
from tests.ui.scenes import SCENES


@pytest.mark.parametrize(("scene", "name"), [("edges", "bench"), ("no-go", "bench"), ("to-correct", "witness")])
def test_nothing_harmful_comes_up_under_the_finger(screen, scene: str, name: str) -> None:
    joined, found = 0, []
    for place, words_there in targets(screen, SCENES[scene](), name):
        enter(screen, SCENES[scene](), name)
        before = buttons(screen)
        touched = next((box for box, words in before if words == words_there), None)
        if touched is None:
            continue  # the keypad is up now, in the place of the live half
        screen.tap(*place)
        after = buttons(screen)
        joined += after != before
        found += [
            (words_there, words)
            for box, words in after
            if words in HARMFUL and (box, words) not in before and overlap(box, touched)
        ]
    assert joined
    assert found == []
