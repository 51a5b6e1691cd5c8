"""A check of calipers or angle gauge being made: values taken at each place, and the command they make.

Stage: check screen. Input: live values and choices. Output: CheckCaliper or CheckGauge. Units mm and degrees.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from core.metrology.gauge_check import JAWS_CLOSED_MM, Block, CheckedLength
from core.metrology.readings import Quantity
from ui.bench.gauge_checks import CheckCaliper, CheckGauge
from ui.speech.notation import AS_KEPT, Notation
from ui.state.messages import Command

SQUARE, TURNED_OVER = "square", "turned-over"
MAX_TAKEN = 5  # of one place; more tell nothing new


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckDraft:
    """`taken` are (place, value); a place is a nominal length in mm as text, SQUARE, or TURNED_OVER."""

    quantity: Quantity = Quantity.LENGTH
    block: Block = Block.METRIC
    place: str = f"{JAWS_CLOSED_MM:g}"
    taken: tuple[tuple[str, float], ...] = ()


def places(draft: CheckDraft) -> tuple[tuple[str, str], ...]:
    """Where values are taken, and the words on the buttons."""
    if draft.quantity is Quantity.ANGLE:
        return ((SQUARE, "Try square"), (TURNED_OVER, "Turned over"))
    sides = tuple((f"{side:g}", f"{side:g}") for side in draft.block.sides_mm)
    return ((f"{JAWS_CLOSED_MM:g}", "Closed jaws"), *sides)


def with_quantity(draft: CheckDraft, quantity: Quantity) -> CheckDraft:
    """Check the other instrument: what was taken belongs to the first."""
    return draft if quantity is draft.quantity else _begun(CheckDraft(quantity=quantity, block=draft.block))


def with_block(draft: CheckDraft, block: Block) -> CheckDraft:
    """Blocks of the other system."""
    return _begun(replace(draft, block=block, taken=()))


def _begun(draft: CheckDraft) -> CheckDraft:
    return replace(draft, place=places(draft)[0][0])


def with_value(draft: CheckDraft, value: float) -> CheckDraft:
    """One more value at the place that is chosen."""
    if sum(place == draft.place for place, _value in draft.taken) >= MAX_TAKEN:
        return draft
    return replace(draft, taken=(*draft.taken, (draft.place, value)))


def taken_at(draft: CheckDraft, place: str) -> tuple[float, ...]:
    """The values of one place."""
    return tuple(value for at, value in draft.taken if at == place)


def command_of(draft: CheckDraft) -> Command | None:
    """What the values make; None while something is missing."""
    if draft.quantity is Quantity.ANGLE:
        square, turned_over = taken_at(draft, SQUARE), taken_at(draft, TURNED_OVER)
        return CheckGauge(square_deg=square, turned_over_deg=turned_over) if square and turned_over else None
    lengths = tuple(
        CheckedLength(nominal_mm=float(place), readings_mm=values)
        for place, _words in places(draft)
        if (values := taken_at(draft, place))
    )
    return CheckCaliper(lengths=lengths) if lengths else None


def taken_text(draft: CheckDraft, decimals: int, notation: Notation = AS_KEPT) -> str:
    """What was taken so far, a line a place."""
    write = notation.length_digits if draft.quantity is Quantity.LENGTH else notation.angle
    lines = []
    for place, words in places(draft):
        if values := taken_at(draft, place):
            lines.append(f"{words}: " + "; ".join(write(value, decimals) for value in values))
    return "\n".join(lines)
