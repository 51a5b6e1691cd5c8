"""What escapes from a screen is said and the window stays; what escapes at every frame ends the program."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.ui.bench_bits import BenchUnderTest, running_bench
from tests.ui.offscreen import Offscreen
from ui.touch.screen_guard import MOST, WITHIN_S, ScreenGuard


class UnforeseenError(Exception):
    """Nothing in the program knows it."""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[BenchUnderTest]:
    with running_bench(tmp_path, errors_meant=True) as under_test:
        yield under_test


def passes(guard: ScreenGuard, error: BaseException) -> bool:
    from kivy.base import ExceptionManager

    answer = guard.handle_exception(error)
    assert answer in (ExceptionManager.PASS, ExceptionManager.RAISE)
    return answer == ExceptionManager.PASS


def test_one_failure_is_said_and_the_window_stays(bench: BenchUnderTest) -> None:
    guard = ScreenGuard(bench.bench, lambda: 0.0)
    assert passes(guard, UnforeseenError("secret plywood"))
    message = bench.pump().message
    assert message is not None
    assert message.alarm
    assert "UnforeseenError" in str(message.text)
    assert "plywood" not in str(message.text)


def test_a_screen_that_fails_at_every_frame_ends_the_program(bench: BenchUnderTest) -> None:
    now_s = [0.0]
    guard = ScreenGuard(bench.bench, lambda: now_s[0])
    for _ in range(MOST - 1):
        now_s[0] += 1 / 60
        assert passes(guard, UnforeseenError())
    assert not passes(guard, UnforeseenError())


def test_a_failure_now_and_then_ends_nothing(bench: BenchUnderTest) -> None:
    now_s = [0.0]
    guard = ScreenGuard(bench.bench, lambda: now_s[0])
    for _ in range(5 * MOST):
        now_s[0] += 1.01 * WITHIN_S / (MOST - 1)
        assert passes(guard, UnforeseenError())


@pytest.mark.parametrize("request_to_end", [KeyboardInterrupt(), SystemExit(0)])
def test_a_request_to_end_is_heeded(bench: BenchUnderTest, request_to_end: BaseException) -> None:
    assert not passes(ScreenGuard(bench.bench, lambda: 0.0), request_to_end)


def test_a_failing_screen_leaves_the_next_one_whole(bench: BenchUnderTest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The real window: a screen fails while it is drawn; the guard is asked, and another screen is shown after it."""
    from kivy.base import ExceptionManager

    with Offscreen(bench.bench) as screen:
        guard = ScreenGuard(bench.bench, lambda: 0.0)
        ExceptionManager.add_handler(guard)
        try:
            screen.go("setup")
            with monkeypatch.context() as broken:
                broken.setattr(type(screen.app.root.screen), "show", fail)
                with pytest.raises(UnforeseenError) as caught:
                    screen.app.root.show(screen.app.snapshot)
            assert ExceptionManager.handle_exception(caught.value) == ExceptionManager.PASS
            screen.frames()
            screen.go("menu")
            screen.frames()
            assert screen.app.root.screen.name == "menu"
        finally:
            ExceptionManager.remove_handler(guard)


def fail(*_args: object) -> None:
    raise UnforeseenError
