"""The pointer says where it has stood; what stands still is beside it."""

from __future__ import annotations

from hypothesis import HealthCheck, given, strategies as st

from tests.examples import some_of_all
from ui.touch.widgets.deviation_bar import REACH, STEP_PX, DeviationBar, Pointer

_SHARES = st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=6)


def laid() -> tuple[DeviationBar, Pointer]:
    bar = DeviationBar(limited=True, pos=(37, 11), size=(388, 70))
    (pointer,) = bar.children
    assert isinstance(pointer, Pointer)
    return bar, pointer


@given(shares=_SHARES, rounds=st.integers(1, 3))
@some_of_all(60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_pointer_lies_within_what_it_says(screen, shares: list[float], rounds: int) -> None:
    """Wherever it has stood since that was asked, and where it stood then."""
    bar, pointer = laid()
    bar.share = 0.0
    assert pointer.take_changed() is None, "it came up"
    stood = [0.0]
    for _ in range(rounds):
        for share in shares:
            bar.share = share
            stood.append(share)
        told = pointer.take_changed()
        assert told is not None
        middles = [231 + 97 * max(-REACH, min(REACH, share)) for share in stood]
        side = pointer._pointed[2]
        assert told[0] <= min(middles) - side
        assert told[2] >= max(middles) + side
        assert told[0] > min(middles) - side - STEP_PX - 1e-9
        assert told[2] <= max(middles) + side + STEP_PX + 1e-9
        assert pointer.bounds[0] <= min(middles) - side
        assert pointer.bounds[2] >= max(middles) + side
        stood = stood[-1:]


def test_where_there_is_no_deviation_there_is_no_pointer(screen) -> None:
    bar, pointer = laid()
    assert pointer._ink.a == 0.0
    bar.share = 0.4
    assert pointer._ink.a == 1.0
    bar.share = None
    assert pointer._ink.a == 0.0
    bar.size = (200, 60)
    assert pointer._ink.a == 0.0
