"""Practice: what is wrong with an unknown machine, and how a person's answer is judged. Pure.

Stage: simulated bench. Input: a seed, the person's diagnosis. Output: exercises, and the judgement in words with the
hidden truth. Signs as in the measuring model: positive skew leaves NL and FR acute, the right end too far away.
SIMULATED data only.
"""

from __future__ import annotations

import math
import random
from enum import StrEnum

from msgspec import Struct

from core.geometry import TEN_FEATURES, Coupon, Feature, true_features
from core.machine import Direction, Side
from core.numeric import np
from core.said import Angle, Length, Part, Said, paragraph, said
from ui.state import Judgement

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
    PracticeFault.RACKED: said("Gantry racked"),
    PracticeFault.UNDERSIZED: said("Cut too small"),
    PracticeFault.TAPERED: said("Opposite edges unequal"),
    PracticeFault.TURNED_OVER: said("Coupon turned over"),
    PracticeFault.NOTHING: said("Nothing is wrong"),
}


class Move(Struct, frozen=True, kw_only=True):
    """Which end of the gantry (along X) is moved, and which way."""

    end: Side
    direction: Direction

    @property
    def words(self) -> str:
        """Such as 'the right end farther from you'."""
        return f"the {self.end} end {self.direction.words}"

    @property
    def choice(self) -> Part:
        """Such as 'The left end away', of an invented machine."""
        return said("The {end} end {way}", end=self.end.word, way=self.direction.words)

    @property
    def same_elsewhere(self) -> Move:
        """The move at the other end that does the same to the gantry."""
        return Move(end=self.end.opposite, direction=self.direction.opposite)


MOVES = tuple(
    Move(end=end, direction=direction)
    for end in (Side.LEFT, Side.RIGHT)
    for direction in (Direction.NEARER, Direction.FARTHER)
)


class Diagnosis(Struct, frozen=True, kw_only=True):
    """The person's answer; `move` belongs to a racked gantry."""

    fault: PracticeFault
    move: Move | None = None


class Exercise(Struct, frozen=True, kw_only=True):
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
    answered = FAULT_WORDS[diagnosis.fault]
    if not fault_right:
        first = said("You said: {answer}. It was: {truth}.", answer=answered, truth=FAULT_WORDS[exercise.fault])
    elif not way_right:
        first = said("Racked, yes: but that way it would double.")
    else:
        first = said("It was: {truth}.", truth=answered)
    return Judgement(
        right=fault_right and way_right,
        title=said("Right") if fault_right and way_right else said("Not so"),
        sentences=(first, _remedy(exercise), _why(exercise), _truth(exercise)),
    )


def _values(exercise: Exercise) -> dict[Feature, float]:
    """What perfect instruments would read, mm and degrees, on the face that was cut."""
    outline = Coupon(width_mm=COUPON.width_mm - exercise.kerf_mm, height_mm=COUPON.height_mm - exercise.kerf_mm)
    skew_rad = math.radians(exercise.skew_deg)
    shape = np.array([0.0, math.cos(skew_rad) - 1.0, math.sin(skew_rad), 0.0, exercise.taper_y])
    return dict(zip(TEN_FEATURES, true_features(outline, shape)[0].tolist(), strict=True))


def _why(exercise: Exercise) -> Said:
    values = _values(exercise)
    diagonals = Length(abs(values[Feature.NL_FR] - values[Feature.NR_FL]))
    match exercise.fault:
        case PracticeFault.RACKED:
            return _racked_why(exercise, diagonals)
        case PracticeFault.UNDERSIZED:
            return said(
                "The diagonals agree within {difference}, and every edge is short by about {short}: a true rectangle, "
                "too small all round.",
                difference=diagonals,
                short=Length(exercise.kerf_mm),
            )
        case PracticeFault.TAPERED:
            return said(
                "The diagonals agree within {difference}, but the {side} edge is longer than the other by {longer}: "
                "near and far edge do not run parallel.",
                difference=diagonals,
                side=Side.RIGHT.word if exercise.taper_y > 0 else Side.LEFT.word,
                longer=Length(abs(values[Feature.RIGHT] - values[Feature.LEFT])),
            )
        case _:
            return said(
                "The diagonals differ by {difference} one way, the corners say the same skew the other way: read from "
                "two faces.",
                difference=diagonals,
            )


def _racked_why(exercise: Exercise, diagonals: Length) -> Said:
    if exercise.skew_deg > 0:
        return said(
            "Opposite edges agree, but the diagonals differ by {difference}, and NL and FR are acute: a parallelogram.",
            difference=diagonals,
        )
    return said(
        "Opposite edges agree, but the diagonals differ by {difference}, and NR and FL are acute: a parallelogram.",
        difference=diagonals,
    )


def _remedy(exercise: Exercise) -> Said:
    match exercise.fault:
        case PracticeFault.RACKED:
            move, elsewhere = exercise.move, exercise.move.same_elsewhere
            return said(
                "Move the {end} end {way} by {move}, or the {other} end {other_way}.",
                end=move.end.word,
                way=move.direction.words,
                move=Length(abs(exercise.racked_mm)),
                other=elsewhere.end.word,
                other_way=elsewhere.direction.words,
            )
        case PracticeFault.UNDERSIZED:
            return said("Leave the gantry alone: make up for the kerf.")
        case PracticeFault.TAPERED:
            return said("The gantry turns while it travels: look at its side drives and rails.")
        case _:
            return said("Lay it as its mark says, and read the corners again.")


def _truth(exercise: Exercise) -> Part:
    turned = (
        said("The coupon lay turned over for the corners.")
        if exercise.turned_over
        else said("The coupon lay as it was cut.")
    )
    numbers = said(
        "Hidden until now (SIMULATED): skew {skew}, kerf {kerf}, right edge less left edge {taper}.",
        skew=Angle(exercise.skew_deg, signed=True),
        kerf=Length(exercise.kerf_mm),
        taper=Length(2.0 * exercise.taper_y * COUPON.height_mm, signed=True),
    )
    return paragraph(numbers, turned)
