"""What one coupon hands on to the next: how repeatable a hand is, and the zero that today's gauge check found.

Stage: when a session is opened. In: the last sessions of this bench, oldest first. Out: a `Carried` for `opened`. It is
derived anew from their events every time, so it can be no other than what they say; the memory is bounded by how many
sessions are looked at and by the degrees of freedom a hand may bring along. That a zero holds for a working day is
common practice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from core.metrology import EarlierHand, Quantity, learn
from core.records.events import Event, GaugeChecked, QuestionAnswered
from core.records.instrument_book import CHECK_HOLDS, KIND_NAME, CheckHistory, RecordedCheck, name_of
from core.records.session import QUESTION_CHANGED, InstrumentChange, Session

MOST_SESSIONS = 20  # each teaches one to ten repeats, and thirty are remembered
HAND_HOLDS = timedelta(days=90)


class Carried(Struct, frozen=True, kw_only=True):
    """Hands as earlier coupons left them, and the gauge checks that hold today, at most one a quantity."""

    hands: tuple[EarlierHand, ...] = ()
    checks: tuple[GaugeChecked, ...] = ()

    def for_bench(self, instruments: Collection[str], identities: Mapping[str, str]) -> Carried:
        """What is left with these instruments on the bench: the zero of another caliper says nothing of this one.

        `identities` are those that their lines carry, by name; where one is not known on either side, the name counts.
        """
        there = {*instruments, *KIND_NAME.values()}
        return replace(
            self,
            checks=tuple(
                check
                for check in self.checks
                if name_of(check) in there and not is_another(check, identities.get(name_of(check), ""))
            ),
        )


def is_another(check: GaugeChecked, identity: str) -> bool:
    """Whether what is on the line now is surely not what was checked."""
    return bool(check.identity and identity) and check.identity != identity


def carried_on(
    sessions: Iterable[tuple[str, Session]], operator: str, now_utc: datetime | None, since_start: Collection[str]
) -> Carried:
    """Fold the last sessions, oldest first, each with its id.

    `operator` is who measures now, empty for the one person there is; `now_utc` is None while the clock is not set.
    `since_start` are the sessions that this run of the program wrote to: without a clock a day ends at power off.
    """
    hands: tuple[EarlierHand, ...] = ()
    checks: dict[str, RecordedCheck] = {}
    for session_id, session in sessions:
        for event in session.log:
            hands, checks = _after(event, session_id, hands, checks)
        if session.opened.operator == operator and not _older(session.log[0].time_utc, now_utc, HAND_HOLDS):
            hands = _taught(session, hands)
    holding = [one for one in checks.values() if _holds(one, now_utc, since_start)]
    newest = {one.check.quantity: one.check for one in holding}
    return Carried(hands=hands, checks=tuple(newest.values()))


def _after(
    event: Event, session_id: str, hands: tuple[EarlierHand, ...], checks: dict[str, RecordedCheck]
) -> tuple[tuple[EarlierHand, ...], dict[str, RecordedCheck]]:
    """Hands and checks after one event."""
    match event.payload:
        case GaugeChecked() as check:
            name, made = name_of(check), RecordedCheck(check=check, time_utc=event.time_utc, session=session_id)
            if CheckHistory(instrument=name, last=made, before=checks.get(name)).drifted:
                hands = tuple(hand for hand in hands if _name(hand) != name)
            others = {other: one for other, one in checks.items() if other != name}
            return hands, {**others, name: made}  # in the order they were made
        case QuestionAnswered(question=question, answer=answer) if question in QUESTION_CHANGED.values():
            quantity = next(one for one in Quantity if QUESTION_CHANGED[one] == question)
            if answer == InstrumentChange.ANOTHER:
                hands = tuple(hand for hand in hands if hand.quantity is not quantity)
            return hands, {name: one for name, one in checks.items() if one.check.quantity is not quantity}
        case _:
            return hands, checks


def _taught(session: Session, hands: tuple[EarlierHand, ...]) -> tuple[EarlierHand, ...]:
    """The hands after this coupon's repeats; those that contradict one another are a slip's, not the hand's."""
    readings = session.active
    slipped = learn(readings, session.setup).disagreeing
    kept = [reading for reading in readings if reading.feature not in slipped]
    known = {_key(hand): hand for hand in hands}
    for hand in learn(kept, replace(session.setup, hands=hands)).hands:
        earlier = hand.as_earlier()
        if earlier is not None:
            known[_key(earlier)] = earlier
    return tuple(known.values())


def _key(hand: EarlierHand) -> Sequence[str]:
    return hand.quantity, hand.method, hand.instrument


def _name(hand: EarlierHand) -> str:
    return hand.instrument or KIND_NAME[hand.quantity]


def _holds(made: RecordedCheck, now_utc: datetime | None, since_start: Collection[str]) -> bool:
    if now_utc is None or made.time_utc is None:
        return made.session in since_start
    return not _older(made.time_utc, now_utc, CHECK_HOLDS)


def _older(time_utc: datetime | None, now_utc: datetime | None, than: timedelta) -> bool:
    """Whether it is longer ago; nothing is while the clock is, or was, not set."""
    return time_utc is not None and now_utc is not None and now_utc - time_utc > than
