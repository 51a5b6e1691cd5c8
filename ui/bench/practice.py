"""Practice: what is wrong with an unknown machine, and how a person's answer is judged. Pure.

Stage: simulated bench. Input: a seed, the person's diagnosis. Output: exercises, and the judgement in words with the
hidden truth. Signs as in the measuring model: positive skew leaves NL and FR acute, the right end too far away.
SIMULATED data only.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.geometry.shape import true_features
from core.machine.directions import Direction, Side
from core.metrology.sentences import signed
from ui.state.snapshot import Judgement

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
SPAN_MM = 640.0


class PracticeFault(StrEnum):
    """What the person can say is wrong."""

    RACKED = "racked"
    UNDERSIZED = "undersized"
    TAPERED = "tapered"
    TURNED_OVER = "turned-over"
    NOTHING = "nothing"


FAULT_WORDS = {
    PracticeFault.RACKED: "Gantry racked",
    PracticeFault.UNDERSIZED: "Cut too small",
    PracticeFault.TAPERED: "Opposite edges unequal",
    PracticeFault.TURNED_OVER: "Coupon turned over",
    PracticeFault.NOTHING: "Nothing is wrong",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Which end of the gantry (along X) is moved, and which way."""

    end: Side
    direction: Direction

    @property
    def words(self) -> str:
        """Such as 'the right end farther from you'."""
        return f"the {self.end} end {self.direction.words}"

    @property
    def same_elsewhere(self) -> Move:
        """The move at the other end that does the same to the gantry."""
        return Move(end=self.end.opposite, direction=self.direction.opposite)


MOVES = tuple(
    Move(end=end, direction=direction)
    for end in (Side.LEFT, Side.RIGHT)
    for direction in (Direction.NEARER, Direction.FARTHER)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """The person's answer; `move` belongs to a racked gantry."""

    fault: PracticeFault
    move: Move | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """One coupon with the hidden truth of its machine; `taper_y` is a fraction, `turned_over` for the corners only."""

    fault: PracticeFault
    skew_deg: float = 0.0
    kerf_mm: float = 0.0
    taper_y: float = 0.0
    turned_over: bool = False

    @property
    def racked_mm(self) -> float:
        """How far the right end sits too far away, over the span."""
        return SPAN_MM * math.tan(math.radians(self.skew_deg))

    @property
    def move(self) -> Move:
        """What makes the gantry square, at the right end."""
        return Move(end=Side.RIGHT, direction=Direction.NEARER if self.skew_deg > 0 else Direction.FARTHER)


def exercises(seed: int) -> tuple[Exercise, ...]:
    """Three machines and a coupon turned over, in an order and with signs that the seed decides."""
    rng = random.Random(f"practice {seed}")
    made = [
        Exercise(fault=PracticeFault.RACKED, skew_deg=rng.choice((-0.5, 0.5))),
        Exercise(fault=PracticeFault.UNDERSIZED, skew_deg=0.03, kerf_mm=0.9),
        Exercise(fault=PracticeFault.TAPERED, skew_deg=0.03, taper_y=rng.choice((-0.006, 0.006))),
        Exercise(fault=PracticeFault.TURNED_OVER, skew_deg=rng.choice((-0.6, 0.6)), turned_over=True),
    ]
    rng.shuffle(made)
    return tuple(made)


def judge(exercise: Exercise, diagnosis: Diagnosis) -> Judgement:
    """Hold the person's answer against the hidden truth."""
    fault_right = diagnosis.fault is exercise.fault
    way_right = exercise.fault is not PracticeFault.RACKED or diagnosis.move in (
        exercise.move,
        exercise.move.same_elsewhere,
    )
    said = FAULT_WORDS[diagnosis.fault].lower()
    if not fault_right:
        first = f"You said: {said}. It was: {FAULT_WORDS[exercise.fault].lower()}."
    elif not way_right:
        first = "The gantry is racked, but moved that way its skew would double."
    else:
        first = f"It was: {said}."
    return Judgement(
        right=fault_right and way_right,
        title="Right" if fault_right and way_right else "Not so",
        sentences=(first, _why(exercise), _remedy(exercise), _truth(exercise)),
    )


def _values(exercise: Exercise) -> dict[Feature, float]:
    """What perfect instruments would read, mm and degrees, on the face that was cut."""
    outline = Coupon(width_mm=COUPON.width_mm - exercise.kerf_mm, height_mm=COUPON.height_mm - exercise.kerf_mm)
    skew_rad = math.radians(exercise.skew_deg)
    shape = np.array([0.0, math.cos(skew_rad) - 1.0, math.sin(skew_rad), 0.0, exercise.taper_y])
    return dict(zip(TEN_FEATURES, true_features(outline, shape)[0].tolist(), strict=True))


def _why(exercise: Exercise) -> str:
    values = _values(exercise)
    diagonals_mm = abs(values[Feature.NL_FR] - values[Feature.NR_FL])
    match exercise.fault:
        case PracticeFault.RACKED:
            acute = "NL and FR" if exercise.skew_deg > 0 else "NR and FL"
            return (
                f"Opposite edges agree, but the diagonals differ by {diagonals_mm:.2f} mm and the corners {acute} are "
                "acute, the others obtuse: a parallelogram."
            )
        case PracticeFault.UNDERSIZED:
            return (
                f"The diagonals agree within {diagonals_mm:.2f} mm, and every edge is short by about "
                f"{exercise.kerf_mm:.2f} mm: a true rectangle, too small all round."
            )
        case PracticeFault.TAPERED:
            longer = "right" if exercise.taper_y > 0 else "left"
            by_mm = abs(values[Feature.RIGHT] - values[Feature.LEFT])
            return (
                f"The diagonals agree within {diagonals_mm:.2f} mm, but the {longer} edge is longer than the other by "
                f"{by_mm:.2f} mm: near and far edge do not run parallel."
            )
        case _:
            return (
                f"The diagonals differ by {diagonals_mm:.2f} mm one way, and the corners say the same skew the other "
                "way: lengths and corners were read from different faces."
            )


def _remedy(exercise: Exercise) -> str:
    match exercise.fault:
        case PracticeFault.RACKED:
            move = exercise.move
            return f"Move {move.words} by {abs(exercise.racked_mm):.2f} mm, or {move.same_elsewhere.words} by as much."
        case PracticeFault.UNDERSIZED:
            return "Leave the gantry alone: make up for the kerf."
        case PracticeFault.TAPERED:
            return (
                "The gantry turns while it travels: look at its side drives and rails. Setting one end cures nothing."
            )
        case _:
            return (
                "Look at the mark, lay the coupon as it was cut and read the corners again: until then nobody knows "
                "which way to move."
            )


def _truth(exercise: Exercise) -> str:
    turned = "The coupon lay turned over for the corners." if exercise.turned_over else "The coupon lay as it was cut."
    taper_mm = 2.0 * exercise.taper_y * COUPON.height_mm
    return (
        f"Hidden until now (SIMULATED): skew {signed(exercise.skew_deg, 2)}°, kerf {exercise.kerf_mm:.2f} mm, right "
        f"edge less left edge {signed(taper_mm, 2)} mm. {turned}"
    )
