"""What the verdict screen says: the word, a lamp for each group, what to do, and the outline; frozen values.

Stage: screen. Input: Snapshot. Output: VerdictPage. After a re-cut the word is what became of the machine, with the
outlines before and after. No widget in here; the numbers are on a page of their own.
"""

from msgspec import Struct

from core import SOFTWARE
from core.machine import BeforeAfter, Outcome
from core.metrology import (
    GROUP_WORD,
    CharacteristicGroup,
    Evaluation,
    GroupVerdict,
    Verdict,
    kept_word,
    told_word,
)
from core.records import Closed, Outline, outline_of, outlines_of_proof
from core.said import NOTHING, Name, Part, Said, said, said_in
from ui.pages.bench import Figured, figured_next, is_read_out, next_step
from ui.pages.theme import LARGE_WORD, Shape, shape_of
from ui.pages.what_to_do import WhatToDo, what_to_do
from ui.state import Snapshot

_LAMP = {
    CharacteristicGroup.SQUARENESS: said_in("lamp", "square"),
    CharacteristicGroup.SHAPE: said_in("lamp", "shape"),
    CharacteristicGroup.SIZE: said_in("lamp", "size"),
}
# What became of the machine, and what that rests on.
_BECAME = {
    Outcome.FIXED: (Shape.DISC, said("FIXED"), said("on one coupon: cut a second to be sure")),
    Outcome.FIXED_ON_TWO: (Shape.DISC, said("FIXED"), said("on more than one coupon")),
    Outcome.BETTER: (Shape.HALF_DIAMOND, said("BETTER"), said("not yet within the limits")),
    Outcome.NO_CHANGE: (Shape.HALF_DIAMOND, said("NO CHANGE"), said("none is proven")),
    Outcome.WORSE: (Shape.CROSSED_SQUARE, said("WORSE"), said("than the coupon before")),
    Outcome.WRONG_WAY: (Shape.CROSSED_SQUARE, said("WRONG WAY"), said("it was moved the wrong way")),
    Outcome.TOO_FAR: (Shape.CROSSED_SQUARE, said("TOO FAR"), said("it was moved too far")),
}


class GroupLamp(Struct, frozen=True, kw_only=True):
    """One group's own lamp; a ring where it was not measured or has no limit."""

    shape: Shape
    text: Said


class VerdictPage(Struct, frozen=True, kw_only=True):
    """The whole verdict screen. `before` and `after` are outlines, None where there is none to draw, and then `figure`
    is what is to be read; the wide button says `next_text` and leads to `next_screen`, or finishes the coupon where it
    `finishes`; `other_way`: a reading is asked for as a witness, and it is not the only way to one."""

    shape: Shape
    word: Said
    caption: Part
    lamps: tuple[GroupLamp, ...]
    do: WhatToDo
    before: Outline | None
    after: Outline | None
    figure: Figured | None
    next_text: Part
    next_screen: str
    finishes: bool
    can_finish: bool
    other_way: bool = False


def verdict_page(snapshot: Snapshot) -> VerdictPage:
    """Everything the verdict screen shows."""
    evaluation, do = snapshot.evaluation, what_to_do(snapshot)
    shape, word, caption = _word(snapshot)
    stored = _stored(snapshot)
    if stored is not None and evaluation is not None and stored.verdict != evaluation.verdict:
        caption = said("{about}; when finished: {then}", about=caption, then=_word_of(stored))
    if do.u:
        caption = said("{group}; the move is known to ± {u}", group=caption, u=do.u)
    proof = _proof(snapshot)
    can_finish = snapshot.session is not None and not snapshot.closed and bool(snapshot.readings)
    more_to_do = do.measure is not None or do.witness or do.describe or do.end is not None
    can_tell_no_more = evaluation is not None and (evaluation.settled or is_read_out(snapshot))
    finishes = can_finish and can_tell_no_more and not more_to_do
    text, screen = _next(snapshot, do)
    both = outlines_of_proof(proof, evaluation) if proof and evaluation else None
    alone = outline_of(evaluation) if evaluation else None
    return VerdictPage(
        shape=shape,
        word=word,
        caption=caption,
        lamps=tuple(_lamp(group) for group in evaluation.groups) if evaluation else _NO_LAMPS,
        do=do,
        before=both[0] if both else None,
        after=both[1] if both else alone,
        figure=figured_next(snapshot, do.measure) if alone is None and not snapshot.closed else None,
        next_text=said("Finish coupon") if finishes else text,
        next_screen="" if finishes else screen,
        finishes=finishes,
        can_finish=can_finish,
        other_way=do.witness and do.measure is not None,
    )


_NO_LAMPS = tuple(GroupLamp(shape=Shape.RING, text=text) for text in _LAMP.values())


def said_then(snapshot: Snapshot) -> Said:
    """The word that was stored when a coupon was finished, beside today's, where another version said it or it said
    another; nothing where they are the same."""
    stored, judged = _stored(snapshot), snapshot.evaluation
    if stored is None or judged is None:
        return NOTHING
    same = stored.verdict == judged.verdict and stored.settled in (None, judged.settled)
    if same and stored.software == SOFTWARE:
        return NOTHING
    return said(
        "When it was finished: {then}, by {version}. By today's rules: {now}, by {today}.",
        then=_word_of(stored),
        version=Name(stored.software),
        now=told_word(judged),
        today=Name(SOFTWARE),
    )


def _stored(snapshot: Snapshot) -> Closed | None:
    """What was stored when the coupon was finished; None where its word is none that is known."""
    closed = next((event.payload for event in snapshot.log if isinstance(event.payload, Closed)), None)
    return None if closed is None or closed.verdict not in list(Verdict) else closed


def _word_of(stored: Closed) -> Said:
    return kept_word(Verdict(stored.verdict), stored.settled)


def _lamp(group: GroupVerdict) -> GroupLamp:
    shown = group.asked and group.judged
    return GroupLamp(shape=shape_of(group.verdict, group.settled) if shown else Shape.RING, text=_LAMP[group.group])


def _proof(snapshot: Snapshot) -> BeforeAfter | None:
    """The comparison, once the coupon is finished and the comparison has a word on what became of the machine."""
    proof = snapshot.records.comparison
    told = snapshot.closed and snapshot.evaluation is not None and not snapshot.exercise_is_open
    return proof if told and proof is not None and proof.outcome in _BECAME else None


def _word(snapshot: Snapshot) -> tuple[Shape, Said, Part]:
    evaluation, proof = snapshot.evaluation, _proof(snapshot)
    if evaluation is None:
        return Shape.RING, said("NO VERDICT"), said("nothing has been read yet")
    if proof is not None and evaluation.verdict is not Verdict.INCONSISTENT:
        return _BECAME[proof.outcome]
    # A word that another reading may turn is told when no reading follows, and never in the shape of a settled one.
    shape, word = shape_of(evaluation.verdict, evaluation.settled), evaluation.verdict
    if shape is Shape.HALF_DIAMOND and not (snapshot.closed or is_read_out(snapshot)):
        word = Verdict.UNDECIDED
    return shape, LARGE_WORD[word], _caption(evaluation)


def _caption(evaluation: Evaluation) -> Part:
    """What the word is about: the group it is worst in, of a GO all that were measured."""
    if evaluation.verdict is Verdict.INCONSISTENT:
        return said("readings contradict each other")
    if evaluation.verdict is Verdict.GO:
        asked = [group.group for group in evaluation.asked]
        about = said("all that was measured") if len(asked) > 1 else GROUP_WORD[asked[0]]
    else:
        about = GROUP_WORD[evaluation.verdict_of]
    return about if evaluation.settled else said("{group}, not settled", group=about)


def _next(snapshot: Snapshot, do: WhatToDo) -> tuple[Part, str]:
    if do.measure is not None and not snapshot.closed:
        return said("Measure {feature}", feature=do.measure.in_words), "bench"
    if do.describe:
        return said("Describe the machine"), "machine"
    if do.witness:
        return said("Answer one question"), "witness"
    if snapshot.closed:
        return next_step(snapshot)
    if do.end is not None:
        return said("Correct the machine"), "correct"
    return said("Back to measuring"), "bench"
