"""A check of calipers or angle gauge being made: values taken at each place, and the command they make.

Stage: check screen. Input: live values and choices. Output: CheckCaliper or CheckGauge. Units mm and degrees.
"""

from msgspec import Struct
from msgspec.structs import replace

from core.metrology import JAWS_CLOSED_MM, MM_PER_INCH, Block, CheckedLength, Quantity
from core.said import Angle, Length, Number, Part, Series, lines, said
from ui.bench import CheckCaliper, CheckGauge
from ui.state import Command

SQUARE, TURNED_OVER = "square", "turned-over"
HOW = {
    Quantity.LENGTH: said("Wipe and close the jaws: two or three values; then a setting block."),
    Quantity.ANGLE: said("Gauge against a try square on a flat plate; then the same square turned over."),
}
NEEDS_COUPON = said("A check belongs to a coupon: begin one first.")
QUANTITY_CHOICES = ((Quantity.LENGTH.value, said("Calipers")), (Quantity.ANGLE.value, said("Angle gauge")))
BLOCK_CHOICES = ((Block.METRIC.value, said("Metric")), (Block.INCH.value, said("Inch")))
MAX_TAKEN = 5  # of one place; more tell nothing new


class CheckDraft(Struct, frozen=True, kw_only=True):
    """`taken` are (place, value); a place is a nominal length in mm as text, SQUARE, or TURNED_OVER."""

    quantity: Quantity = Quantity.LENGTH
    block: Block = Block.METRIC
    place: str = f"{JAWS_CLOSED_MM:g}"
    taken: tuple[tuple[str, float], ...] = ()


def places(draft: CheckDraft) -> tuple[tuple[str, Part], ...]:
    """Where values are taken, and the words on the buttons."""
    if draft.quantity is Quantity.ANGLE:
        return ((SQUARE, said("Try square")), (TURNED_OVER, said("Turned over")))
    # As it is engraved on the block, whatever unit the person reads.
    unit_mm = MM_PER_INCH if draft.block is Block.INCH else 1.0
    sides = tuple((f"{side:g}", Number(round(side / unit_mm), 0)) for side in draft.block.sides_mm)
    return ((f"{JAWS_CLOSED_MM:g}", said("Closed jaws")), *sides)


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


def taken_text(draft: CheckDraft, decimals: int) -> Part:
    """What was taken so far, a line a place."""
    taken = ((words, taken_at(draft, place)) for place, words in places(draft))
    return lines(
        *(
            said("{place}: {values}", place=words, values=_values(draft.quantity, values, decimals))
            for words, values in taken
            if values
        )
    )


def _values(quantity: Quantity, values: tuple[float, ...], decimals: int) -> Part:
    """The unit of lengths stands beside the live value."""
    if quantity is Quantity.LENGTH:
        return Series(tuple(Length(value, decimals, unit=False) for value in values), joint="; ")
    return Series(tuple(Angle(value, decimals) for value in values), joint="; ")
