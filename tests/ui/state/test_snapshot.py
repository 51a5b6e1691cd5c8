"""What tells one snapshot from the next."""

from __future__ import annotations

from msgspec.structs import replace

from tests.ui.scenes import SCENES, live


def test_indications_are_told_from_everything_else() -> None:
    snapshot = SCENES["edges"]()
    moved = replace(snapshot, revision=9, live_length=live(snapshot.next_length, 119.5))
    assert moved.differs_in_indications_only(snapshot)
    assert not replace(moved, storing=not snapshot.storing).differs_in_indications_only(snapshot)
    assert not replace(moved, instruments=snapshot.instruments[:1]).differs_in_indications_only(snapshot)
