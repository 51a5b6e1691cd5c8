"""The first event of a session, made in one place for the command line, the text bench and the screens."""

from __future__ import annotations

from core import SOFTWARE
from core.geometry.coupon import Coupon
from core.machine.profile import MachineProfile
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import Scope
from core.metrology.expansion import ExpansionDifference
from core.metrology.tolerances import limits_for_class
from core.records.events import Opened

DEFAULT_CLASS = "mK"


def opening(
    coupon: Coupon,
    tolerance_class: str = DEFAULT_CLASS,
    machine: MachineProfile | None = None,
    *,
    scope: Scope = Scope.ALL,
    expansion: ExpansionDifference | None = None,
    grid: str = "",
    place: str = "",
) -> Opened:
    """A session on this coupon, cut on this machine, with the limits of an ISO 2768 class.

    `scope` chooses the quick check, `expansion` brings sizes to 20 degrees Celsius, `grid` and `place` say
    which coupon of a set over the bed it is. Raises BadInputError where the
    class has no limits for such a size.
    """
    return Opened(
        coupon=coupon,
        limits=limits_for_class(coupon, tolerance_class),
        setup=MeasuringSetup(),
        machine=machine.name if machine else "",
        span_mm=machine.span_mm if machine else None,
        software=SOFTWARE,
        scope=scope,
        expansion=expansion,
        grid=grid,
        place=place,
    )
