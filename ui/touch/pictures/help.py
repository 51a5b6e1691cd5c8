"""What `?` shows of each screen: one drawing, and the three lines that are about it."""

from dataclasses import dataclass

from core.machine.directions import Side
from core.machine.holding import HowHeld
from core.said import Said, said
from ui.touch.pictures.cautions import CAUTION_PICTURES
from ui.touch.pictures.machines import HELD, moving_ends
from ui.touch.pictures.questions import ASKED
from ui.touch.pictures.steps import COUPON_CUT, COUPON_MEASURED, gap_at
from ui.touch.pictures.strokes import Circle, Fill, Picture, Role, arrow, box, frame, line


@dataclass(frozen=True, slots=True)
class Help:
    """A drawing and three sentences."""

    picture: Picture
    sentences: tuple[Said, Said, Said]


_LEANING: Picture = (
    line((20, 16), (72, 16), (84, 84), (32, 84), (20, 16), width=4.0),
    line((20, 16), (20, 84), (72, 84), role=Role.QUIET, width=2.0),
)
_STICK: Picture = (box(36, 8, 28, 34), frame(42, 42, 16, 14, line=4.0), box(45, 47, 3, 4), box(52, 47, 3, 4))
_SHEET: Picture = (frame(16, 10, 68, 80, line=3.5),)
_CALIPER: Picture = (
    box(8, 66, 84, 8),
    Fill(points=((12, 66), (22, 66), (22, 34))),
    Fill(points=((62, 66), (52, 66), (52, 34))),
    frame(46, 62, 34, 18, line=3.0),
)
_CABLE: Picture = (line((80, 71), (94, 71), (94, 14), (60, 14), role=Role.QUIET, width=3.0),)


def _lines(left: float, right: float, *heights: float, role: Role = Role.INK) -> Picture:
    return tuple(line((left, y), (right, y), role=role, width=3.0) for y in heights)


HELP: dict[str, Help] = {
    "bench": Help(
        COUPON_MEASURED,
        (
            said("Lay the jaws where they are drawn, and press the data button."),
            said("The value goes to what is blue; touch another to measure that."),
            said("Both diagonals twice give the first word."),
        ),
    ),
    "menu": Help(
        (
            *(box(x, 78, 24, 6) for x in (8, 38, 68)),
            *(frame(x, y, 24, 14) for x in (8, 38, 68) for y in (56, 36, 16)),
        ),
        (
            said("Left: this machine, and what to do to it."),
            said("Middle: coupons measured before, and files to take along."),
            said("Right: instruments, settings, this bench itself."),
        ),
    ),
    "coupon": Help(
        (
            frame(26, 34, 56, 44, line=4.0),
            line((33, 52), (33, 41), (43, 41), width=4.0),
            *arrow((54, 20), (82, 20), width=3.0),
            *arrow((54, 20), (26, 20), width=3.0),
            *arrow((12, 56), (12, 78), width=3.0),
            *arrow((12, 56), (12, 34), width=3.0),
        ),
        (
            said("Width lies along machine X, height along Y."),
            said("Touch a side, then the keys."),
            said("Choose seats as they were cut."),
        ),
    ),
    "limits": Help(
        (
            box(40, 12, 20, 76, Role.GOOD),
            line((50, 6), (50, 94), role=Role.QUIET, width=2.0),
            line((40, 6), (40, 94), width=3.0),
            line((60, 6), (60, 94), width=3.0),
            Circle(centre=(54, 66), radius=4.0),
            Circle(centre=(74, 34), radius=4.0, role=Role.DANGER),
        ),
        (
            said("A class of ISO 2768, or limits of your own."),
            said("An inner window tells kerf from scale."),
            said("Material and temperature bring sizes to 20 °C."),
        ),
    ),
    "label": Help(
        (*_SHEET, *_lines(26, 74, 76, 62, 48), line((26, 26), (34, 34), (42, 22), (52, 32), role=Role.ACT)),
        (
            said("What stands here is printed on the report."),
            said("Touch a line to write it."),
            said("The next coupon begins with shop, operator and instruments."),
        ),
    ),
    "verdict": Help(
        (*_LEANING, Circle(centre=(80, 24), radius=12.0, role=Role.DANGER)),
        (
            said("Large: the coupon's word and what it is about."),
            said("Below it: what to do, and the caution that comes first."),
            said("The outline shows each deviation beside its limit."),
        ),
    ),
    "numbers": Help(
        (
            *_SHEET,
            *_lines(24, 48, 78, 64, 50, 36, 22),
            *_lines(56, 76, 64, 50, 36, 22, role=Role.QUIET),
            line((56, 78), (76, 78), role=Role.DANGER, width=5.0),
        ),
        (
            said("Failing rows come first."),
            said("Each value with its U, 95 %, beside its limits."),
            said("Skew by lengths stands beside skew by corners."),
        ),
    ),
    "correct": Help(
        moving_ends((Side.RIGHT,)),
        (
            said("One step a screen: do what it says, then touch the blue button."),
            said("A caution is heeded by touching the thing drawn."),
            said("Stop at any step: the machine's log remembers it."),
        ),
    ),
    "cutting": Help(
        CAUTION_PICTURES["hands-out"],
        (
            said("What can hurt while the coupon is cut, one thing after the other."),
            said("It goes by what the machine cuts with: describe it."),
            said("The maker's instructions, local codes and licensed practice come first."),
        ),
    ),
    "witness": Help(
        (*_LEANING, *ASKED),
        (
            said("Diagonals taken for one another turn the move round."),
            said("One of these ways proves which is which."),
            said("The last resort is a trial step: it may make it worse."),
        ),
    ),
    "causes": Help(
        gap_at(Side.RIGHT, Side.FAR),
        (
            said("Why: what the coupon says of the machine, and what it cannot tell."),
            said("Two gaps set the gantry again without a coupon."),
            said("Before hands go in, the caution on top comes first."),
        ),
    ),
    "machine": Help(
        HELD[HowHeld.SCREWS],
        (
            said("One question a screen, answers drawn from above."),
            said("The thick edge is the front: you stand there."),
            said("Every answer can be changed later."),
        ),
    ),
    "history": Help(
        (
            box(10, 34, 80, 30, Role.QUIET),
            *(
                part
                for x, y in ((18, 50), (34, 44), (50, 54), (66, 48), (82, 78))
                for part in (line((x, y - 9), (x, y + 9), width=2.0), Circle(centre=(x, y), radius=4.0))
            ),
            line((10, 12), (90, 12), width=3.0),
        ),
        (
            said("Each dot is a coupon; its line is U."),
            said("Outside the band the machine is no longer what it was."),
            said("Touch a coupon to see it again."),
        ),
    ),
    "bed": Help(
        (
            frame(6, 14, 88, 76, role=Role.QUIET, line=2.5),
            box(6, 8, 88, 6),
            *(
                line((x, y), (x + 18, y), (x + 21, y + 22), (x + 3, y + 22), (x, y), width=3.0)
                for x in (12, 40, 68)
                for y in (24, 58)
            ),
        ),
        (
            said("Coupons lie as they were cut over the bed."),
            said("A lean that all share is the gantry's."),
            said("What differs from place to place is the rails or the bed."),
        ),
    ),
    "download": Help(
        (*_STICK, *arrow((50, 96), (50, 66), width=5.0)),
        (
            said("Plug one stick in, and touch the blue button."),
            said("Leave it in until it says that it may be pulled out."),
            said("Report, readings and pictures lie in one folder."),
        ),
    ),
    "keep": Help(
        (
            *_STICK,
            box(26, 74, 48, 16, Role.QUIET),
            *arrow((32, 72), (32, 56), width=3.0),
            *arrow((68, 56), (68, 72), width=3.0),
        ),
        (
            said("Records, machines, instruments and settings, all in one folder."),
            said("Keep the stick away from the bench: cards die."),
            said("The fault report holds no readings unless you want them."),
        ),
    ),
    "design": Help(
        (
            line((10, 30), (42, 30), (50, 74), (18, 74), (10, 30), width=3.5),
            *arrow((52, 52), (64, 52), width=3.0),
            frame(66, 30, 28, 44, role=Role.GOOD, line=3.5),
        ),
        (
            said("Where nothing can be set, the design is corrected."),
            said("A copy is written; the original stays as it is."),
            said("Cut the coupon first: it proves the correction."),
        ),
    ),
    "instruments": Help(
        (*_CALIPER, *_CABLE),
        (
            said("What is plugged in, and what it says now."),
            said("Nothing is opened before you touch Listen."),
            said("Check them at the start of the day."),
        ),
    ),
    "cable": Help(
        (
            line((6, 50), (30, 50), width=5.0),
            box(30, 38, 20, 24),
            box(50, 42, 8, 4),
            box(50, 54, 8, 4),
            frame(66, 30, 26, 40, line=4.0),
            box(72, 42, 8, 4, Role.QUIET),
            box(72, 54, 8, 4, Role.QUIET),
        ),
        (
            said("How this cable is spoken to."),
            said("Move the instrument: the number below must follow."),
            said("As recognised takes every change back."),
        ),
    ),
    "check": Help(
        (
            box(8, 72, 84, 8),
            Fill(points=((34, 72), (48, 72), (48, 36))),
            Fill(points=((66, 72), (52, 72), (52, 36))),
            box(20, 14, 8, 20, Role.QUIET),
            box(20, 14, 60, 8, Role.QUIET),
        ),
        (
            said("Close the jaws, then measure a block you know."),
            said("Hold the gauge to a square, then to the same square turned over."),
            said("What passes is the zero of today."),
        ),
    ),
    "practice": Help(
        (*COUPON_CUT, *ASKED),
        (
            said("Coupons of invented machines, one after the other."),
            said("Measure, then say what is wrong and which way to move."),
            said("Then it tells what it had hidden, and why."),
        ),
    ),
    "setup": Help(
        tuple(
            part
            for y, x in ((76, 64), (50, 30), (24, 52))
            for part in (line((12, y), (88, y)), box(x, y - 8, 8, 16, Role.ACT))
        ),
        (
            said("Language, units, theme and panel."),
            said("A choice counts at once and can be taken back."),
            said("Below: clock, updates, power."),
        ),
    ),
    "clock": Help(
        (
            Circle(centre=(50, 50), radius=38.0, width=4.0),
            line((50, 50), (50, 76), width=5.0),
            line((50, 50), (68, 42), role=Role.ACT, width=5.0),
        ),
        (
            said("Year, month, day, hour, minute."),
            said("Records keep their order whatever the clock says."),
            said("A network sets it by itself."),
        ),
    ),
    "update": Help(
        (*_STICK, *arrow((50, 62), (50, 94), width=5.0)),
        (
            said("Plug in the stick with the update, then look at it."),
            said("Nothing changes before you were asked."),
            said("What does not start is taken back by itself."),
        ),
    ),
}
