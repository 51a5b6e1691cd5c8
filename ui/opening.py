"""The first event of a session, made in one place for the command line, the text bench and the screens."""

from __future__ import annotations

from core import SOFTWARE
from core.geometry.coupon import Coupon
from core.metrology.accuracy import MeasuringSetup
from core.metrology.tolerances import limits_for_class
from core.records.events import Opened

DEFAULT_CLASS = "mK"


def opening(
    coupon: Coupon, tolerance_class: str = DEFAULT_CLASS, *, machine: str = "", span_mm: float | None = None
) -> Opened:
    """A session on this coupon with the limits of an ISO 2768 class; raises BadInputError where it has none."""
    return Opened(
        coupon=coupon,
        limits=limits_for_class(coupon, tolerance_class),
        setup=MeasuringSetup(),
        machine=machine,
        span_mm=span_mm,
        software=SOFTWARE,
    )
