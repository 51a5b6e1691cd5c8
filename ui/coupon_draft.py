"""A coupon being chosen: its two sides and tolerance class as keyed in, and what is wrong with them if anything.

Stage: new-coupon screen. Input: keys and choices. Output: the first event of a session, or a sentence. Units mm.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from core.errors import BadInputError
from core.geometry.coupon import Coupon
from core.machine.profile import MachineProfile
from core.metrology.characteristics import Scope
from core.records.events import Opened
from ui.keypad_entry import Entry, press
from ui.notation import AS_KEPT, Notation
from ui.opening import DEFAULT_CLASS, opening

PART_1_CLASSES = (("f", "f fine"), ("m", "m medium"), ("c", "c coarse"), ("v", "v very coarse"))
PART_2_CLASSES = (("H", "H"), ("K", "K"), ("L", "L"), ("-", "by angle"))
WIDTH, HEIGHT = "width", "height"


@dataclass(frozen=True, slots=True, kw_only=True)
class CouponDraft:
    """`active` is the side the keys go to; `fresh` while its old number is still there to be typed over. `grid` and
    `place` are those of a coupon that was cut with others over the bed, empty for one by itself."""

    width: Entry
    height: Entry
    part_1: str = DEFAULT_CLASS[0]
    part_2: str = DEFAULT_CLASS[1]
    active: str = WIDTH
    fresh: bool = True
    grid: str = ""
    place: str = ""

    @property
    def tolerance_class(self) -> str:
        """The ISO 2768 class, such as 'mK', or 'm' alone."""
        return self.part_1 + ("" if self.part_2 == "-" else self.part_2)


def draft_of(coupon: Coupon | None, notation: Notation = AS_KEPT) -> CouponDraft:
    """Begin with the coupon measured last, or with the house's own."""
    coupon = coupon or Coupon(width_mm=120.0, height_mm=80.0)
    width, height = (
        Entry(unit=notation.length_unit, text=notation.typed(side_mm))
        for side_mm in (coupon.width_mm, coupon.height_mm)
    )
    return CouponDraft(width=width, height=height)


def with_key(draft: CouponDraft, key: str) -> CouponDraft:
    """The draft after a key: the first one replaces the old number."""
    entry = draft.width if draft.active == WIDTH else draft.height
    entry = press(replace(entry, text="") if draft.fresh else entry, key)
    if draft.active == WIDTH:
        return replace(draft, fresh=False, width=entry)
    return replace(draft, fresh=False, height=entry)


def with_active(draft: CouponDraft, side: str) -> CouponDraft:
    """The keys go to the other side now."""
    return replace(draft, active=side, fresh=True)


def with_grid(draft: CouponDraft, grid: str, coupon: Coupon | None, notation: Notation = AS_KEPT) -> CouponDraft:
    """The coupon is one of this grid (empty: by itself), of the size the grid has already (None: not yet)."""
    if grid == draft.grid:
        return draft
    sized = draft if coupon is None else draft_of(coupon, notation)
    return replace(draft, width=sized.width, height=sized.height, grid=grid, place="")


def opened_by(draft: CouponDraft, machine: MachineProfile | None, scope: Scope = Scope.ALL) -> Opened | str:
    """The session this draft would open, or the sentence that says what is wrong."""
    width_mm, height_mm = draft.width.value, draft.height.value
    if width_mm is None or height_mm is None:
        return "Key in both sides."
    if draft.grid and not draft.place:
        return "Touch the place that is engraved on the coupon."
    try:
        # A size keyed in with four places of an inch means the same size in whole micrometres.
        coupon = Coupon(width_mm=round(width_mm, 3), height_mm=round(height_mm, 3))
        return opening(coupon, draft.tolerance_class, machine, scope=scope, grid=draft.grid, place=draft.place)
    except BadInputError as error:
        return str(error)
