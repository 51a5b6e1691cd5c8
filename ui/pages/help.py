"""What `?` says of each screen, in three lines beside one drawing.

Stage: shell. Input: the name of the screen in sight. Output: three sentences. No widget in here.
"""

from __future__ import annotations

from core.said import Said, said

HELP: dict[str, tuple[Said, Said, Said]] = {
    "bench": (
        said("Lay the jaws where they are drawn, and press the data button."),
        said("The value goes to what is blue; touch another to measure that."),
        said("Both diagonals twice give the first word."),
    ),
    "menu": (
        said("Left: this machine, and what to do to it."),
        said("Middle: coupons measured before, and files to take along."),
        said("Right: instruments, settings, this bench itself."),
    ),
    "coupon": (
        said("Width lies along machine X, height along Y."),
        said("Touch a side, then the keys."),
        said("Choose seats as they were cut."),
    ),
    "limits": (
        said("A class of ISO 2768, or limits of your own."),
        said("An inner window tells kerf from scale."),
        said("Material and temperature bring sizes to 20 °C."),
    ),
    "label": (
        said("What stands here is printed on the report."),
        said("Touch a line to write it."),
        said("The next coupon begins with shop, operator and instruments."),
    ),
    "verdict": (
        said("Large: the coupon's word and what it is about."),
        said("Below it: what to do, and the caution that comes first."),
        said("The outline shows each deviation beside its limit."),
    ),
    "numbers": (
        said("Failing rows come first."),
        said("Each value with its U, 95 %, beside its limits."),
        said("Skew by lengths stands beside skew by corners."),
    ),
    "correct": (
        said("One step a screen: do what it says, then touch the blue button."),
        said("A caution is heeded by touching the thing drawn."),
        said("Stop at any step: the machine's log remembers it."),
    ),
    "witness": (
        said("Diagonals taken for one another turn the move round."),
        said("One of these ways proves which is which."),
        said("The last resort is a trial step: it may make it worse."),
    ),
    "causes": (
        said("Why: what the coupon says of the machine, and what it cannot tell."),
        said("Two gaps set the gantry again without a coupon."),
        said("Before hands go in, the caution on top comes first."),
    ),
    "machine": (
        said("One question a screen, answers drawn from above."),
        said("The thick edge is the front: you stand there."),
        said("Every answer can be changed later."),
    ),
    "history": (
        said("Each dot is a coupon; its line is U."),
        said("Outside the band the machine is no longer what it was."),
        said("Touch a coupon to see it again."),
    ),
    "bed": (
        said("Coupons lie as they were cut over the bed."),
        said("A lean that all share is the gantry's."),
        said("What differs from place to place is the rails or the bed."),
    ),
    "download": (
        said("Plug one stick in, and touch the blue button."),
        said("Leave it in until it says that it may be pulled out."),
        said("Report, readings and pictures lie in one folder."),
    ),
    "keep": (
        said("Records, machines, instruments and settings, all in one folder."),
        said("Keep the stick away from the bench: cards die."),
        said("The fault report holds no readings unless you want them."),
    ),
    "design": (
        said("Where nothing can be set, the design is corrected."),
        said("A copy is written; the original stays as it is."),
        said("Cut the coupon first: it proves the correction."),
    ),
    "instruments": (
        said("What is plugged in, and what it says now."),
        said("Nothing is opened before you touch Listen."),
        said("Check them at the start of the day."),
    ),
    "cable": (
        said("How this cable is spoken to."),
        said("Move the instrument: the number below must follow."),
        said("As recognised takes every change back."),
    ),
    "check": (
        said("Close the jaws, then measure a block you know."),
        said("Hold the gauge to a square, then to the same square turned over."),
        said("What passes is the zero of today."),
    ),
    "practice": (
        said("Coupons of invented machines, one after the other."),
        said("Measure, then say what is wrong and which way to move."),
        said("Then it tells what it had hidden, and why."),
    ),
    "setup": (
        said("Language, units, theme and panel."),
        said("A choice counts at once and can be taken back."),
        said("Below: clock, updates, power."),
    ),
    "clock": (
        said("Year, month, day, hour, minute."),
        said("Records keep their order whatever the clock says."),
        said("A network sets it by itself."),
    ),
    "update": (
        said("Plug in the stick with the update, then look at it."),
        said("Nothing changes before you were asked."),
        said("What does not start is taken back by itself."),
    ),
}
