"""A coupon being chosen: everything keyed in and touched before it is opened, and what is wrong with it if anything.

Stage: new-coupon screen and its limits page. Input: keys and choices. Output: the first event of a session, or a
sentence. Lengths as keyed in are in the person's unit; inside they are mm, corners degrees, warmth degrees Celsius.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from msgspec import Struct, field
from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry import Coupon, Seats, equal_seats, keyed_seats
from core.machine import MachineProfile
from core.metrology import MATERIALS, ExpansionDifference, Scope, Unit, expansion_difference
from core.records import Opened
from core.said import Name, Part, said
from ui.bench import DEFAULT_CLASS, HOUSE_COUPON, OwnLimits, chosen_limits
from ui.bench.opening import opening
from ui.pages.keypad import Entry, press
from ui.speech import AS_KEPT, Notation

NONE = "-"
PART_1_CLASSES = (
    ("f", said("f fine")),
    ("m", said("m medium")),
    ("c", said("c coarse")),
    ("v", said("v very coarse")),
    (NONE, said("none")),
)
PART_2_CLASSES = (("H", Name("H")), ("K", Name("K")), ("L", Name("L")), (NONE, said("by angle")))
MATERIAL_CHOICES = ((NONE, said("none")), *((name, material.label) for name, material in MATERIALS.items()))


class SeatsKind(StrEnum):
    """What the jaws lie on for a diagonal; the widths follow from the size."""

    KEYED = "keyed"
    EQUAL = "equal"
    NONE = "none"

    def on(self, width_mm: float, height_mm: float) -> Seats | None:
        """The seats of a coupon of this size."""
        match self:
            case SeatsKind.KEYED:
                return keyed_seats(width_mm, height_mm)
            case SeatsKind.EQUAL:
                return equal_seats(width_mm, height_mm)
            case SeatsKind.NONE:
                return None


SEATS_CHOICES = (
    (SeatsKind.KEYED, said("keyed seats")),
    (SeatsKind.EQUAL, said("equal seats")),
    (SeatsKind.NONE, said("no seats")),
)


class Field(StrEnum):
    """A number that can be keyed in."""

    WIDTH = "width"
    HEIGHT = "height"
    EDGE = "edge"
    SQUARE = "square"
    CORNER = "corner"
    DIAGONAL = "diagonal"
    WINDOW_WIDTH = "window-width"
    WINDOW_HEIGHT = "window-height"
    TEMPERATURE = "temperature"

    @property
    def is_length(self) -> bool:
        """True for what is keyed in in the person's unit of length."""
        return self not in (Field.CORNER, Field.TEMPERATURE)


SIDES = (Field.WIDTH, Field.HEIGHT)
OWN_LIMITS = (Field.EDGE, Field.SQUARE, Field.CORNER, Field.DIAGONAL)
WINDOW_SIDES = (Field.WINDOW_WIDTH, Field.WINDOW_HEIGHT)


class CouponDraft(Struct, frozen=True, kw_only=True):
    """`active` is the field the keys go to; `fresh` while its old number is still there to be typed over. `part_1`,
    `part_2` and `material` may be NONE; `carried_over` while the temperature is still that of the last coupon. `grid`
    and `place` are those of a coupon that was cut with others over the bed, empty for one by itself."""

    entries: Mapping[Field, Entry] = field(default_factory=lambda: MappingProxyType({}))
    part_1: str = DEFAULT_CLASS[0]
    part_2: str = DEFAULT_CLASS[1]
    material: str = NONE
    seats: SeatsKind = SeatsKind.KEYED
    carried_over: bool = False
    active: Field = Field.WIDTH
    fresh: bool = True
    grid: str = ""
    place: str = ""

    @property
    def tolerance_class(self) -> str:
        """The ISO 2768 class, such as 'mK', or 'm' alone; empty where own limits are to serve alone."""
        return "" if self.part_1 == NONE else self.part_1 + self.part_2.removesuffix(NONE)

    def is_in(self, notation: Notation) -> bool:
        """Whether its lengths are in this unit; one begun before the person chose another is begun anew."""
        return all(entry.unit is notation.length_unit for name, entry in self.entries.items() if name.is_length)

    def text(self, name: Field) -> str:
        """What is keyed in there, a dash for nothing."""
        return self.entries[name].text or "–"

    def value(self, name: Field) -> float | None:
        """The number in mm or degrees; None where there is none."""
        value = self.entries[name].value
        # Keyed in with four places of an inch it means the same length in whole micrometres.
        return value if value is None or not name.is_length else round(value, 3)


def draft_of(opened: Opened | None, notation: Notation = AS_KEPT) -> CouponDraft:
    """Begin with what was chosen last, or with the house's own; the place in a grid is another one."""
    opened = opened or opening(HOUSE_COUPON)
    tolerance_class, own = chosen_limits(opened)
    numbers = _sizes(opened.coupon) | {
        Field.EDGE: own.edge_mm,
        Field.SQUARE: own.perpendicularity_mm,
        Field.CORNER: own.corner_deg,
        Field.DIAGONAL: own.diagonal_mm,
        Field.TEMPERATURE: opened.expansion.temperature_c if opened.expansion else None,
    }
    return CouponDraft(
        entries=MappingProxyType({name: _entry(name, numbers[name], notation) for name in Field}),
        part_1=tolerance_class[:1] or NONE,
        part_2=tolerance_class[1:] or NONE,
        material=opened.expansion.material if opened.expansion else NONE,
        seats=_kind_of(opened.coupon.seats),
        carried_over=opened.expansion is not None,
        grid=opened.grid,
    )


def _kind_of(seats: Seats | None) -> SeatsKind:
    if seats is None:
        return SeatsKind.NONE
    return SeatsKind.EQUAL if seats.nl_fr_mm == seats.nr_fl_mm else SeatsKind.KEYED


def _sizes(coupon: Coupon) -> dict[Field, float | None]:
    return {
        Field.WIDTH: coupon.width_mm,
        Field.HEIGHT: coupon.height_mm,
        Field.WINDOW_WIDTH: coupon.window_width_mm,
        Field.WINDOW_HEIGHT: coupon.window_height_mm,
    }


def _entry(name: Field, number: float | None, notation: Notation) -> Entry:
    """A number as it would have been keyed in."""
    if name.is_length:
        return Entry(unit=notation.length_unit, text="" if number is None else notation.typed(number))
    return Entry(unit=Unit.DEG, text="" if number is None else f"{number:.4f}".rstrip("0").rstrip("."))


def with_key(draft: CouponDraft, key: str) -> CouponDraft:
    """The draft after a key: the first one replaces the old number."""
    entry = draft.entries[draft.active]
    entry = press(replace(entry, text="") if draft.fresh else entry, key)
    entries = MappingProxyType({**draft.entries, draft.active: entry})
    carried_over = draft.carried_over and draft.active is not Field.TEMPERATURE
    return replace(draft, fresh=False, entries=entries, carried_over=carried_over)


def with_active(draft: CouponDraft, name: str) -> CouponDraft:
    """The keys go to this field now."""
    return replace(draft, active=Field(name), fresh=True)


def with_grid(draft: CouponDraft, grid: str, coupon: Coupon | None, notation: Notation = AS_KEPT) -> CouponDraft:
    """The coupon is one of this grid (empty: by itself), of the sizes the grid has already (None: not yet)."""
    if grid == draft.grid:
        return draft
    sizes = {} if coupon is None else {name: _entry(name, mm, notation) for name, mm in _sizes(coupon).items()}
    return replace(draft, entries=MappingProxyType({**draft.entries, **sizes}), grid=grid, place="")


def opened_by(draft: CouponDraft, machine: MachineProfile | None, scope: Scope = Scope.ALL) -> Opened | Part:
    """The session this draft would open, or the sentence that says what is wrong."""
    width_mm, height_mm = (draft.value(side) for side in SIDES)
    if width_mm is None or height_mm is None:
        return said("Key in both sides.")
    if draft.grid and not draft.place:
        return said("Touch the place that is engraved on the coupon.")
    window_width_mm, window_height_mm = (draft.value(side) for side in WINDOW_SIDES)
    if (window_width_mm is None) is not (window_height_mm is None):
        return said("Window: key in both of its sides, or delete both.")
    if (draft.material == NONE) is not (draft.value(Field.TEMPERATURE) is None):
        return said("Temperature: material and temperature belong together, both or neither.")
    try:
        coupon = Coupon(
            width_mm=width_mm,
            height_mm=height_mm,
            window_width_mm=window_width_mm,
            window_height_mm=window_height_mm,
            seats=draft.seats.on(width_mm, height_mm),
        )
        return opening(
            coupon,
            draft.tolerance_class,
            machine,
            own=OwnLimits(
                edge_mm=draft.value(Field.EDGE),
                perpendicularity_mm=draft.value(Field.SQUARE),
                corner_deg=draft.value(Field.CORNER),
                diagonal_mm=draft.value(Field.DIAGONAL),
            ),
            scope=scope,
            expansion=_expansion(draft),
            grid=draft.grid,
            place=draft.place,
        )
    except BadInputError as error:
        return error.what


def _expansion(draft: CouponDraft) -> ExpansionDifference | None:
    temperature_c = draft.value(Field.TEMPERATURE)
    return None if temperature_c is None else expansion_difference(draft.material, temperature_c)
