"""How a bench stands to its shop, out of its own archive: nobody asks the network for it.

Input: the archive's tables of it. Output: a ShopState, for screens, `shop status` and the doctor.
"""

from datetime import datetime
from itertools import product

from msgspec import Struct

from core.records.outbox import is_forked
from core.records.shop_records import Membership, ShopMachine, ShopRecords
from core.said import NOTHING, Name, Part, Said, Series, Time, paragraph, said, said_counted
from core.said_wire import of_line

ALONE = said("This bench is alone: it belongs to no shop.")


class MachineQuestion(Struct, frozen=True, kw_only=True):
    """Is a machine here the same as this one of the shop? Equal names prove nothing, so a person is asked."""

    machine: str
    other: ShopMachine

    @property
    def text(self) -> Said:
        """The question."""
        return said(
            "Is {machine} the same machine as {other} at {benches}?",
            machine=Name(self.machine),
            other=Name(self.other.name),
            benches=Name(", ".join(self.other.benches)),
        )


class MachineAnswer(Struct, frozen=True, kw_only=True):
    """What was answered to such a question, or holds without one having been asked; it can be answered anew."""

    question: MachineQuestion
    same: bool

    @property
    def text(self) -> Said:
        """The answer."""
        machine, other = Name(self.question.machine), Name(self.question.other.name)
        benches = Name(", ".join(self.question.other.benches))
        if self.same:
            return said(
                "{machine} is the same machine as {other} at {benches}.", machine=machine, other=other, benches=benches
            )
        return said(
            "{machine} is another machine than {other} at {benches}.", machine=machine, other=other, benches=benches
        )


class ShopState(Struct, frozen=True, kw_only=True):
    """`membership` is None while the bench is alone. `sent` sessions are in the shop, which confirmed something last at
    `last_utc`; `waiting` logs wait; `refused` says what the shop did not take, and why; `hindrance` what keeps the
    bench from it since `hindered_utc`; `questions` are for the person, `answers` what was said to earlier ones;
    `forked` that the shop has another end of a log than this bench."""

    membership: Membership | None = None
    sent: int = 0
    last_utc: datetime | None = None
    waiting: int = 0
    refused: tuple[Part, ...] = ()
    hindrance: Part = NOTHING
    hindered_utc: datetime | None = None
    questions: tuple[MachineQuestion, ...] = ()
    answers: tuple[MachineAnswer, ...] = ()
    forked: bool = False

    @property
    def line(self) -> Part:
        """All of it in one line; nothing while the bench is alone."""
        if self.membership is None:
            return NOTHING
        sent = said("Shop: sent {time}", time=Time(self.last_utc)) if self.last_utc else said("Shop: nothing sent yet")
        parts = (
            sent,
            said_counted("{count} waits", "{count} wait", count=self.waiting) if self.waiting else NOTHING,
            said_counted("{count} refused", "{count} refused", count=len(self.refused)) if self.refused else NOTHING,
            said("not reached") if self.hindrance else NOTHING,
            said("a question for you") if self.questions else NOTHING,
        )
        return Series(tuple(part for part in parts if part), joint=", ")

    @property
    def sentences(self) -> tuple[Part, ...]:
        """All of it, each in a sentence."""
        if self.membership is None:
            return (ALONE,)
        confirmed = said("The shop last confirmed something {time}.", time=Time(self.last_utc))
        hindered = paragraph(
            said("Since {time}:", time=Time(self.hindered_utc)) if self.hindered_utc else NOTHING, self.hindrance
        )
        return (
            said(
                "This bench belongs to {shop}, as {bench}, since {time}.",
                shop=Name(self.membership.shop),
                bench=Name(self.membership.bench),
                time=Time(self.membership.joined_utc),
            ),
            said_counted("{count} session is there.", "{count} sessions are there.", count=self.sent),
            *((confirmed,) if self.last_utc else ()),
            said_counted("{count} log is waiting.", "{count} logs are waiting.", count=self.waiting),
            *((hindered,) if self.hindrance else ()),
            *self.refused,
            *(question.text for question in self.questions),
        )


def shop_state(shop: ShopRecords) -> ShopState:
    """Look it up; run in the thread that owns the archive."""
    membership = shop.membership()
    if membership is None:
        return ShopState()
    sent, last_utc = shop.confirmed()
    hindrance = shop.hindrance()
    refused = tuple(of_line(one.reason) for one in shop.refused())
    questions, answers = _elsewhere(shop, membership.bench)
    return ShopState(
        membership=membership,
        sent=sent,
        last_utc=last_utc,
        waiting=len(shop.waiting(shop.now())),
        refused=refused,
        hindrance=of_line(hindrance.what) if hindrance else NOTHING,
        hindered_utc=hindrance.since_utc if hindrance else None,
        questions=questions,
        answers=answers,
        forked=any(map(is_forked, refused)),
    )


def _elsewhere(shop: ShopRecords, bench: str) -> tuple[tuple[MachineQuestion, ...], tuple[MachineAnswer, ...]]:
    """Of the machines here and those that others measure: which pairs of one name nobody has told apart yet, and what
    was said of which pair."""
    questions: list[MachineQuestion] = []
    answers: list[MachineAnswer] = []
    apart = shop.told_apart()
    known = [other for other in shop.shop_machines() if set(other.benches) - {bench}]
    for machine, other in product(shop.machines(), known):
        question, same = MachineQuestion(machine=machine.machine, other=other), other.id == machine.id
        if same or (machine.machine, other.id) in apart:
            answers.append(MachineAnswer(question=question, same=same))
        elif other.name.casefold() == machine.machine.casefold():
            questions.append(question)
    return tuple(questions), tuple(answers)
