"""The steps of a correction as pictures, from above as the operator sees the machine: the front is the thick edge."""

from core.machine import Act, GuidedState, HowHeld, Side, Stage
from ui.touch.pictures.cautions import MIRRORS
from ui.touch.pictures.machines import HELD, PROCESSES, bed_with_gantry, gantry_along, moving_ends
from ui.touch.pictures.strokes import (
    COUPON_CUT,
    COUPON_MEASURED,
    Picture,
    Role,
    arrow,
    box,
    crossed_out,
    line,
)

COUPON_VOID: Picture = (*COUPON_CUT, *crossed_out())


def picture_of(guided: GuidedState) -> Picture:
    """What is done in the present step, drawn; the setting itself is drawn live (`SettingStage`)."""
    across_bed = bool(guided.profile.ends[0].vector.real)
    match guided.stage:
        case Stage.PLAY:
            return moving_ends((guided.begun.end,))
        case Stage.START | Stage.RUN if guided.profile.held is HowHeld.TWO_MOTORS_ONE_SWITCH:
            return _against_stops(across_bed)
        case Stage.START:
            return _homing(across_bed)
        case Stage.READ_UNTOUCHED | Stage.READ_TRY | Stage.READ_SET | Stage.READ_RUN if guided.gap_end:
            return gap_at(guided.gap_end, guided.profile.reference_side)
        case Stage.LOOSEN | Stage.SET | Stage.TIGHTEN | Stage.TRY | Stage.OFFSET | Stage.STORE:
            return HELD[guided.profile.held]
        case Stage.RUN:
            return gantry_along(across_bed)
        case Stage.REALIGN:
            align = guided.step is not None and guided.step.act is Act.ALIGN
            return MIRRORS if align else PROCESSES[guided.profile.process]
        case Stage.VOID:
            return COUPON_VOID
        case Stage.DONE:
            return COUPON_MEASURED
        case _:
            return COUPON_CUT


def gap_at(end: Side, reference: Side) -> Picture:
    """The gap that is read now: between the gantry's end and what is fixed on that side of it."""
    place = complex(50, 52) + 26 * end.vector
    block = place + 30 * reference.vector
    near, far = place + 5 * reference.vector, place + 22 * reference.vector
    return (
        *bed_with_gantry(along=bool(end.vector.real)),
        box(block.real - 9, block.imag - 8, 18, 16, Role.QUIET),
        line((near.real, near.imag), (far.real, far.imag), role=Role.ACT, width=6.0),
    )


def _against_stops(across_bed: bool) -> Picture:
    """Both ends pushed against something fixed."""
    if across_bed:
        stops = (box(14, 66, 12, 10, Role.QUIET), box(74, 66, 12, 10, Role.QUIET))
        return (*bed_with_gantry(along=True), *stops, *arrow((20, 24), (20, 44)), *arrow((80, 24), (80, 44)))
    stops = (box(62, 20, 10, 12, Role.QUIET), box(62, 72, 10, 12, Role.QUIET))
    return (*bed_with_gantry(along=False), *stops, *arrow((20, 26), (42, 26)), *arrow((20, 78), (42, 78)))


def _homing(across_bed: bool) -> Picture:
    """It runs to its switches by itself."""
    if across_bed:
        switches = (box(14, 76, 12, 8, Role.ACT), box(74, 76, 12, 8, Role.ACT))
        return (*bed_with_gantry(along=True), *switches, *arrow((50, 58), (50, 80)))
    switches = (box(76, 20, 8, 12, Role.ACT), box(76, 72, 8, 12, Role.ACT))
    return (*bed_with_gantry(along=False), *switches, *arrow((56, 52), (80, 52)))
