"""What the measuring screen says: texts, shapes and choices as frozen values, worked out from a snapshot.

Stage: screen. Input: Snapshot. Output: MeasurePage and its parts. Units mm and degrees. No widget in here.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.geometry.features import WINDOW, Feature
from core.metrology.findings import NextReason
from core.metrology.live import live_limit
from core.metrology.readings import Quantity
from core.metrology.verdict import Verdict
from core.said import Part
from ui.pages.bed import count_text, place_on_bench
from ui.pages.limits import limits_text
from ui.pages.live_cursor import LiveCursor, live_cursor
from ui.pages.theme import Shape
from ui.pages.wording import VERDICT_WORD, next_reading_sentence
from ui.speech.notation import value_text
from ui.state.snapshot import Snapshot, TakenReading

SHAPE_OF = {
    Verdict.GO: Shape.DISC,
    Verdict.NO_GO: Shape.CROSSED_SQUARE,
    Verdict.UNDECIDED: Shape.HALF_DIAMOND,
    Verdict.INCONSISTENT: Shape.SPLIT_DISC,
}
# The panel whose choices are screens.
ELSEWHERE = "elsewhere"
VOID_REASONS = (("slipped", "Slipped"), ("wrong place", "Wrong place"), ("burr or dirt", "Burr or dirt"))


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
    text: Part | str
    choices: tuple[tuple[str, Part | str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurePage:
    """The whole measuring screen; `heading` names the place on the bed where the coupon has one."""

    heading: str
    large: LiveCursor
    small: LiveCursor
    panel: Panel | None
    advice: str
    task: str
    to_void: int | None


def readings_of(snapshot: Snapshot, feature: Feature) -> list[TakenReading]:
    """The readings of a feature that count."""
    return [reading for reading in snapshot.readings if reading.feature is feature and reading.voided is None]


def _advice(snapshot: Snapshot) -> str:
    """What is worth saying beside the drawing: that it is settled, why a reading is asked for again, or the machine."""
    evaluation = snapshot.evaluation
    if evaluation is not None and evaluation.settled:
        count = sum(reading.voided is None for reading in snapshot.readings)
        unread = any(evaluation.coupon.has(side) and not readings_of(snapshot, side) for side in WINDOW)
        window = " The window is still unread: it tells kerf from scale." if unread else ""
        return f"Settled after {count} readings: {VERDICT_WORD[evaluation.verdict]}. You may stop here.{window}"
    asked = evaluation.next_reading if evaluation else None
    if asked is not None and asked.reason is not NextReason.FIRST:
        return next_reading_sentence(asked)
    return ": ".join(filter(None, (snapshot.machine or "no machine named", count_text(snapshot))))


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


def measure_page(
    snapshot: Snapshot, in_hand: Quantity, *, voiding: int | None = None, mark_put_off: bool = False
) -> MeasurePage:
    """Everything the measuring screen shows."""
    large, small = snapshot.live_length, snapshot.live_corner
    if in_hand is Quantity.ANGLE:
        large, small = small, large
    doubted = reading_to_void(snapshot, large.feature)
    return MeasurePage(
        heading=f"Measure {place_on_bench(snapshot)}".rstrip(),
        large=live_cursor(large, snapshot),
        small=live_cursor(small, snapshot),
        panel=decision_panel(snapshot, voiding=voiding, mark_put_off=mark_put_off),
        advice=_advice(snapshot),
        task=f"{coupon_text(snapshot)}: {limits_text(snapshot.limits)}" if snapshot.limits else "no coupon",
        to_void=doubted.number if doubted else None,
    )


def coupon_text(snapshot: Snapshot) -> str:
    """The coupon's size: '120 × 80 mm'."""
    coupon = snapshot.coupon
    return f"{coupon.width_mm:g} × {coupon.height_mm:g} mm" if coupon else "no coupon"
