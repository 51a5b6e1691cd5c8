"""The answers to every question about a machine, as pictures; and what a number is the measure of."""

from core.machine import Axis, Front, HowHeld, MachineProfile, Process, Side
from ui.pages.machine import BOTH, UNKNOWN, Answers
from ui.touch.pictures.machines import FRONTS, HELD, PROCESSES, bed_with_gantry, gantry_along, moving_ends, reference_on
from ui.touch.pictures.strokes import COUPON_MEASURED, Circle, Fill, Picture, Role, arrow, frame, line

ASKED: Picture = (
    line((36, 68), (40, 78), (50, 82), (60, 78), (64, 68), (58, 58), (50, 52), (50, 40), width=7.0),
    Circle(centre=(50, 26), radius=4.5),
)
_CONTROLLER: Picture = (frame(8, 14, 84, 74, role=Role.QUIET, line=4.0), frame(34, 24, 32, 54, line=3.0))
_COMPENSATED: dict[str, Picture] = {
    "no": _CONTROLLER,
    "yes": (
        *_CONTROLLER,
        Fill(points=((24, 24), (56, 24), (76, 78), (44, 78)), role=Role.ACT),
    ),
    UNKNOWN: ASKED,
}


def _measured(picture: Picture, start: tuple[float, float], tip: tuple[float, float]) -> Picture:
    """The same with the length that is asked for between two arrows."""
    middle = ((start[0] + tip[0]) / 2, (start[1] + tip[1]) / 2)
    return (*picture, *arrow(middle, start, width=3.5), *arrow(middle, tip, width=3.5))


def answer_picture(question: str, answer: str, given: Answers) -> Picture:
    """One answer drawn; an empty picture where words say it better."""
    known = dict(given)
    match question:
        case "process":
            return PROCESSES[Process(answer)]
        case "front":
            return FRONTS[Front(answer)]
        case "gantry_axis":
            seen = Front(known["front"]).seen(Axis(answer).vector)
            return gantry_along(across_bed=bool(seen.real))
        case "held":
            return HELD[HowHeld(answer)]
        case "movable":
            return moving_ends(_ends(known) if answer == BOTH else (Side(answer),))
        case "reference":
            return reference_on(Side(answer))
        case "controller_skew_set":
            return _COMPENSATED[answer]
        case _:
            return ()


def number_picture(question: str, given: Answers) -> Picture:
    """What the number is the measure of."""
    known = dict(given)
    across_bed = bool(_ends(known)[0].vector.real)
    gantry = bed_with_gantry(along=across_bed)
    match question:
        case "span_mm" | "gap_span_mm" if across_bed:
            return _measured(gantry, (8, 32), (92, 32))
        case "span_mm" | "gap_span_mm":
            return _measured(gantry, (70, 10), (70, 94))
        case "part_side_mm":
            return _measured(COUPON_MEASURED, (24, 18), (76, 18))
        case _ if "held" in known:
            return HELD[HowHeld(known["held"])]
        case _:
            return ()


def _ends(known: dict[str, str]) -> tuple[Side, Side]:
    """The ends of what is turned, as far as the answers say."""
    return MachineProfile(
        name="",
        span_mm=1000.0,
        gantry_axis=Axis(known.get("gantry_axis", Axis.X)),
        front=Front(known.get("front", Front.Y_AWAY)),
        held=HowHeld(known.get("held", HowHeld.NOT_SAID)),
    ).ends
