"""Setting the gantry: what the drawing, the ladder and the figures beside it show while one end is moved.

Stage: screen. Input: the guided correction, the gap at the end that moves as it is now. Output: values. Units mm.
Everything follows from that one gap, so that drawing, ladder, figure and words can never say different ways.
"""

from msgspec import Struct

from core.machine import Correction, Direction, GuidedState, Side, Stage
from core.said import NOTHING, Length, Said, said
from ui.speech import Notation

# A gap that leaves more than twice the whole way to go, and more than this, is half keyed in or no gap of this end.
_FAR_OFF_MM = 10.0
WAY_WORD = {
    Direction.FARTHER: said("AWAY"),
    Direction.NEARER: said("NEARER"),
    Direction.LEFT: said("TO THE LEFT"),
    Direction.RIGHT: said("TO THE RIGHT"),
}


class Setting(Struct, frozen=True, kw_only=True):
    """Which `end` goes which `way` on the whole, and what is `left` of it (1 at the start, 0 at the goal).

    `zone` is half the goal's width as a part of the way, `inside` whether the end is in it; `live` while it is known
    where the end is now: else there is no ladder.
    """

    end: Side
    way: Side
    left: float
    zone: float
    inside: bool
    live: bool


class ToGo(Struct, frozen=True, kw_only=True):
    """The figures beside the drawing: how far in the person's unit, which way (nowhere once
    it is there), the gap as it is and where to stop."""

    figure: str
    way: Said
    now: Said
    stop: Said


def setting_before(correction: Correction) -> Setting:
    """The whole way, before anything is begun."""
    return Setting(end=correction.end, way=correction.direction.side, left=1.0, zone=0.0, inside=False, live=False)


def setting_now(guided: GuidedState, gap_mm: float | None) -> Setting | None:
    """Where the gantry is on its way; None outside the step in which it is set by hand."""
    target, meter = guided.target, guided.to_go(gap_at_hand(guided, gap_mm))
    if guided.stage is not Stage.SET or target is None or meter is None:
        return None
    whole_mm, way = guided.begun.move_mm, guided.begun.direction
    return Setting(
        end=guided.begun.end,
        way=way.side,
        left=(1.0 if meter.direction is way else -1.0) * meter.to_go_mm / whole_mm,
        zone=target.inside_mm / whole_mm,
        inside=meter.inside,
        live=gap_at_hand(guided, gap_mm) is not None,
    )


def to_go_now(guided: GuidedState, gap_mm: float | None, notation: Notation) -> ToGo | None:
    """The figures of the same; None outside the step in which it is set by hand."""
    at_hand_mm = gap_at_hand(guided, gap_mm)
    meter = guided.to_go(at_hand_mm)
    if guided.stage is not Stage.SET or meter is None or guided.latest is None:
        return None
    read = said("read {gap}", gap=Length(guided.latest.at(guided.begun.end)))
    return ToGo(
        figure=notation.length_digits(meter.to_go_mm, 2),
        way=NOTHING if meter.inside else WAY_WORD[meter.direction],
        now=read if at_hand_mm is None else said("now {gap}", gap=Length(at_hand_mm)),
        stop=said("stop at {gap}", gap=Length(meter.stop_at_mm)),
    )


def gap_at_hand(guided: GuidedState, gap_mm: float | None) -> float | None:
    """The gap, if it can be that of the end that moves: jaws that are elsewhere move no drawing."""
    if gap_mm is None or guided.stage is not Stage.SET:
        return None
    meter = guided.to_go(gap_mm)
    return None if meter is None or meter.to_go_mm > max(_FAR_OFF_MM, 2.0 * guided.begun.move_mm) else gap_mm
