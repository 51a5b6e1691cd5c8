"""What the home screen says: where the person stands, and the one thing to do next.

Stage: screen. Input: Snapshot. Output: HomePage. No widget in here.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.machine.gantry_correction import Correction
from core.metrology.verdict import Verdict
from core.said import NOTHING, Part, Size, Time, said
from firmware_bridge.byte_link import LinkState
from ui.pages.measure import SHAPE_OF, coupon_text
from ui.pages.theme import Shape
from ui.pages.wording import VERDICT_WORD, below, headline
from ui.state.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class HomePage:
    """`next_screen` is where the large button leads."""

    shape: Shape
    word: str
    caption: Part | str
    story: Part
    next_text: str
    next_screen: str


def home_page(snapshot: Snapshot) -> HomePage:
    """Everything the home screen shows above its doors."""
    text, screen = next_step(snapshot)
    evaluation = snapshot.evaluation
    return HomePage(
        shape=SHAPE_OF[evaluation.verdict] if evaluation else Shape.RING,
        word=str(VERDICT_WORD[evaluation.verdict]) if evaluation else "NO VERDICT",
        caption=f"coupon {coupon_text(snapshot)}" if snapshot.coupon else _no_coupon(snapshot),
        story=below(*_story(snapshot)),
        next_text=text,
        next_screen=screen,
    )


def _no_coupon(snapshot: Snapshot) -> Part:
    return said("no coupon measured yet") if snapshot.records.last_closed is None else said("no coupon on the bench")


def last_coupon_text(snapshot: Snapshot) -> Part:
    """The coupon that was finished last, for a bench with none on it; nothing before the first."""
    last = snapshot.records.last_closed
    if last is None:
        return NOTHING
    word = VERDICT_WORD[Verdict(last.verdict)] if last.verdict else said("not judged")
    size = Size(last.coupon.width_mm, last.coupon.height_mm)
    time = Time(last.opened_utc)
    return said("Last coupon: {size}, {verdict}, {time}. It stands under Verdict.", size=size, verdict=word, time=time)


def next_step(snapshot: Snapshot) -> tuple[str, str]:
    """The words of the one next step, and the screen it is done on."""
    if snapshot.machines.guided is not None:
        return "Go on correcting the machine", "correct"
    if snapshot.exercise_asks:
        return "Say what is wrong", "practice"
    if snapshot.session is None:
        return "Measure a coupon", "coupon"
    evaluation = snapshot.evaluation
    if not snapshot.closed and (evaluation is None or not evaluation.settled):
        return "Go on measuring", "measure"
    if snapshot.exercise_is_open:
        return "See the verdict", "verdict"
    if evaluation is not None and evaluation.verdict is Verdict.NO_GO:
        return "Correct the machine", "correct"
    return ("Measure the next coupon", "coupon") if snapshot.closed else ("See the verdict", "verdict")


def _story(snapshot: Snapshot) -> list[Part | str]:
    machine = snapshot.machine or (snapshot.machines.current.name if snapshot.machines.current else "")
    story: list[Part | str] = [
        f"Machine: {machine}." if machine else "No machine described yet: without it no correction can be said."
    ]
    if snapshot.coupon is None and (last := last_coupon_text(snapshot)):
        story.append(last)
    news = snapshot.update.news if snapshot.update else ""
    due = snapshot.records.due
    if due is not None and due.text and due.machine == machine and not news:
        story.append(due.text)
    if snapshot.evaluation is not None:
        correction = snapshot.machines.correction
        may_tell = snapshot.evaluation.verdict is Verdict.NO_GO and not snapshot.exercise_is_open
        # On the one start that has news of an update, they stand in the place of what can be read elsewhere. A move
        # stands alone with its caution, so that nothing pushes that out of sight.
        if isinstance(correction, Correction) and may_tell and not news:
            story.append(correction.order.told)
        else:
            story.append(headline(snapshot.evaluation))
    if news:
        story.insert(0, news)
    lost = [status.name for status in snapshot.instruments if status.state is LinkState.LOST]
    if lost:
        story.append(f"Lost: {', '.join(lost)}.")
    elif not snapshot.instruments:
        story.append("No instrument is connected: readings can be typed.")
    return story
