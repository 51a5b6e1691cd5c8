"""Tolerance limits as numbers: own limits, or looked up by ISO 2768 class.

Stage: before the verdict. In: a coupon and a class such as "mK", or the person's own limits. Out: Limits in mm and
degrees. Sources: ISO 2768-1:1989 tables 1 and 3 (linear and angular dimensions), ISO 2768-2:1989 table 2
(perpendicularity). Part 2 was withdrawn in favour of ISO 22081:2021; drawings still invoke it, hence it is offered,
and always shown as numbers.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

from core.errors import BadInputError, OutsideTableError
from core.geometry import Coupon
from core.said import Angle, Length, Name, Part, Said, said

# A tenth of a micrometre is below every workshop's instruments; a metre is no limit any more.
MIN_LIMIT, MAX_LIMIT = 1e-4, 1000.0
OWN_LIMITS = "own limits"
WITH_OWN = " with own limits"
_LIMITED = {
    "width_edge_mm": said("edges along X"),
    "height_edge_mm": said("edges along Y"),
    "perpendicularity_mm": said("perpendicularity"),
    "corner_deg": said("corners"),
    "diagonal_mm": said("difference of the diagonals"),
}


class Limits(Struct, frozen=True, kw_only=True):
    """Symmetric limits (plus and minus); None where there is none.

    `width_edge_mm` for the near and far edges, `height_edge_mm` for left and right; `perpendicularity_mm` limits
    shorter side x cos(corner); `corner_deg` the corner's deviation from 90 degrees; `diagonal_mm` the difference of
    the diagonals. `source` says where they come from, such as 'ISO 2768-mK' or 'own limits'.
    """

    source: str
    width_edge_mm: float | None = None
    height_edge_mm: float | None = None
    perpendicularity_mm: float | None = None
    corner_deg: float | None = None
    diagonal_mm: float | None = None

    def __post_init__(self) -> None:
        for name, limited in _LIMITED.items():
            limit = getattr(self, name)
            if limit is not None and not MIN_LIMIT <= limit <= MAX_LIMIT:
                raise BadInputError(_no_limit(limited, Angle if name.endswith("_deg") else Length, limit))

    @property
    def whence(self) -> Part:
        """The source as it is said: a class is the same everywhere, the person's own are not."""
        if self.source == OWN_LIMITS:
            return said("own limits")
        if self.source.endswith(WITH_OWN):
            return said("{standard} with own limits", standard=Name(self.source.removesuffix(WITH_OWN)))
        return Name(self.source)

    @property
    def judges_squareness(self) -> bool:
        """True when there is a limit for perpendicularity, corners or the difference of the diagonals."""
        return any(limit is not None for limit in (self.perpendicularity_mm, self.corner_deg, self.diagonal_mm))


def _no_limit(limited: Said, quantity: type[Angle] | type[Length], limit: float) -> Said:
    return said(
        "limit of the {limited}, {limit}: it must lie between {least} and {most}",
        limited=limited,
        limit=quantity(limit, None),
        least=quantity(MIN_LIMIT, None),
        most=quantity(MAX_LIMIT, None),
    )


# Rows of a table: (above, up to and including, tolerance by class); None where the standard gives no value.
_Row = tuple[float, float, dict[str, float | None]]


def _rows(steps_mm: Sequence[float], columns: dict[str, Sequence[float | None]]) -> tuple[_Row, ...]:
    return tuple(
        (steps_mm[i], steps_mm[i + 1], {letter: column[i] for letter, column in columns.items()})
        for i in range(len(steps_mm) - 1)
    )


# ISO 2768-1 table 1: linear dimensions except broken edges, plus and minus mm.
LINEAR_MM = _rows(
    (0.5, 3, 6, 30, 120, 400, 1000, 2000, 4000),
    {
        "f": (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, None),
        "m": (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0),
        "c": (0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 4.0),
        "v": (None, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0, 8.0),
    },
)
# ISO 2768-1 table 3: angular dimensions by the length of the shorter side, plus and minus minutes of arc.
ANGULAR_MINUTES = _rows(
    (0, 10, 50, 120, 400, math.inf),
    {
        "f": (60, 30, 20, 10, 5),
        "m": (60, 30, 20, 10, 5),
        "c": (90, 60, 30, 15, 10),
        "v": (180, 120, 60, 30, 20),
    },
)
# ISO 2768-2 table 2: perpendicularity by the length of the shorter side, mm.
PERPENDICULARITY_MM = _rows(
    (0, 100, 300, 1000, 3000),
    {
        "H": (0.2, 0.3, 0.4, 0.5),
        "K": (0.4, 0.6, 0.8, 1.0),
        "L": (0.6, 1.0, 1.5, 2.0),
    },
)


def _look_up(table: Sequence[_Row], what: Said, standard: str, letter: str, nominal_mm: float) -> float:
    for above_mm, up_to_mm, tolerances in table:
        if above_mm < nominal_mm <= up_to_mm or (nominal_mm == above_mm == table[0][0]):
            tolerance = tolerances[letter]
            if tolerance is not None:
                return tolerance
    given = [row for row in table if row[2][letter] is not None]
    raise OutsideTableError(
        said(
            "{what} of {nominal}: {standard} class {letter} covers {least} to {most}; choose another class or give "
            "your own limits",
            what=what,
            nominal=Length(nominal_mm, None),
            standard=Name(standard),
            letter=Name(letter),
            least=Length(given[0][0], None, unit=False),
            most=Length(given[-1][1], None),
        )
    )


def linear_tolerance_mm(nominal_mm: float, letter: str) -> float:
    """Plus-minus tolerance of a length, class f, m, c or v; raises OutsideTableError. ISO 2768-1 table 1."""
    return _look_up(LINEAR_MM, said("length"), "ISO 2768-1", letter, nominal_mm)


def angular_tolerance_deg(shorter_side_mm: float, letter: str) -> float:
    """Plus-minus tolerance of an angle in degrees, class f, m, c or v. ISO 2768-1 table 3."""
    return _look_up(ANGULAR_MINUTES, said("shorter side"), "ISO 2768-1", letter, shorter_side_mm) / 60.0


def perpendicularity_tolerance_mm(shorter_side_mm: float, letter: str) -> float:
    """Width of the perpendicularity zone, class H, K or L; raises OutsideTableError. ISO 2768-2 table 2."""
    return _look_up(PERPENDICULARITY_MM, said("shorter side"), "ISO 2768-2", letter, shorter_side_mm)


def limits_for_class(coupon: Coupon, tolerance_class: str) -> Limits:
    """The limits of a class for this coupon: f, m, c or v alone, or followed by H, K or L ("mK").

    With part 2 invoked the angular column does not apply to right angles: the corners are then information. Raises
    BadInputError for an unknown class and OutsideTableError for a size the tables do not cover.
    """
    part_1, part_2 = tolerance_class[:1], tolerance_class[1:]
    if part_1 not in ("f", "m", "c", "v") or part_2 not in ("", "H", "K", "L"):
        raise BadInputError(
            said(
                "tolerance class '{letters}': it must be f, m, c or v, alone or followed by H, K or L, such as mK",
                letters=Name(tolerance_class),
            )
        )
    shorter_mm = coupon.shorter_side_mm
    return Limits(
        source=f"ISO 2768-{tolerance_class}",
        width_edge_mm=linear_tolerance_mm(coupon.width_mm, part_1),
        height_edge_mm=linear_tolerance_mm(coupon.height_mm, part_1),
        perpendicularity_mm=perpendicularity_tolerance_mm(shorter_mm, part_2) if part_2 else None,
        corner_deg=None if part_2 else angular_tolerance_deg(shorter_mm, part_1),
    )


def own_limits(
    *,
    edge_mm: float | None = None,
    perpendicularity_mm: float | None = None,
    corner_deg: float | None = None,
    diagonal_mm: float | None = None,
) -> Limits:
    """Limits of the person's own; at least one must be given, or BadInputError is raised."""
    if edge_mm is None and perpendicularity_mm is None and corner_deg is None and diagonal_mm is None:
        raise BadInputError(
            said("own limits: at least one limit must be given (edge, perpendicularity, corner or diagonal)")
        )
    return Limits(
        source=OWN_LIMITS,
        width_edge_mm=edge_mm,
        height_edge_mm=edge_mm,
        perpendicularity_mm=perpendicularity_mm,
        corner_deg=corner_deg,
        diagonal_mm=diagonal_mm,
    )
