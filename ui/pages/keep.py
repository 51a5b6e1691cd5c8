"""What the screen for the whole bench on a stick says: saving, taking back, the fault report. Pure.

Input: the snapshot, and what was asked but not yet confirmed. Output: a page.
"""

from core.said import NOTHING, Name, Part, Time, lines, said, said_counted
from ui.bench import KeepStep
from ui.pages.errand import LAMPS, ErrandPage
from ui.state import KeepSlice, Snapshot

# What goes into a fault report is asked first.
REPORT = "report"


def keep_page(snapshot: Snapshot, *, report_asked: bool) -> ErrandPage:
    """The page; `report_asked` once the fault report was touched and what goes into it is still to be said."""
    text, choices = _body(snapshot, snapshot.keep, report_asked=report_asked)
    return ErrandPage(
        lamp=LAMPS[snapshot.keep.state],
        text=text,
        choices=choices,
        replaces=snapshot.keep.found is not None,
    )


def _body(snapshot: Snapshot, keep: KeepSlice, *, report_asked: bool) -> tuple[Part, tuple[tuple[str, Part], ...]]:
    if keep.starts_anew or snapshot.stick_in_use:
        return keep.text, ()
    if keep.found is not None:
        return _question(snapshot, keep), (
            (KeepStep.TAKE_BACK, said("Take it back")),
            (KeepStep.LEAVE, said("Leave it")),
        )
    if report_asked:
        text = said(
            "It holds logs, checks and versions: no readings, no names. Shall the newest coupon go along, all of it?"
        )
        return text, (
            (KeepStep.WITHOUT_READINGS, said("Without readings")),
            (KeepStep.WITH_READINGS, said("With the newest coupon")),
        )
    stick = NOTHING if snapshot.download.sticks else said("Plug a USB stick in first.")
    return lines(keep.text or said("Cards die: save all onto a stick now and then."), stick), (
        (KeepStep.SAVE, said("Save the whole bench")),
        (KeepStep.LOOK, said("Take a saved bench back")),
        (REPORT, said("Write a fault report")),
    )


def _question(snapshot: Snapshot, keep: KeepSlice) -> Part:
    """What is said before a saved bench takes the place of this one."""
    assert keep.found is not None
    found = said_counted(
        "Found: {name}, saved {time}, with {count} coupon.",
        "Found: {name}, saved {time}, with {count} coupons.",
        name=Name(keep.found.folder),
        time=Time(keep.found.saved_utc),
        count=keep.found.sessions,
    )
    what = said("It replaces everything here, which is kept beside it; the bench starts anew.")
    is_open = bool(snapshot.session) and not snapshot.closed
    still_open = said("Finish the open coupon first, or it goes too.")
    return lines(found, what, still_open if is_open else NOTHING)
