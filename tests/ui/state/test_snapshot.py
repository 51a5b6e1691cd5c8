"""A snapshot with changes, made without looking at every field of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.ui.scenes import SCENES, live


@pytest.mark.parametrize("scene", ["first", "edges", "no-go"])
def test_changes_are_those_of_the_standard_library(scene: str) -> None:
    snapshot = SCENES[scene]()
    changes = {"revision": 7, "storing": True, "machine": "another"}
    assert snapshot.but(**changes) == replace(snapshot, **changes)
    assert snapshot.but() == snapshot


def test_a_field_that_there_is_not_is_refused() -> None:
    with pytest.raises(TypeError):
        SCENES["first"]().but(colour="blue")


def test_indications_are_told_from_everything_else() -> None:
    snapshot = SCENES["edges"]()
    moved = snapshot.but(revision=9, live_length=live(snapshot.next_length, 119.5))
    assert moved.differs_in_indications_only(snapshot)
    assert not moved.but(storing=not snapshot.storing).differs_in_indications_only(snapshot)
    assert not moved.but(instruments=snapshot.instruments[:1]).differs_in_indications_only(snapshot)
