"""Snapshot to lamp, step to rhythm, button to command."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment
from core.metrology.characteristics import GROUPS
from core.metrology.evaluation import Evaluation
from core.metrology.groups import GroupVerdict
from core.metrology.live import LiveState
from core.metrology.readings import Quantity, Reading, Unit
from core.metrology.tolerances import Limits
from core.metrology.verdict import Verdict
from core.metrology.witness import Answers, MarkSeen
from core.records.session import NumberedReading
from core.said import said
from hardware.panel import Lamps, Rhythm
from hardware.pins import Line
from ui.bench.desks.live import TakeReading
from ui.bench.desks.measuring import AnswerQuestion, ConfirmMark, VoidReading
from ui.bench.hearing import rhythm
from ui.bench.lamp_box import command_of, lamps
from ui.state.snapshot import Live, Message, Question, Snapshot

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
LIMITS = Limits(source="own limits", perpendicularity_mm=0.4)
LENGTH, ANGLE = Quantity.LENGTH, Quantity.ANGLE


def live(quantity: Quantity, state: LiveState) -> Live:
    length = quantity is LENGTH
    return Live(
        quantity=quantity,
        feature=Feature.NEAR if length else Feature.NL,
        value=None if state is LiveState.ABSENT else 120.0 if length else 90.0,
        unit=Unit.MM if length else Unit.DEG,
        decimals=2,
        state=state,
        limit=0.3,
        hold_fraction=0.0,
        age_s=None,
    )


def judged(verdict: Verdict, *, settled: bool = True) -> Evaluation:
    groups = tuple(
        GroupVerdict(group=group, verdict=verdict, settled=settled, asked=True, judged=True, again=None)
        for group in GROUPS
    )
    return Evaluation(
        coupon=COUPON,
        limits=LIMITS,
        adjustment=cast(Adjustment, SimpleNamespace(consistent=verdict is not Verdict.INCONSISTENT)),
        characteristics=(),
        groups=groups,
        readings=(),
        setup=MeasuringSetup(),
        sign_open=False,
        explanations=(),
        next_reading=None,
        too_close=False,
    )


def taken(number: int, voided: str | None = None) -> NumberedReading:
    return NumberedReading(number=number, reading=Reading(feature=Feature.NEAR, value=120.0), voided=voided)


EMPTY = Snapshot(
    revision=1, session="s1", coupon=COUPON, limits=LIMITS, machine="", span_mm=None, simulated=True,
    answers=Answers(), closed=False, readings=(), pending=None, next_length=Feature.NEAR, next_corner=Feature.NL,
    live_length=live(LENGTH, LiveState.ABSENT), live_corner=live(ANGLE, LiveState.ABSENT), evaluation=None,
    instruments=(), question=None, message=None, hand="",
)  # fmt: skip


def test_no_verdict_no_lamp() -> None:
    assert lamps(EMPTY, LENGTH) is lamps(EMPTY, ANGLE) is Lamps.OFF


@pytest.mark.parametrize(
    ("verdict", "lamp"),
    [
        (Verdict.GO, Lamps.GO),
        (Verdict.NO_GO, Lamps.NO_GO),
        (Verdict.UNDECIDED, Lamps.UNDECIDED),
        (Verdict.INCONSISTENT, Lamps.CONTRADICTION),
    ],
)
def test_the_headline_has_its_lamp(verdict: Verdict, lamp: Lamps) -> None:
    assert lamps(replace(EMPTY, evaluation=judged(verdict)), LENGTH) is lamp


@pytest.mark.parametrize("verdict", [Verdict.GO, Verdict.NO_GO])
@pytest.mark.parametrize("closed", [False, True])
def test_a_word_that_another_reading_may_turn_lights_the_lamp_of_an_undecided_one(
    verdict: Verdict, closed: bool
) -> None:
    open_yet = replace(EMPTY, evaluation=judged(verdict, settled=False), closed=closed)
    assert lamps(open_yet, LENGTH) is Lamps.UNDECIDED


def grouped(**words: Verdict) -> Evaluation:
    """Only squareness was asked for; the other groups as they are known all the same."""
    of = {"squareness": Verdict.GO, "shape": Verdict.UNDECIDED, "size": Verdict.UNDECIDED, **words}
    go = judged(Verdict.GO)
    groups = (
        replace(group, verdict=of[group.group.value], asked=group.group.value == "squareness") for group in go.groups
    )
    return replace(go, groups=tuple(groups))


def test_a_quick_checks_go_blinks_slowly_for_two_groups_are_not_measured() -> None:
    assert lamps(replace(EMPTY, evaluation=grouped()), LENGTH) is Lamps.QUICK_CHECK_GO


def test_no_lamp_says_go_of_a_coupon_known_to_be_outside_a_limit() -> None:
    for group in ("shape", "size"):
        known = replace(EMPTY, evaluation=grouped(**{group: Verdict.NO_GO}))
        assert known.evaluation.verdict is Verdict.GO
        assert lamps(known, LENGTH) is Lamps.NO_GO


@pytest.mark.parametrize("state", list(LiveState))
def test_a_live_indication_speaks_only_while_it_can_be_compared(state: LiveState) -> None:
    expected = {
        LiveState.INSIDE: Lamps.FEATURE_GO,
        LiveState.NEAR_LIMIT: Lamps.FEATURE_UNDECIDED,
        LiveState.OUTSIDE: Lamps.FEATURE_NO_GO,
    }.get(state, Lamps.OFF)
    assert lamps(replace(EMPTY, live_length=live(LENGTH, state)), LENGTH) is expected


def test_a_stale_indication_gives_the_lamp_back_to_the_headline() -> None:
    snapshot = replace(EMPTY, evaluation=judged(Verdict.NO_GO), live_length=live(LENGTH, LiveState.INSIDE))
    assert lamps(snapshot, LENGTH) is Lamps.FEATURE_GO
    assert lamps(replace(snapshot, live_length=live(LENGTH, LiveState.STALE)), LENGTH) is Lamps.NO_GO


def test_the_instrument_in_hand_speaks() -> None:
    snapshot = replace(EMPTY, live_length=live(LENGTH, LiveState.INSIDE), live_corner=live(ANGLE, LiveState.OUTSIDE))
    assert lamps(snapshot, LENGTH) is Lamps.FEATURE_GO
    assert lamps(snapshot, ANGLE) is Lamps.FEATURE_NO_GO


def test_a_closed_session_shows_its_verdict_whatever_the_jaws_do() -> None:
    closed = replace(EMPTY, closed=True, evaluation=judged(Verdict.GO), live_length=live(LENGTH, LiveState.OUTSIDE))
    assert lamps(closed, LENGTH) is Lamps.GO


def test_each_step_has_its_rhythm() -> None:
    one = replace(EMPTY, readings=(taken(2),), evaluation=judged(Verdict.UNDECIDED, settled=False))
    assert rhythm(EMPTY, one) is Rhythm.TAKEN
    assert rhythm(one, one) is None
    go = replace(one, readings=(taken(2), taken(3)), evaluation=judged(Verdict.GO))
    assert rhythm(one, go) is Rhythm.GO
    assert rhythm(one, replace(go, evaluation=judged(Verdict.NO_GO))) is Rhythm.NO_GO
    assert rhythm(go, replace(go, evaluation=judged(Verdict.INCONSISTENT))) is Rhythm.CONTRADICTION
    message = Message(text=said("not in the range of the near edge"), alarm=True)
    alarm = replace(one, message=message, messages=(message,))
    assert rhythm(one, alarm) is Rhythm.REFUSED
    assert rhythm(alarm, alarm) is None
    asked = replace(one, question=Question(name="meant-inches", text="?", choices=(("a", "A"), ("b", "B"))))
    assert rhythm(one, asked) is Rhythm.QUESTION
    assert rhythm(asked, asked) is None


def test_a_verdict_that_is_not_settled_is_not_announced() -> None:
    one = replace(EMPTY, readings=(taken(2),), evaluation=judged(Verdict.UNDECIDED, settled=False))
    early = replace(one, readings=(taken(2), taken(3)), evaluation=judged(Verdict.GO, settled=False))
    assert rhythm(one, early) is Rhythm.TAKEN
    settled = replace(early, evaluation=judged(Verdict.GO))
    assert rhythm(settled, replace(settled, readings=(taken(2), taken(3), taken(4)))) is Rhythm.TAKEN


def test_another_session_is_not_a_reading() -> None:
    assert rhythm(EMPTY, replace(EMPTY, session="s2", readings=(taken(2),))) is None


@pytest.mark.parametrize("in_hand", [LENGTH, ANGLE])
def test_the_pedal_takes_what_is_in_hand(in_hand: Quantity) -> None:
    # Also with nothing there or an implausible value: the bench answers with its reason, so that the foot is heard.
    assert command_of(Line.PEDAL, EMPTY, in_hand) == TakeReading(quantity=in_hand)


def test_void_takes_out_the_last_reading_that_counts() -> None:
    assert command_of(Line.VOID, EMPTY, LENGTH) is None
    some = replace(EMPTY, readings=(taken(2), taken(3), taken(4, voided="slipped")))
    assert command_of(Line.VOID, some, LENGTH) == VoidReading(number=3, reason="void button")


def test_confirm_answers_between_two_and_never_among_more() -> None:
    inches = Question(name="meant-inches", text="?", choices=(("convert", "Inches"), ("drop", "No, drop it")))
    answer = AnswerQuestion(question="meant-inches", answer="convert")
    assert command_of(Line.CONFIRM, replace(EMPTY, question=inches), LENGTH) == answer
    which = Question(name="which", text="?", choices=(("near", "Near"), ("far", "Far"), ("drop", "Neither")))
    assert command_of(Line.CONFIRM, replace(EMPTY, question=which), LENGTH) is None


def test_confirm_says_that_the_mark_lies_as_asked_only_while_that_is_asked() -> None:
    assert command_of(Line.CONFIRM, EMPTY, LENGTH) == ConfirmMark()
    assert command_of(Line.CONFIRM, replace(EMPTY, answers=Answers(mark=MarkSeen.NL)), LENGTH) is None
    assert command_of(Line.CONFIRM, replace(EMPTY, readings=(taken(2),)), LENGTH) is None


@pytest.mark.parametrize("line", [Line.PEDAL, Line.CONFIRM, Line.VOID])
def test_without_an_open_session_buttons_mean_nothing(line: Line) -> None:
    ready = replace(EMPTY, readings=(taken(2),), live_length=live(LENGTH, LiveState.INSIDE))
    assert command_of(line, replace(ready, session=None), LENGTH) is None
    assert command_of(line, replace(ready, closed=True), LENGTH) is None
