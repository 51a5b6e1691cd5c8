"""History and download from the text bench."""

from __future__ import annotations

from pathlib import Path

from tests.ui.terminal.test_machine import CORRECTED, DESCRIBED, MEASURED, REPAIRED
from tests.ui.terminal.test_text_bench import run


def test_the_history_shows_coupons_and_what_was_done_between(tmp_path: Path) -> None:
    run(tmp_path, [DESCRIBED, *MEASURED, "correct", "close"])
    run(tmp_path, [*CORRECTED, "quit"])
    run(tmp_path, ["new 120x80", "mark", *REPAIRED, "close"])
    _, shown = run(tmp_path, ["history", "quit"])
    assert "template-router: 2 coupons" in shown
    first, second = (shown.index(word) for word in (" GO, not settled", " NO-GO "))
    assert first < second
    assert "corrected by" in shown
    assert "coupons needed before drift can be told" in shown
    _, shown = run(tmp_path, ["history no-go corrected", "history undecided", "history since 2999-01-01", "quit"])
    assert "template-router: 1 coupon, newest first (no-go only, corrected from)" in shown
    assert "template-router: 0 coupons, newest first (undecided only)" in shown
    assert "template-router: 0 coupons, newest first (since 2999-01-01)" in shown


def test_a_filter_that_is_not_understood_says_how_it_reads(tmp_path: Path) -> None:
    wrong = ["history machine plotter", "history since friday", "history squarely"]
    _, shown = run(tmp_path, [DESCRIBED, *wrong, "quit"])
    assert "no machine is called 'plotter'; there are: template-router" in shown
    assert "'friday' is no day" in shown
    assert "'squarely' is not understood" in shown


def test_a_correction_not_yet_checked_asks_for_a_coupon(tmp_path: Path) -> None:
    run(tmp_path, [DESCRIBED, *MEASURED, "correct", "close"])
    _, shown = run(tmp_path, [*CORRECTED, "history", "quit"])
    assert "Cut and measure a coupon now" in shown


def test_without_machine_coupon_or_stick_it_says_so(tmp_path: Path) -> None:
    _, shown = run(tmp_path, ["history", "download", "cable", *MEASURED, "download", "quit"])
    assert "no machine named: 0 coupons" in shown
    assert shown.count("No coupon is on the bench") == 2
