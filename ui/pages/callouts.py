"""What stands at each feature on the drawing of a measured coupon, as frozen values, worked out from a snapshot.

Stage: screen. Input: Snapshot. Output: Callouts. Units mm and degrees. No widget in here.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.geometry.features import Feature
from core.metrology.findings import NextReason
from core.metrology.live import live_limit
from ui.pages.bench import readings_of
from ui.state.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """What stands on the drawing at a feature: value or dash, how many readings, whether it is at a cursor or asked
    for again."""

    feature: Feature
    text: str
    count: int
    at_cursor: bool
    suspect: bool


def callouts(snapshot: Snapshot, cursors: tuple[Feature | None, ...]) -> tuple[Callout, ...]:
    """What stands at each feature of the coupon; those in `cursors` are up."""
    asked = snapshot.evaluation.next_reading if snapshot.evaluation else None
    notation = snapshot.settings.notation
    shown = []
    for feature in snapshot.coupon.features if snapshot.coupon is not None else ():
        taken = readings_of(snapshot, feature)
        if taken:
            mean = sum(reading.value for reading in taken) / len(taken)
            text = notation.length_digits(mean, 2) if feature.is_length else notation.angle(mean, 1)
        else:
            text = "–"
        shown.append(
            Callout(
                feature=feature,
                text=text,
                count=len(taken),
                at_cursor=feature in cursors,
                suspect=asked is not None and asked.feature is feature and asked.reason is NextReason.SUSPECT,
            )
        )
    return tuple(shown)


def zone_limit(snapshot: Snapshot, feature: Feature) -> float | None:
    """The feature's own plus-minus tolerance in mm or degrees."""
    if snapshot.coupon is None or snapshot.limits is None:
        return None
    return live_limit(snapshot.coupon, snapshot.limits, feature)
