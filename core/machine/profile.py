"""The machine profile: what has to be known of a machine to turn a verdict into a move of its gantry.

Stage: correction. Input: the person's answers. Output: a frozen value; the archive keeps one for every machine.
"""

import math
from enum import StrEnum

from msgspec import Struct

from core.errors import BadInputError
from core.machine.directions import Axis, Front, Side, side_of
from core.machine.holding import HOLDINGS, Holding, HowHeld, UnitKind
from core.said import Length, Name, Number, said

MIN_SPAN_MM = 50.0
MAX_SPAN_MM = 10000.0
# An adjusting screw can be set to about a twelfth of a turn by eye, five minutes on a clock face (common practice).
TURN_DIVISIONS = 12


class Process(StrEnum):
    """What the machine cuts with; decides which cautions are shown."""

    LASER = "laser"
    ROUTER = "router"
    KNIFE = "knife"
    PLOTTER = "plotter"
    OTHER = "other"


class MachineProfile(Struct, frozen=True, kw_only=True):
    """One machine. The gantry runs along `gantry_axis`; `span_mm` lies between the two places that can be moved.

    For `HowHeld.RAILS` the span is the distance along the rails between the fixings where they can be moved.
    `movable` names the ends that can be moved, as seen from the front; empty means both. `front_words` says which side
    the front is, for people. Gap points: `gap_span_mm` is the distance between the two places where gaps are read
    (None: at the adjusters), `reference` the side of the gantry on which the fixed reference lies, seen from the front
    (None: the near or left one). `wanted_mm` is how far out of square the gantry may stay over its span;
    `part_side_mm` the side of the person's usual part, on which a skew is shown (None: 400 mm).
    """

    name: str
    span_mm: float
    process: Process = Process.OTHER
    gantry_axis: Axis = Axis.X
    front: Front = Front.Y_AWAY
    front_words: str = ""
    movable: tuple[Side, ...] = ()
    held: HowHeld = HowHeld.NOT_SAID
    screw_pitch_mm: float | None = None
    belt_pitch_mm: float | None = None
    thinnest_shim_mm: float | None = None
    steps_per_mm: float | None = None
    gap_span_mm: float | None = None
    reference: Side | None = None
    bed_width_mm: float | None = None
    bed_height_mm: float | None = None
    kerf_mm: float | None = None
    controller_skew_set: bool = False
    wanted_mm: float | None = None
    part_side_mm: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.span_mm) and MIN_SPAN_MM <= self.span_mm <= MAX_SPAN_MM):
            raise BadInputError(
                said(
                    "gantry span {span}: it must lie between {least} and {most}",
                    span=Length(self.span_mm, None),
                    least=Length(MIN_SPAN_MM, None, unit=False),
                    most=Length(MAX_SPAN_MM, None),
                )
            )
        for name in _POSITIVE:
            number = getattr(self, name)
            if number is not None and not (math.isfinite(number) and number > 0.0):
                raise BadInputError(
                    said("{name} {number}: it must be more than zero", name=Name(name), number=Number(number))
                )
        if self.kerf_mm is not None and not (math.isfinite(self.kerf_mm) and self.kerf_mm >= 0.0):
            raise BadInputError(said("kerf {kerf}: it must be zero or more", kerf=Length(self.kerf_mm, None)))
        strange = [side for side in self.movable if side not in self.ends]
        if strange:
            raise BadInputError(
                said(
                    "the {end} end: this machine's ends are {one} and {other}",
                    end=strange[0].word,
                    one=self.ends[0].word,
                    other=self.ends[1].word,
                )
            )
        if self.reference is not None and self.reference in self.ends:
            raise BadInputError(
                said(
                    "reference on the {reference} side: it must lie across the part that is turned",
                    reference=self.reference.word,
                )
            )

    @property
    def holding(self) -> Holding:
        """Words and rules of how squareness is held."""
        return HOLDINGS[self.held]

    @property
    def part_axis(self) -> Axis:
        """The machine axis along which the part that is turned runs: the gantry's own, or across it for rails."""
        return self.gantry_axis.other if self.held is HowHeld.RAILS else self.gantry_axis

    @property
    def ends(self) -> tuple[Side, Side]:
        """The two ends of the part that is turned as seen from the front: left and right, or near and far."""
        end = side_of(self.front.seen(self.part_axis.vector))
        return (end, end.opposite) if end in (Side.LEFT, Side.NEAR) else (end.opposite, end)

    @property
    def can_move(self) -> tuple[Side, ...]:
        """The ends that can be moved."""
        return self.movable or self.ends

    @property
    def reference_side(self) -> Side:
        """The side on which the fixed reference for gaps lies."""
        return self.reference or (Side.NEAR if self.ends[0] is Side.LEFT else Side.LEFT)

    @property
    def unit_mm(self) -> float | None:
        """What one unit of the adjuster moves: a turn, a tooth, a motor step; None where it is not known."""
        match self.holding.unit:
            case UnitKind.TURN:
                return self.screw_pitch_mm
            case UnitKind.TOOTH:
                return self.belt_pitch_mm
            case UnitKind.SHIM:
                return self.thinnest_shim_mm
            case UnitKind.STEP:
                return 1.0 / self.steps_per_mm if self.steps_per_mm else None
            case UnitKind.NONE:
                return None

    @property
    def least_count_mm(self) -> float | None:
        """The smallest move the adjuster can make; None when it moves freely or is not known."""
        if self.unit_mm is None:
            return None
        return self.unit_mm / TURN_DIVISIONS if self.holding.unit is UnitKind.TURN else self.unit_mm


_POSITIVE = (
    "screw_pitch_mm",
    "belt_pitch_mm",
    "thinnest_shim_mm",
    "steps_per_mm",
    "gap_span_mm",
    "bed_width_mm",
    "bed_height_mm",
    "wanted_mm",
    "part_side_mm",
)
