"""What the measuring screen says: texts, shapes and choices as frozen values, worked out from a snapshot.

Stage: screen. Input: Snapshot. Output: MeasureView and its parts. Units mm and degrees. No widget in here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from core.geometry.features import TEN_FEATURES, Feature
from core.metrology.findings import NextReason
from core.metrology.live import LiveState, live_limit, square_value
from core.metrology.readings import Quantity
from core.metrology.tolerances import Limits
from core.metrology.verdict import Verdict
from ui.notation import LengthUnit, Notation
from ui.snapshot import Live, Snapshot, TakenReading
from ui.theme import Shape
from ui.wording import VERDICT_WORD, next_reading_sentence, signed, value_text

SHAPE_OF = {
    Verdict.GO: Shape.DISC,
    Verdict.NO_GO: Shape.CROSSED_SQUARE,
    Verdict.UNDECIDED: Shape.HALF_DIAMOND,
    Verdict.INCONSISTENT: Shape.SPLIT_DISC,
}
_LIVE_LAMP = {
    LiveState.ABSENT: (Shape.RING, "NO SIGNAL"),
    LiveState.STALE: (Shape.RING, "NO SIGNAL"),
    LiveState.FAR: (Shape.RING, "ON THE WAY"),
    LiveState.UNJUDGED: (Shape.RING, "NO LIMIT"),
    LiveState.INSIDE: (Shape.DISC, "GO"),
    LiveState.NEAR_LIMIT: (Shape.HALF_DIAMOND, "UNDECIDED"),
    LiveState.OUTSIDE: (Shape.CROSSED_SQUARE, "NO-GO"),
}
# The panel whose choices are screens.
ELSEWHERE = "elsewhere"
VOID_REASONS = (("slipped", "Slipped"), ("wrong place", "Wrong place"), ("burr or dirt", "Burr or dirt"))


@dataclass(frozen=True, slots=True, kw_only=True)
class CursorView:
    """One cursor: its feature, the indication, and the lamp. `figures` digits must have room beside the point, `unit`
    is written behind them; `deviation` is in mm or degrees, None when there is nothing to draw."""

    quantity: Quantity
    feature: Feature | None
    name: str
    target: str
    digits: str
    figures: int
    unit: str
    note: str
    shape: Shape
    word: str
    hold_fraction: float
    takeable: bool
    deviation: float | None
    limit: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """What stands on the drawing at a feature: value or dash, how many readings, whether it is at a cursor or asked
    for again."""

    feature: Feature
    text: str
    count: int
    at_cursor: bool
    suspect: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Something to decide, in place of the live column; each choice is (stable name, words on the button)."""

    name: str
    title: str
    text: str
    choices: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureView:
    """The whole measuring screen."""

    large: CursorView
    small: CursorView
    panel: Panel | None
    advice: str
    task: str
    to_void: int | None


def live_view(live: Live, snapshot: Snapshot) -> CursorView:
    """One cursor with its indication."""
    feature, coupon, notation = live.feature, snapshot.coupon, snapshot.settings.notation
    shape, word = _LIVE_LAMP[live.state]
    decimals = decimals_of(live, snapshot)
    fresh = live.value is not None and live.state not in (LiveState.ABSENT, LiveState.STALE)
    deviation = None
    if fresh and feature is not None and coupon is not None and live.state is not LiveState.FAR:
        assert live.value is not None
        fit = snapshot.evaluation.adjustment if snapshot.evaluation else None
        deviation = live.value - square_value(coupon, feature, fit)
    return CursorView(
        quantity=live.quantity,
        feature=feature,
        name=feature.label if feature else ("no length left" if live.quantity is Quantity.LENGTH else "no corner left"),
        target=_target_text(live, snapshot),
        digits=digits_text(live, decimals, notation) if fresh else dashes(live.quantity, decimals, notation),
        figures=_figures(live, snapshot, decimals),
        unit=f" {notation.length_sign}" if live.quantity is Quantity.LENGTH else notation.angle_sign,
        note=_note(live, deviation, notation),
        shape=shape,
        word=word,
        hold_fraction=live.hold_fraction if fresh else 0.0,
        takeable=fresh and feature is not None and snapshot.pending is None and not snapshot.closed,
        deviation=deviation,
        limit=live.limit,
    )


def decimals_of(live: Live, snapshot: Snapshot) -> int:
    """As many as the instrument resolves: cables send more than that, and zeros that mean nothing only hurry by."""
    setup = snapshot.setup
    resolution = (setup.caliper if live.quantity is Quantity.LENGTH else setup.gauge).resolution
    return min(3, max(0, math.ceil(-math.log10(resolution)))) if resolution > 0.0 else 2


def digits_text(live: Live, decimals: int, notation: Notation) -> str:
    """The indication's digits with a true minus; a length without its unit, an angle as its notation has it."""
    assert live.value is not None
    if live.quantity is Quantity.LENGTH:
        return notation.length_digits(live.value, decimals)
    return notation.angle(live.value, decimals).removesuffix("°")


def dashes(quantity: Quantity, decimals: int, notation: Notation) -> str:
    """What stands in the place of digits while there is no indication."""
    if quantity is Quantity.LENGTH:
        pattern = notation.length_digits(111.0 if notation.lengths is LengthUnit.MM else 25.4, decimals)
    else:
        pattern = notation.angle(11.0, decimals).removesuffix("°")
    return "".join("–" if letter.isdigit() else letter for letter in pattern)


def _figures(live: Live, snapshot: Snapshot, decimals: int) -> int:
    """How many digits must have room, so that the place of the point never changes within a session."""
    notation = snapshot.settings.notation
    if live.quantity is Quantity.ANGLE:
        # The signs of degrees and minutes take the room of one figure more.
        dms = not notation.angle_sign
        return sum(letter.isdigit() for letter in notation.angle(180.0, decimals)) + dms
    largest_mm = snapshot.coupon.diagonal_mm if snapshot.coupon else 180.0
    whole = len(notation.length_digits(largest_mm, 0).partition(notation.entry("."))[0])
    return max(3 if notation.lengths is LengthUnit.MM else 1, whole) + notation.length_places(decimals)


def _target_text(live: Live, snapshot: Snapshot) -> str:
    if live.feature is None or snapshot.coupon is None:
        return ""
    nominal, notation = snapshot.coupon.nominal(live.feature), snapshot.settings.notation
    limit = f" ± {live.limit:.2f}" if live.limit is not None else ""
    if live.feature.is_length:
        return notation.sentence(f"{nominal:.2f}{limit} mm")
    return notation.sentence(f"{nominal:.0f}{limit}°")


def _note(live: Live, deviation: float | None, notation: Notation) -> str:
    if deviation is not None:
        unit = " mm" if live.quantity is Quantity.LENGTH else "°"
        return notation.sentence(f"{signed(deviation, 2)}{unit} off")
    instrument = "calipers" if live.quantity is Quantity.LENGTH else "angle gauge"
    match live.state:
        case LiveState.ABSENT:
            return f"No {instrument} heard yet"
        case LiveState.STALE:
            return f"The {instrument} went quiet"
        case _:
            return "Not at this feature yet"


def readings_of(snapshot: Snapshot, feature: Feature) -> list[TakenReading]:
    """The readings of a feature that count."""
    return [reading for reading in snapshot.readings if reading.feature is feature and reading.voided is None]


def _advice(snapshot: Snapshot) -> str:
    """What is worth saying beside the drawing: that it is settled, why a reading is asked for again, or the machine."""
    evaluation = snapshot.evaluation
    if evaluation is not None and evaluation.settled:
        count = sum(reading.voided is None for reading in snapshot.readings)
        return f"Settled after {count} readings: {VERDICT_WORD[evaluation.verdict]}. You may stop here."
    asked = evaluation.next_reading if evaluation else None
    if asked is not None and asked.reason is not NextReason.FIRST:
        return next_reading_sentence(asked)
    return snapshot.machine or "no machine named"


def callouts(snapshot: Snapshot, cursors: tuple[Feature | None, ...]) -> tuple[Callout, ...]:
    """What stands at each of the ten features; those in `cursors` are up."""
    asked = snapshot.evaluation.next_reading if snapshot.evaluation else None
    notation = snapshot.settings.notation
    shown = []
    for feature in TEN_FEATURES:
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


def decision_panel(snapshot: Snapshot, *, voiding: int | None, mark_put_off: bool) -> Panel | None:
    """What is to be decided now: a question of the bench first, then the person's own wish to void the reading of
    this number, then the mark; and where to go when there is nothing to measure."""
    if snapshot.question is not None:
        question = snapshot.question
        return Panel(name=question.name, title="Please decide", text=question.text, choices=question.choices)
    if snapshot.session is None or snapshot.closed:
        return _nothing_to_measure(snapshot)
    doubted = next((one for one in snapshot.readings if one.number == voiding and one.voided is None), None)
    if doubted is not None:
        value = value_text(doubted.feature, doubted.value, snapshot.settings.notation)
        return Panel(
            name="void",
            title=f"Void the {doubted.feature.label}?",
            text=f"{value} will not count. It stays in the record. Why?",
            choices=(*VOID_REASONS, ("keep", "Keep it")),
        )
    if not snapshot.mark_confirmed and not mark_put_off:
        return Panel(
            name="mark",
            title="How does the coupon lie?",
            text="Lay it as it was cut: the L mark at the near left corner, its long leg along the near edge, "
            "not mirrored.",
            choices=(("confirm", "It lies so"), ("later", "Not sure: measure first")),
        )
    return None


def _nothing_to_measure(snapshot: Snapshot) -> Panel:
    """The ways on from a bench without an open coupon; each choice is a screen."""
    if snapshot.session is None:
        text, choices = "There is no coupon on the bench.", (("coupon", "New coupon"), ("home", "Home"))
    else:
        text, choices = "This coupon is finished.", (("verdict", "See the verdict"), ("coupon", "Next coupon"))
    return Panel(name=ELSEWHERE, title="Nothing to measure", text=text, choices=choices)


def reading_to_void(snapshot: Snapshot, feature: Feature | None) -> TakenReading | None:
    """The newest reading that counts at the feature that is up; where it has none, the newest of all."""
    counting = [reading for reading in snapshot.readings if reading.voided is None]
    here = [reading for reading in counting if reading.feature is feature]
    newest = here or counting
    return newest[-1] if newest else None


def measure_view(
    snapshot: Snapshot, in_hand: Quantity, *, voiding: int | None = None, mark_put_off: bool = False
) -> MeasureView:
    """Everything the measuring screen shows."""
    large, small = snapshot.live_length, snapshot.live_corner
    if in_hand is Quantity.ANGLE:
        large, small = small, large
    doubted = reading_to_void(snapshot, large.feature)
    return MeasureView(
        large=live_view(large, snapshot),
        small=live_view(small, snapshot),
        panel=decision_panel(snapshot, voiding=voiding, mark_put_off=mark_put_off),
        advice=_advice(snapshot),
        task=f"{coupon_text(snapshot)}: {limits_text(snapshot.limits)}" if snapshot.limits else "no coupon",
        to_void=doubted.number if doubted else None,
    )


def coupon_text(snapshot: Snapshot) -> str:
    """The coupon's size: '120 × 80 mm'."""
    coupon = snapshot.coupon
    return f"{coupon.width_mm:g} × {coupon.height_mm:g} mm" if coupon else "no coupon"


def limits_text(limits: Limits) -> str:
    """The limits as numbers, in short."""
    parts = []
    if limits.perpendicularity_mm is not None:
        parts.append(f"square {limits.perpendicularity_mm:.2f} mm")
    if limits.corner_deg is not None:
        parts.append(f"corner ± {limits.corner_deg:.2f}°")
    if limits.diagonal_mm is not None:
        parts.append(f"diagonals {limits.diagonal_mm:.2f} mm")
    edges = [edge for edge in (limits.width_edge_mm, limits.height_edge_mm) if edge is not None]
    if edges:
        parts.append("edges ± " + " / ".join(f"{edge:.2f}" for edge in dict.fromkeys(edges)) + " mm")
    return ", ".join(parts)
