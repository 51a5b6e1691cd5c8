"""What the bench says: what is next and with what, the indication under the jaws, and what is known of the coupon.

Stage: screen. Input: Snapshot, the instrument in hand and what the person is doing on the screen. Output: BenchPage and
its parts, frozen. Units mm and degrees. No widget in here.
"""

from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import CORNERS, DIAGONALS, EDGES, WINDOW, Coupon, Feature, FeatureKind, Seats
from core.metrology import (
    VERDICT_WORD,
    CharacteristicGroup,
    EdgeMethod,
    Evaluation,
    LiveState,
    NextReason,
    Quantity,
    Reading,
    Verdict,
    groups_of,
    live_limit,
    told_word,
)
from core.records import NumberedReading, instrument_shown
from core.said import NOTHING, Angle, Length, Name, Part, Said, Series, Size, Time, lines, said
from firmware_bridge import LinkState
from ui.bench import VOID_REASONS, opening_again
from ui.pages.bed import count_text, place_on_bench
from ui.pages.live_cursor import LiveCursor, live_cursor
from ui.pages.theme import LARGE_WORD, SHAPE_OF, Shape, shape_of
from ui.pages.what_to_do import is_corrected, is_read_too_little, what_to_do
from ui.state import InstrumentStatus, Live, Snapshot

# The panels that the screen itself puts up.
VOIDING, WHICH = "void", "which-reading"
KEEP = "keep"
QUICK_CHECK_READINGS = 4
WHOLE_COUPON_READINGS = 12
_NEAR = (LiveState.INSIDE, LiveState.NEAR_LIMIT, LiveState.OUTSIDE, LiveState.UNJUDGED)


class FigureValue(Struct, frozen=True, kw_only=True):
    """What stands beside a feature: its value once `count` readings count, else its name; red where it `fails`."""

    feature: Feature
    text: Part
    count: int
    fails: bool


class Figured(Struct, frozen=True, kw_only=True):
    """`next` is the feature that wears the instrument in hand, `other` the one at the cursor of the other instrument;
    None where nothing is to be read. `depth_mm` is the jaws'."""

    coupon: Coupon
    depth_mm: float
    next: Feature | None
    other: Feature | None
    values: tuple[FigureValue, ...]


class LiveBar(Struct, frozen=True, kw_only=True):
    """The indication against the limit of the feature it would be taken for. `share` is deviation over limit, `word`
    its own go or no-go; both only once the jaws have come near."""

    share: float | None = None
    low: Part = NOTHING
    high: Part = NOTHING
    note: Part = NOTHING
    shape: Shape = Shape.RING
    word: Part = NOTHING


class Band(Struct, frozen=True, kw_only=True):
    """What is known of the coupon so far, in a few large letters, and what they are about."""

    shape: Shape
    head: Part
    text: Part


class Answer(Struct, frozen=True, kw_only=True):
    """The coupon's word in half of the screen. `go_on` says what `screen` the wide button leads to, `more` the other
    one: to another screen too, or (empty) back to measuring. `key` tells one answer from the next."""

    shape: Shape
    word: Part
    about: Part
    go_on: Part
    screen: str
    more: Part
    more_screen: str
    key: tuple[object, ...]


class Asked(Struct, frozen=True, kw_only=True):
    """Something only the person can decide, in place of the live half; each choice is (stable name, words)."""

    name: str
    title: Part
    text: Part
    choices: tuple[tuple[str, Part], ...]


class Doing(Struct, frozen=True, kw_only=True):
    """What the person is about on the screen itself: `voiding` the readings of a feature or one of them, `dismissed`
    the key of the answer that was put aside to measure more."""

    voiding: Feature | int | None = None
    dismissed: tuple[object, ...] | None = None


class BenchPage(Struct, frozen=True, kw_only=True):
    """The whole screen; one of `asked`, `answer` and the live half stands at the right. `missing` stands in the digits'
    place: what to do where no instrument can say any."""

    title: Part
    figure: Figured
    hint: Part
    message: Part
    alarm: bool
    caption: Part
    live: LiveCursor
    missing: Part
    other: LiveCursor
    bar: LiveBar
    band: Band
    asked: Asked | None
    answer: Answer | None


def bench_page(snapshot: Snapshot, in_hand: Quantity, doing: Doing) -> BenchPage:
    """Everything the bench shows."""
    shown = with_coupon(snapshot)
    large, small = _large_and_small(shown, in_hand)
    live = live_cursor(large, shown)
    asked = _asked(snapshot, doing)
    answer = _answer(shown)
    if answer is not None and (answer.key == doing.dismissed or _is_new_ground(large, shown)):
        answer = None
    return BenchPage(
        title=title(snapshot),
        figure=_figured(shown, large.feature, small.feature),
        hint=NOTHING if asked else _hint(shown, large.feature, small.feature),
        message=_message(shown),
        alarm=snapshot.message is not None and snapshot.message.alarm,
        caption=_caption(shown, large.feature),
        live=live,
        missing=_missing(large, shown),
        other=live_cursor(small, shown),
        bar=_bar(large, live),
        band=_band(shown),
        asked=asked,
        answer=answer,
    )


def moved_page(page: BenchPage, before: Snapshot, snapshot: Snapshot, in_hand: Quantity) -> BenchPage | None:
    """This page of an earlier snapshot, which differs in nothing but what the instruments say, with what they say now;
    None where that changes more than an indication. The same instrument must be in hand, and the person about the
    same."""
    was, shown = with_coupon(before), with_coupon(snapshot)
    large, small = _large_and_small(shown, in_hand)
    large_was, small_was = _large_and_small(was, in_hand)
    if large.feature is not large_was.feature or small.feature is not small_was.feature:
        return None
    came_or_left = large.state is not large_was.state and (large.state in _NEAR) is not (large_was.state in _NEAR)
    if came_or_left and _is_new_ground(large, shown) is not _is_new_ground(large_was, was):
        return None
    live = page.live if large == large_was else live_cursor(large, shown)
    other = page.other if small == small_was else live_cursor(small, shown)
    return replace(page, live=live, missing=_missing(large, shown), other=other, bar=_bar(large, live))


def _large_and_small(snapshot: Snapshot, in_hand: Quantity) -> tuple[Live, Live]:
    pair = (snapshot.live_length, snapshot.live_corner)
    return pair if in_hand is Quantity.LENGTH else (pair[1], pair[0])


def with_coupon(snapshot: Snapshot) -> Snapshot:
    """With no coupon on the bench, the one that the first press would begin: as the last one was chosen."""
    if snapshot.coupon is not None:
        return snapshot
    chosen = opening_again(snapshot.records.last_opened, snapshot.machines.current)
    coupon, limits = chosen.coupon, chosen.limits
    length, corner = DIAGONALS[0], CORNERS[0]

    def at(live: Live, feature: Feature) -> Live:
        return replace(live, feature=feature, limit=live_limit(coupon, limits, feature))

    return replace(
        snapshot,
        coupon=coupon,
        limits=limits,
        next_length=length,
        next_corner=corner,
        live_length=at(snapshot.live_length, length),
        live_corner=at(snapshot.live_corner, corner),
    )


def title(snapshot: Snapshot) -> Part:
    """The machine and the coupon in one line, and its place on the bed where it has one."""
    coupon = with_coupon(snapshot).coupon
    assert coupon is not None
    name = snapshot.machine or (snapshot.machines.current.name if snapshot.machines.current else "")
    machine: Part = Name(name) if name else said("no machine described")
    size = Size(coupon.width_mm, coupon.height_mm)
    place = place_on_bench(snapshot)
    if place:
        count = count_text(snapshot)
        return said("{machine} · {size} · {place}, {count}", machine=machine, size=size, place=Name(place), count=count)
    return said("{machine} · {size}", machine=machine, size=size)


def readings_of(snapshot: Snapshot, feature: Feature) -> list[NumberedReading]:
    """The readings of a feature that count."""
    return [item for item in snapshot.readings if item.reading.feature is feature and item.voided is None]


def next_step(snapshot: Snapshot) -> tuple[Part, str]:
    """The words of the one next step beyond measuring, and the screen it is done on."""
    if snapshot.machines.guided is not None:
        return said("Go on correcting"), "correct"
    if snapshot.exercise_asks:
        return said("Say what is wrong"), "practice"
    evaluation = snapshot.evaluation
    if snapshot.closed and evaluation is not None and not snapshot.exercise_is_open:
        moves = evaluation.settled and not (is_corrected(snapshot) or is_read_too_little(snapshot))
        if evaluation.verdict is Verdict.NO_GO and moves:
            return said("Correct the machine"), "correct"
        return said("Next coupon"), "coupon"
    do = what_to_do(snapshot)
    return said("See what to do"), "witness" if do.witness and do.measure is None else "verdict"


def _is_new_ground(live: Live, snapshot: Snapshot) -> bool:
    """The jaws have come near a feature that was not read yet: then what they say is wanted, not the word."""
    if snapshot.closed or snapshot.session is None or live.feature is None:
        return False
    return live.state in _NEAR and not readings_of(snapshot, live.feature)


# ---- the drawing


def figured_result(snapshot: Snapshot) -> Figured | None:
    """The coupon as it was measured, nothing up; None without one."""
    return _figured(snapshot, None, None) if snapshot.coupon is not None else None


def figured_next(snapshot: Snapshot, feature: Feature | None) -> Figured | None:
    """The bare coupon with the instrument on what is to be read, else on the first length; None without one."""
    if snapshot.coupon is None:
        return None
    return replace(_figured(snapshot, feature or snapshot.next_length, None), values=())


def _figured(snapshot: Snapshot, at_hand: Feature | None, other: Feature | None) -> Figured:
    assert snapshot.coupon is not None
    evaluation = snapshot.evaluation
    failing = _failing(evaluation) if evaluation else frozenset()
    measuring = not snapshot.closed
    return Figured(
        coupon=snapshot.coupon,
        depth_mm=snapshot.setup.jaw_depth_mm if snapshot.setup.edge_method is EdgeMethod.SEATED else 0.0,
        next=at_hand if measuring else None,
        other=other if measuring else None,
        values=tuple(_value(snapshot, feature, feature in failing) for feature in snapshot.coupon.features),
    )


_EDGE_NAME = {
    Feature.NEAR: said("near"),
    Feature.RIGHT: said("right"),
    Feature.FAR: said("far"),
    Feature.LEFT: said("left"),
}


def _value(snapshot: Snapshot, feature: Feature, fails: bool) -> FigureValue:
    taken = readings_of(snapshot, feature)
    text: Part = _EDGE_NAME.get(feature, NOTHING)
    if taken:
        mean = sum(item.reading.value for item in taken) / len(taken)
        text = Length(mean, unit=False) if feature.is_length else Angle(mean, 1)
    return FigureValue(feature=feature, text=text, count=len(taken), fails=fails and bool(taken))


def _failing(evaluation: Evaluation) -> frozenset[Feature]:
    """The features whose own characteristic is outside its limit; the diagonals where squareness is."""
    outside = {one.name for one in evaluation.characteristics if one.verdict is Verdict.NO_GO}
    of_edges = {edge for edge in EDGES if f"edge-{edge.value}" in outside}
    of_corners = {
        corner for corner in CORNERS if outside & {f"corner-{corner.value}", f"perpendicularity-{corner.value}"}
    }
    squareness = evaluation.group(CharacteristicGroup.SQUARENESS)
    crooked = squareness.asked and squareness.verdict is Verdict.NO_GO and squareness.settled
    return frozenset(of_edges | of_corners | (set(DIAGONALS) if crooked else set()))


# ---- words beside it


def _hint(snapshot: Snapshot, feature: Feature | None, other: Feature | None) -> Part:
    """How the instrument is held for what is next; with nothing left for it, what there is for the other one."""
    coupon = snapshot.coupon
    assert coupon is not None
    if snapshot.closed:
        return said("This coupon is finished. A press on a diagonal begins the next.")
    if feature is None and other is not None:
        if other.is_length:
            return said("Now the calipers: {feature}.", feature=other.in_words)
        return said("Now the angle gauge: {feature}.", feature=other.in_words)
    if feature is None:
        return said("Nothing more to read here.")
    match feature.kind:
        case FeatureKind.DIAGONAL:
            return _diagonal_hint(coupon.seats, feature)
        case FeatureKind.EDGE if snapshot.setup.edge_method is EdgeMethod.TIPS:
            return said("Jaw tips at both corners of the {edge}.", edge=feature.in_words)
        case FeatureKind.EDGE:
            depth = Length(snapshot.setup.jaw_depth_mm, None)
            return said("Jaws across the {edge}, {depth} deep.", edge=feature.in_words, depth=depth)
        case FeatureKind.CORNER:
            return said("Blades on the {corner}, against the light.", corner=feature.in_words)
        case FeatureKind.WINDOW:
            return said("Inner jaws in the {window}.", window=feature.in_words)


def _diagonal_hint(seats: Seats | None, feature: Feature) -> Part:
    if seats is None:
        return said("Jaws on two opposite corners, square to the diagonal.")
    if seats.nl_fr_mm == seats.nr_fl_mm:
        return said("Jaws flat on two opposite seats. Rock for the smallest.")
    if feature is Feature.NL_FR:
        return said("Jaws flat on the two wide seats. Rock for the smallest.")
    return said("Jaws flat on the two narrow seats. Rock for the smallest.")


def _caption(snapshot: Snapshot, feature: Feature | None) -> Part:
    """What is next, and the how-many-th reading of it."""
    if feature is None:
        return said("all read")
    what = said("diagonal") if feature.kind is FeatureKind.DIAGONAL else feature.in_words
    asked = snapshot.evaluation.next_reading if snapshot.evaluation else None
    if asked is not None and asked.feature is feature and asked.reason is NextReason.SUSPECT:
        return said("{feature}: does not fit, read again", feature=what)
    match len(readings_of(snapshot, feature)):
        case 0:
            return what
        case 1:
            return said("{feature}, second reading", feature=what)
        case count:
            return said("{feature}, reading {number}", feature=what, number=count + 1)


def _message(snapshot: Snapshot) -> Part:
    """What just happened; on an idle bench what is due, and what was measured last."""
    message = snapshot.message
    if message is not None and message.alarm:
        return message.text
    if snapshot.work is not None:
        return snapshot.work.words
    if snapshot.hand:
        return snapshot.hand
    news = snapshot.update.news if snapshot.update else NOTHING
    if news:
        return news
    lost = lost_instruments(snapshot.instruments)
    if lost:
        return said("Lost: {instruments}.", instruments=Series(lost, joint=", "))
    if message is not None and snapshot.session is not None:
        return message.text
    due, machine = snapshot.records.due, snapshot.machines.current
    if due is not None and due.text and machine is not None and due.machine == machine.name:
        return due.text
    if snapshot.session is None:
        return last_coupon_text(snapshot)
    return message.text if message is not None else NOTHING


def _missing(live: Live, snapshot: Snapshot) -> Part:
    """What to do while nothing is heard because no instrument is there, or one was unplugged."""
    if live.value is not None and live.state not in (LiveState.ABSENT, LiveState.STALE):
        return NOTHING
    if not snapshot.instruments:
        return said("Plug an instrument in, or type.")
    return said("Plug it in again, or type.") if lost_instruments(snapshot.instruments) else NOTHING


def lost_instruments(instruments: tuple[InstrumentStatus, ...]) -> tuple[Part, ...]:
    """Those whose cable was pulled."""
    return tuple(instrument_shown(one.name) for one in instruments if one.state is LinkState.LOST)


def last_coupon_text(snapshot: Snapshot) -> Part:
    """The coupon that was finished last, for a bench with none on it; nothing before the first."""
    last = snapshot.records.last_closed
    if last is None:
        return NOTHING
    word = last.word or said("not judged")
    size = Size(last.coupon.width_mm, last.coupon.height_mm)
    time = Time(last.opened_utc)
    return said("Last coupon: {size}, {verdict}, {time}.", size=size, verdict=word, time=time)


def _bar(live: Live, cursor: LiveCursor) -> LiveBar:
    limit, deviation = live.limit, cursor.deviation
    low, high = _limits_written(live.quantity, limit)
    if deviation is None:
        return LiveBar(low=low, high=high)
    return LiveBar(
        share=deviation / limit if limit else None,
        low=low,
        high=high,
        note=_deviation_written(live.quantity, deviation),
        shape=cursor.shape,
        word=cursor.word if limit is not None else NOTHING,
    )


@lru_cache(maxsize=16)
def _limits_written(quantity: Quantity, limit: float | None) -> tuple[Part, Part]:
    if limit is None:
        return NOTHING, NOTHING
    return _deviation_written(quantity, -limit), _deviation_written(quantity, limit)


def _deviation_written(quantity: Quantity, deviation: float) -> Part:
    if quantity is Quantity.LENGTH:
        return Length(deviation, 2, signed=True)
    return Angle(deviation, 2, signed=True)


# ---- what is known of the coupon


def _band(snapshot: Snapshot) -> Band:
    """How far it has come; once a word is settled, the word."""
    evaluation = snapshot.evaluation
    if evaluation is None:
        head = _of(0, QUICK_CHECK_READINGS)
        return Band(shape=Shape.RING, head=head, text=said("quick check: square?"))
    count, shape = counted(snapshot), Shape.HALF_DIAMOND
    if evaluation.verdict is Verdict.INCONSISTENT:
        return Band(shape=Shape.SPLIT_DISC, head=word_of(evaluation), text=said("the readings do not fit together"))
    if evaluation.settled:
        return Band(shape=SHAPE_OF[evaluation.verdict], head=word_of(evaluation), text=about(evaluation))
    if _is_quick(evaluation) and not evaluation.too_close:
        twice = sum(min(2, len(readings_of(snapshot, diagonal))) for diagonal in DIAGONALS)
        return Band(shape=shape, head=_of(twice, QUICK_CHECK_READINGS), text=said("quick check: square?"))
    if count < WHOLE_COUPON_READINGS:
        return Band(shape=shape, head=_of(count, WHOLE_COUPON_READINGS), text=said("whole coupon"))
    return Band(shape=shape, head=word_of(evaluation), text=_unsettled(evaluation))


def standing(snapshot: Snapshot) -> tuple[Shape, Part]:
    """The head of every other screen: what the bench shows of the coupon, in the same shape and words."""
    evaluation = snapshot.evaluation
    if evaluation is None:
        return Shape.RING, said("no verdict")
    if snapshot.closed:
        return shape_of(evaluation.verdict, evaluation.settled), told_word(evaluation)
    band = _band(snapshot)
    return band.shape, band.head


def counted(snapshot: Snapshot) -> int:
    """How many readings are not voided."""
    return sum(reading.voided is None for reading in snapshot.readings)


def is_read_out(snapshot: Snapshot) -> bool:
    """Whether all was read and no further reading would settle the word: this coupon cannot tell more."""
    evaluation = snapshot.evaluation
    return (
        evaluation is not None
        and not evaluation.settled
        and evaluation.verdict is not Verdict.INCONSISTENT
        and evaluation.next_reading is None
        and counted(snapshot) >= WHOLE_COUPON_READINGS
    )


def _unsettled(evaluation: Evaluation) -> Said:
    if evaluation.do_first:
        return said("one cause may lie behind all readings")
    return said("too close to the limit") if evaluation.too_close else said("not settled")


def _of(count: int, whole: int) -> Said:
    return said("{count} of {whole}", count=count, whole=whole)


def _is_quick(evaluation: Evaluation) -> bool:
    return all(group.group is CharacteristicGroup.SQUARENESS for group in evaluation.asked)


def word_of(evaluation: Evaluation) -> Said:
    """The coupon's word."""
    return VERDICT_WORD[evaluation.verdict]


def about(evaluation: Evaluation) -> Part:
    """What the word is about, and what was not measured."""
    if evaluation.verdict is Verdict.INCONSISTENT:
        return said("the readings do not fit together")
    if evaluation.verdict is not Verdict.GO or not _is_quick(evaluation):
        return groups_of(evaluation)
    if evaluation.settled:
        return said("square; shape and size not measured")
    return said("square, not settled; shape and size not measured")


_UNDER_WAY = Answer(
    shape=Shape.RING,
    word=said("NOT DONE"),
    about=said("a correction is under way"),
    go_on=said("Go on correcting"),
    screen="correct",
    more=said("Next coupon"),
    more_screen="coupon",
    key=("guided",),
)


def _answer(snapshot: Snapshot) -> Answer | None:
    """The word, once it is settled or the coupon is finished, and the way on."""
    evaluation = snapshot.evaluation
    text, screen = next_step(snapshot)
    guided = snapshot.machines.guided is not None
    if guided and evaluation is None:
        return _UNDER_WAY
    if evaluation is None:
        return None
    closed, first = snapshot.closed, bool(evaluation.do_first) and evaluation.verdict is Verdict.UNDECIDED
    untold = not closed and (first or is_read_out(snapshot))
    if not (evaluation.settled or closed or untold):
        return None
    # Whoever goes on from the quick check has put its word aside until all the rest is settled too.
    final = not _is_quick(evaluation) and all(group.settled for group in evaluation.asked)
    # And until a move can be said that lacked a reading: what was read on for has come.
    do = what_to_do(snapshot)
    can_be_told = do.measure is None and (do.witness or do.end is not None)
    unread = [side for side in WINDOW if evaluation.coupon.has(side) and not readings_of(snapshot, side)]
    note = said("The window is still unread: it tells kerf from scale.") if unread and final else NOTHING
    return Answer(
        shape=shape_of(evaluation.verdict, evaluation.settled),
        word=LARGE_WORD[evaluation.verdict],
        about=_unsettled(evaluation) if untold else lines(about(evaluation), note),
        go_on=text,
        screen=screen,
        more=said("See the verdict") if closed else said("Measure more"),
        more_screen="verdict" if closed else "",
        key=(snapshot.session, closed, guided, evaluation.verdict, evaluation.verdict_of, final, can_be_told),
    )


# ---- what only the person can decide


def _asked(snapshot: Snapshot, doing: Doing) -> Asked | None:
    """A question of the bench first, then what the person wants to void."""
    if snapshot.question is not None:
        question = snapshot.question
        return Asked(name=question.name, title=said("Please decide"), text=question.text, choices=question.choices)
    if doing.voiding is not None and not snapshot.closed:
        return _voiding(snapshot, doing.voiding)
    return None


def _voiding(snapshot: Snapshot, doubted: Feature | int) -> Asked | None:
    """Which reading of a feature, where it has several; and why."""
    if isinstance(doubted, Feature):
        taken = readings_of(snapshot, doubted)
        if len(taken) == 1:
            return _voiding(snapshot, taken[0].number)
        if not taken:
            return None
        choices = tuple((str(item.number), _valued(item.reading)) for item in taken)
        feature = doubted.in_words
        return Asked(
            name=WHICH,
            title=feature,
            text=said("Read {count} times. Touch the reading that is wrong.", count=len(taken)),
            choices=(*choices, (KEEP, said("Keep them"))),
        )
    doubtful = (item.reading for item in snapshot.readings if item.number == doubted and item.voided is None)
    if (reading := next(doubtful, None)) is None:
        return None
    text = said("Void {value}? It will not count, and stays in the record. Why?", value=_valued(reading))
    reasons = tuple((reason, on_button) for reason, (on_button, _) in VOID_REASONS.items())
    return Asked(name=VOIDING, title=reading.feature.in_words, text=text, choices=(*reasons, (KEEP, said("Keep it"))))


def _valued(reading: Reading) -> Part:
    return Length(reading.value) if reading.feature.is_length else Angle(reading.value)
