"""How a snapshot is made: pure steps from one to the next, used by the bench controller alone.

Input: a snapshot and what happened. Output: the snapshot after it.
"""

from operator import attrgetter

from msgspec.structs import replace

from core import SOFTWARE
from core.geometry import TEN_FEATURES, Feature
from core.metrology import Quantity
from core.records import Closed, Session
from core.said import NOTHING, Part, said
from firmware_bridge import LinkState
from ui.bench.live import absent
from ui.state import InstrumentStatus, Message, Snapshot

TAKEN_BACK = said("Taken back; the record keeps both.")
NOTHING_TO_TAKE_BACK = said("There is nothing to take back any more.")
# More than is ever said between two looks at the bench.
MESSAGES_KEPT = 64
NAME = attrgetter("name")
STICK_IN_USE = said("The stick is being read or written: wait for it.")


def with_session(snapshot: Snapshot, session: Session) -> Snapshot:
    """Everything that follows from the session, derived anew; the cursors are the bench's own."""
    opened = session.opened
    return replace(
        snapshot,
        coupon=opened.coupon,
        limits=opened.limits,
        setup=session.setup,
        machine=opened.machine,
        span_mm=opened.span_mm,
        simulated=opened.simulated,
        answers=session.move_answers,
        closed=session.closed is not None,
        readings=session.readings,
        evaluation=session.evaluation(among=features_at_hand(snapshot, session)),
        log=session.log,
        label=session.label,
        note=session.note,
    )


def features_at_hand(snapshot: Snapshot, session: Session) -> frozenset[Feature]:
    """What can be asked for: what the instruments heard here measure, and of what kind readings were typed.

    Everything, while an instrument has not been heard yet or there is none: then the keypad serves all.
    """
    heard = {status.quantity for status in snapshot.instruments}
    if not heard or None in heard:
        return frozenset(TEN_FEATURES)
    known = heard | {quantity_of(reading.feature) for reading in session.active}
    return frozenset(feature for feature in TEN_FEATURES if quantity_of(feature) in known)


def quantity_of(feature: Feature) -> Quantity:
    """Which instrument measures this feature: length or angle."""
    return Quantity.LENGTH if feature.is_length else Quantity.ANGLE


def cursor_of(snapshot: Snapshot, quantity: Quantity) -> Feature | None:
    """The feature at the cursor of this quantity."""
    return snapshot.next_length if quantity is Quantity.LENGTH else snapshot.next_corner


def taken_features(snapshot: Snapshot) -> frozenset[Feature]:
    """Features with at least one reading that counts."""
    return frozenset(item.reading.feature for item in snapshot.readings if item.voided is None)


def closing(snapshot: Snapshot) -> Closed:
    """The event that ends a session, with what the bench says of it now."""
    evaluation = snapshot.evaluation
    if evaluation is None:
        return Closed(
            verdict="undecided",
            size_verdict="undecided",
            skew_deg=None,
            skew_u95_deg=None,
            software=SOFTWARE,
            settled=False,
        )
    fit, skew_deg = evaluation.adjustment, evaluation.told_skew_deg
    return Closed(
        verdict=evaluation.verdict,
        size_verdict=evaluation.size_verdict,
        skew_deg=skew_deg.value if skew_deg else None,
        skew_u95_deg=skew_deg.U95 if skew_deg else None,
        software=SOFTWARE,
        scale_x=fit.scale_x.value,
        scale_x_u95=fit.scale_x.U95,
        scale_y=fit.scale_y.value,
        scale_y_u95=fit.scale_y.U95,
        settled=evaluation.settled,
    )


def with_instrument(
    snapshot: Snapshot, name: str, *, indications: int = 0, faults: int = 0, **told_of: object
) -> Snapshot:
    """The snapshot with one instrument's counters advanced, and `told_of` its other fields what came."""
    known = dict(zip(map(NAME, snapshot.instruments), snapshot.instruments, strict=True))
    old = known.get(name) or InstrumentStatus(
        name=name, state=LinkState.LOST, text=said("not heard yet"), indications=0, faults=0, last_fault=NOTHING
    )
    known[name] = replace(old, indications=old.indications + indications, faults=old.faults + faults, **told_of)
    return replace(snapshot, instruments=tuple(known.values()))


def empty_snapshot(*, simulated: bool) -> Snapshot:
    """The bench before anything has happened."""
    return Snapshot(
        simulated=simulated,
        live_length=absent(Quantity.LENGTH, None),
        live_corner=absent(Quantity.ANGLE, None),
    )


def told(snapshot: Snapshot, text: Part, *, alarm: bool = False) -> Snapshot:
    """The snapshot with a new message, which stands until the next one or until it is over."""
    message = Message(text=text, alarm=alarm)
    return replace(snapshot, message=message, messages=(*snapshot.messages, message)[-MESSAGES_KEPT:])


def noted(snapshot: Snapshot, text: Part, *, ends: Part = NOTHING) -> Snapshot:
    """The same for news that nobody asked for: an alarm that nobody has answered yet goes on standing, but for one that
    these news end."""
    before, after = snapshot.message, told(snapshot, text)
    if before is None or not before.alarm or before.text == ends:
        return after
    return replace(after, message=before)
