"""No screen says more than a person in gloves reads; every state of every screen: tests/endurance/screens_hold.py."""

from __future__ import annotations

from itertools import product

import pytest
from msgspec.structs import replace

from tests.endurance.screens_hold import MOST_WORDS, TELLS_MORE, counted, labels, languages
from tests.endurance.under_the_finger import enter
from tests.ui.scenes import SCENES
from tests.ui.touch.test_layout import ELSEWHERE
from tests.ui.touched import touch_until

# Where most is to be said.
FULLEST = {
    "coupon": ("terms", "at-place", "to-correct"),
    "limits": ("terms", "window"),
    "cutting": ("to-correct",),
    "design": ("no-mark", "no-witness", "not-adjustable", "designs", "design-ready", "design-written", "design-failed"),
    "practice": ("practice", "practice-asked", "practice-answered"),
    "witness": ("no-mark", "no-witness"),
    "verdict": ("no-go", "to-correct", "recut", "no-witness", "keep-saving"),
    "history": ("shared",),
    "machine": ("keep-saving",),
    "shop": ("keep-saving", "no-instrument"),
    "bench": ("edges", "no-go", "question", "lost", "no-instrument"),
    "correct": ("no-witness", "play", "to-correct", "gaps", "set", "inside", "recut"),
}
ONE_SCENE = {name: (scene,) for name, scene in ELSEWHERE.items() if name not in (*TELLS_MORE, *FULLEST)}
TOUCHED_MOST = ("machine-held", "pencil-typed", "feelers-found", "before-cutting", "what-it-does", "practice-why")


def said_on(screen) -> int:
    return sum(len(counted(label)) for label in labels(screen))


@pytest.mark.parametrize("settings", languages(), ids=["English", "German"])
def test_no_screen_is_over_its_budget(looked_at, settings) -> None:
    over = {}
    for name, scenes in {**FULLEST, **ONE_SCENE}.items():
        for scene in scenes:
            enter(looked_at, replace(SCENES[scene](), settings=settings), name)
            over[f"{scene} on {name}"] = said_on(looked_at)
    assert {where: count for where, count in over.items() if count > MOST_WORDS} == {}
    assert max(over.values()) > MOST_WORDS / 2  # words are counted at all


def test_nor_where_only_touches_lead(screen) -> None:
    over = {}
    for touched, settings in product(TOUCHED_MOST, languages()):
        enter(screen, replace(SCENES["first"](), settings=settings), "menu")
        touch_until(screen, touched)
        screen.show(replace(screen.app.snapshot, settings=settings))
        over[f"{touched}, {settings.language}"] = said_on(screen)
    assert {where: count for where, count in over.items() if count > MOST_WORDS} == {}
