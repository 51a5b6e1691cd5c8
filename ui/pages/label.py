"""What the label screen says: what the papers call the coupon on the bench, field by field. Pure.

Stage: screen and text bench. Input: Snapshot, a field and what was given. Output: fields, and the command that keeps
them. What a person gives is a Name: it stands letter for letter wherever it is printed.
"""

from enum import StrEnum

from msgspec.structs import replace

from core.said import Name, Part, Said, said, said_in
from ui.bench import LabelCoupon
from ui.state import Snapshot

# What two lines on paper hold.
LONGEST = 60


class LabelField(StrEnum):
    """What can be given; the value is what is typed at the text bench, all but the note are fields of Labelled."""

    ORDER = "order"
    CUSTOMER = "customer"
    OPERATOR = "operator"
    SHOP = "shop"
    CALIPER = "caliper"
    GAUGE = "gauge"
    NOTE = "note"


FIELD_WORDS: dict[LabelField, Said] = {
    LabelField.ORDER: said("Name or order"),
    LabelField.CUSTOMER: said_in("whom the part is for", "Customer"),
    LabelField.OPERATOR: said("Measured by"),
    LabelField.SHOP: said("Shop"),
    LabelField.CALIPER: said("Caliper: number, calibrated"),
    LabelField.GAUGE: said("Angle gauge: number, calibrated"),
    LabelField.NOTE: said("Note"),
}
NOT_GIVEN = Name("–")
NOTHING_TO_LABEL = said("There is no coupon on the bench to label.")


def given(snapshot: Snapshot, field: LabelField) -> str:
    """What stands in a field; empty where nothing was given."""
    if field is LabelField.NOTE:
        return snapshot.note
    value: str = getattr(snapshot.label, field.value)
    return value


def label_rows(snapshot: Snapshot) -> tuple[tuple[LabelField, Said, Part], ...]:
    """Every field with its words and what stands in it."""
    return tuple(
        (field, words, Name(text) if (text := given(snapshot, field)) else NOT_GIVEN)
        for field, words in FIELD_WORDS.items()
    )


def labelling(snapshot: Snapshot, field: LabelField, value: str) -> LabelCoupon:
    """The command that puts `value` into a field and leaves the others."""
    value = " ".join(value.split())[:LONGEST]
    if field is LabelField.NOTE:
        return LabelCoupon(label=snapshot.label, note=value)
    return LabelCoupon(label=replace(snapshot.label, **{field.value: value}))
