"""The first event of a session, made in one place for the command line, the text bench and the screens."""

from msgspec import Struct
from msgspec.structs import asdict, replace

from core import SOFTWARE
from core.errors import BadInputError
from core.geometry import Coupon, keyed_seats
from core.machine import MachineProfile
from core.metrology import ExpansionDifference, Limits, MeasuringSetup, Scope, limits_for_class, own_limits
from core.records import Opened

DEFAULT_CLASS = "mK"
DEFAULT_SCENARIO = "racked"
HOUSE_COUPON = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
_CLASS_SOURCE, _WITH_OWN = "ISO 2768-", " with own limits"


class OwnLimits(Struct, frozen=True, kw_only=True):
    """The person's own limits, plus and minus mm or degrees; None where there is none."""

    edge_mm: float | None = None
    perpendicularity_mm: float | None = None
    corner_deg: float | None = None
    diagonal_mm: float | None = None


NO_OWN = OwnLimits()


def limits_of(coupon: Coupon, tolerance_class: str | None = None, own: OwnLimits = NO_OWN) -> Limits:
    """The class's limits, the person's own, or the class's with some of the person's own in their place.

    No class is "" where the person wants none, and None where nothing was said of one: then the house's own serves,
    unless there are own limits. Raises BadInputError for a class or a limit there is not, and where nothing is limited.
    """
    given = {name: limit for name, limit in asdict(own).items() if limit is not None}
    if tolerance_class is None and not given:
        tolerance_class = DEFAULT_CLASS
    if not tolerance_class:
        return own_limits(**given)
    by_class = limits_for_class(coupon, tolerance_class)
    if not given:
        return by_class
    edge_mm = given.pop("edge_mm", None)
    if edge_mm is not None:
        given |= {"width_edge_mm": edge_mm, "height_edge_mm": edge_mm}
    return replace(by_class, source=f"{by_class.source}{_WITH_OWN}", **given)


def chosen_limits(opened: Opened) -> tuple[str, OwnLimits]:
    """What was chosen to get the limits of this session: the class ("" for none) and the person's own."""
    limits = opened.limits
    tolerance_class = limits.source.removeprefix(_CLASS_SOURCE).removesuffix(_WITH_OWN)
    try:
        by_class = limits_for_class(opened.coupon, tolerance_class)
    except BadInputError:
        tolerance_class, by_class = "", Limits(source="")
    edges_mm = (limits.width_edge_mm, limits.height_edge_mm)
    own_edges = edges_mm != (by_class.width_edge_mm, by_class.height_edge_mm)

    def where_own(limit: float | None, of_class: float | None) -> float | None:
        return None if limit == of_class else limit

    return tolerance_class, OwnLimits(
        edge_mm=limits.width_edge_mm if own_edges else None,
        perpendicularity_mm=where_own(limits.perpendicularity_mm, by_class.perpendicularity_mm),
        corner_deg=where_own(limits.corner_deg, by_class.corner_deg),
        diagonal_mm=where_own(limits.diagonal_mm, by_class.diagonal_mm),
    )


def opening(
    coupon: Coupon,
    tolerance_class: str | None = None,
    machine: MachineProfile | None = None,
    *,
    own: OwnLimits = NO_OWN,
    scope: Scope = Scope.ALL,
    expansion: ExpansionDifference | None = None,
    grid: str = "",
    place: str = "",
) -> Opened:
    """A session on this coupon, cut on this machine, within the limits of `limits_of`.

    `scope` chooses the quick check, `expansion` brings sizes to 20 degrees Celsius, `grid` and `place` say
    which coupon of a set over the bed it is. Raises BadInputError where the
    class has no limits for such a size.
    """
    return Opened(
        coupon=coupon,
        limits=limits_of(coupon, tolerance_class, own),
        setup=MeasuringSetup(),
        machine=machine.name if machine else "",
        span_mm=machine.span_mm if machine else None,
        software=SOFTWARE,
        scope=scope,
        expansion=expansion,
        grid=grid,
        place=place,
    )


def opening_again(last: Opened | None, machine: MachineProfile | None) -> Opened:
    """A session begun by its first reading: the coupon as it was chosen last, by itself, on the machine in use."""
    if last is None:
        return opening(HOUSE_COUPON, machine=machine)
    return replace(
        last,
        machine=machine.name if machine else "",
        span_mm=machine.span_mm if machine else None,
        setup=MeasuringSetup(),
        software=SOFTWARE,
        scope=Scope.ALL,
        grid="",
        place="",
        checks=(),
    )
