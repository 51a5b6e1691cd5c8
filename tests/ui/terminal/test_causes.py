"""Causes and proofs from the text bench: the whole story typed, also the wrong way, and what needs no instrument."""

from __future__ import annotations

import math
import wave
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from core.machine.gantry_correction import Refusal, RefusalReason
from core.said import said
from tests.ui.scenes import SCENES
from tests.ui.terminal.test_machine import CAUTIONS, DESCRIBED, FINISHED, GAPS, MEASURED, PLAY
from tests.ui.terminal.test_text_bench import TYPED, run
from ui.bench.steps import empty_snapshot
from ui.terminal.causes import parse_causes_line

SQUARE = ["near 119.86", "right 79.85", "far 119.86", "left 79.85", "nl-fr 144.02", "nr-fl 144.02"]
SQUARE += [f"{corner} 90.0" for corner in ("nl", "nr", "fr", "fl")]
CORRECTED = ["correct", *CAUTIONS, *PLAY, *GAPS]
DONE = [*FINISHED, "close"]


def test_cut_measure_correct_recut_and_compare(tmp_path: Path) -> None:
    _, first = run(tmp_path, [DESCRIBED, *MEASURED, "why", "predict", *CORRECTED, *DONE])
    assert "the gantry is racked" in first
    assert "takes a second coupon" in " ".join(first.split())
    assert "Never correct twice" in first
    assert "diagonal NL-FR: 144.0" in first
    assert "By the gaps it stands 0.00 mm from its goal" in first
    status, second = run(tmp_path, ["new 120x80", "mark", *SQUARE, *SQUARE, "close"])
    assert status == 0
    assert "Fixed, on one coupon" in second
    assert "The coupon came out as foretold." in " ".join(second.split())
    _, third = run(tmp_path, ["new 120x80", "mark", *SQUARE, *SQUARE, "close"])
    assert "Fixed, on more than one coupon" in third


def test_the_wrong_way_is_said(tmp_path: Path) -> None:
    run(tmp_path, [DESCRIBED, *MEASURED, *CORRECTED, *DONE])
    doubled = [f"{name} {_doubled(name, float(value)):.3f}" for name, value in (line.split() for line in TYPED)]
    _, shown = run(tmp_path, ["new 120x80", "mark", *doubled, *doubled, "close"])
    assert "Moved the wrong way: the skew has doubled." in shown
    assert "did not come out as foretold" in " ".join(shown.split())


def _doubled(name: str, value: float) -> float:
    """The reading of a coupon with twice the skew of the typed one."""
    nominal = {"nl-fr": math.hypot(120.0, 80.0), "nr-fl": math.hypot(120.0, 80.0)}.get(name)
    if nominal is not None:
        return 2.0 * value - nominal + 0.05
    return 2.0 * value - 90.0 if name in ("nl", "nr", "fr", "fl") else value


def test_the_square_reference_sets_the_gantry_without_a_coupon(tmp_path: Path) -> None:
    lines = [DESCRIBED, "reference", *MEASURED, "reference keep 32.10 32.40", "reference", "close"]
    _, kept = run(tmp_path, lines)
    assert "No square reference yet" in kept
    assert "skew and gaps are remembered together" in kept
    assert "Square reference kept from session" in kept
    _, used = run(tmp_path, ["reference use 32.10 33.40", "quit"])
    assert "== Before you reach in" in used
    _, dropped = run(tmp_path, ["event crash", "reference", "reference use 32.10 33.40", "quit"])
    assert dropped.count("was dropped: a crash") == 2


def test_a_reference_needs_a_trustworthy_coupon(tmp_path: Path) -> None:
    _, shown = run(
        tmp_path, [DESCRIBED, "reference keep 1 2", "new 120x80", *TYPED, *TYPED, "reference keep 1 2", "quit"]
    )
    assert "needs the coupon that was just cut" in shown
    assert "which corner carried the mark" in " ".join(shown.split())


def test_a_coarse_reset_is_logged_and_ends_the_correction(tmp_path: Path) -> None:
    _, shown = run(tmp_path, [DESCRIBED, *MEASURED, "correct", "reset setting-blocks", "done", "quit"])
    assert "No correction is under way." in shown


def pluck(file: Path, f_hz: float) -> str:
    rate = 16000
    t = np.arange(rate) / rate
    sound = sum(np.sin(2 * np.pi * f_hz * n * t) * np.exp(-t * n / 0.4) / n**2 for n in range(1, 6))
    whole = np.round(12000 * np.concatenate([np.zeros(rate // 2), sound])).astype("<i2")
    with wave.open(str(file), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(whole.tobytes())
    return str(file)


def test_belts_are_compared_from_recordings(tmp_path: Path) -> None:
    left, right = pluck(tmp_path / "left.wav", 92.0), pluck(tmp_path / "right.wav", 80.0)
    silence = pluck(tmp_path / "silence.wav", 0.0)
    _, shown = run(
        tmp_path,
        [
            f"belts {left} {right}",
            f"belts {left} {right} 400 460",
            f"belts {left} {right} 400 0",
            f"belts {left} {silence}",
            f"belts {left} {tmp_path}/none.wav",
            "quit",
        ],
    )
    shown = " ".join(shown.split())  # lines are broken behind a path as long as it is
    assert "the first belt is tighter by 32 ±" in shown
    assert "no difference in tension is proven" in shown
    assert "more than zero" in shown
    assert "Heard nothing" in shown
    assert "none.wav" in shown


def test_the_reversal_check_by_words(tmp_path: Path) -> None:
    lines = [
        "flip",
        "flip 1 lower",
        "new 120x80",
        "reversal",
        "flip 1,4 lower paper",
        "flip 1 above",
        "flip x lower",
        "quit",
    ]
    _, shown = run(tmp_path, lines)
    assert shown.count("Begin the coupon first") == 1
    assert "There is no coupon on the bench" in shown
    # Two coupons are cut for it: what is said before cutting stands before the first step.
    assert shown.index("Hands and tools out, covers on.") < shown.index("1. Cut two coupons")
    assert "7. Look at the right end of the far edges" in shown
    assert "Skew +0.33 ± 0.03°: corners NL and FR are acute." in shown
    assert "say what stands out, lower or upper" in shown
    assert "'x' is not a number" in shown


@pytest.mark.parametrize("line", ["why not", "reset by-eye", "belts one.wav", "near 119.85"])
def test_other_lines_are_left_to_others(line: str) -> None:
    assert parse_causes_line(line.split(), empty_snapshot(simulated=False)) is None


def test_a_machine_that_cannot_be_adjusted_gets_its_design_corrected(tmp_path: Path) -> None:
    described = DESCRIBED.replace("held=screws", "held=not-adjustable")
    _, shown = run(tmp_path, [described, "new 120x80", *TYPED, *TYPED, "design", "mark", "design", "correct", "quit"])
    assert "which corner carried the mark" in " ".join(shown.split())
    assert "cornerwise correct-design FILE OUT --skew -0.3" in shown
    assert "letters lean and circles are ellipses" in shown
    assert "This machine cannot be adjusted" in shown


def test_nothing_measured_says_so() -> None:
    assert parse_causes_line(["design"], empty_snapshot(simulated=False)) == said("Nothing is measured yet.")


def test_a_coupon_whose_move_was_made_says_nothing_of_a_design() -> None:
    """Its skew is no longer the machine's, on the screen and here."""
    before = SCENES["not-adjustable"]()
    spent = Refusal(reason=RefusalReason.SPENT, text=said("It was made."))
    after = replace(before, machines=replace(before.machines, correction=spent))
    assert "correct-design FILE OUT" in str(parse_causes_line(["design"], before))
    assert parse_causes_line(["design"], after) == spent.text
    assert "needs a judged coupon" in str(parse_causes_line(["predict"], empty_snapshot(simulated=False)))
    assert parse_causes_line(["why"], empty_snapshot(simulated=False)) == said("Nothing is measured yet.")
