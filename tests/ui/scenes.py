"""Snapshots of the bench in every state a person can meet, judged by the real evaluation; house scenario, SIMULATED.

A template router, coupon of 120 x 80 mm, gantry span 640 mm along X. The true shape is given by
the model's parameters; readings are its features with small fixed errors.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
from msgspec.structs import replace

from core.geometry.affine import cut_by
from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.seats import Seats, equal_seats, keyed_seats
from core.geometry.shape import true_features
from core.machine.bed_map import FEWEST_PLACES, Place, bed_map
from core.machine.directions import Direction, Side
from core.machine.gantry_correction import Correction, gantry_correction
from core.machine.guided_correction import answer, begin, guided_state
from core.machine.history import ClosedCoupon, NoGo, machine_history
from core.machine.holding import HowHeld
from core.machine.machine_log import CorrectionApplied, LogEntry, LogPayload
from core.machine.procedure import Stage
from core.machine.profile import MachineProfile, Process
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Estimate
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.expansion import expansion_difference
from core.metrology.live import LiveState, compare, live_limit
from core.metrology.measuring_model import predicted_readings
from core.metrology.readings import Quantity, Reading, Unit
from core.metrology.tolerances import limits_for_class
from core.metrology.witness import Answers, MarkSeen
from core.records import instrument_shown
from core.records.events import Event, GaugeChecked, Opened
from core.records.grid import GridMap, GridState, cell_of, too_few_places
from core.records.history import Due, History
from core.records.instrument_book import CheckHistory, InstrumentBook, RecordedCheck
from core.records.outbox import forked
from core.records.saved_bench import SavedBench
from core.records.session import NumberedReading
from core.records.session_tables import ALL_SESSIONS, SessionSummary
from core.records.shop_records import Membership, ShopMachine
from core.records.shop_state import MachineAnswer, MachineQuestion, ShopState
from core.said import NOTHING, Name, Number, Part, Series, said, said_counted
from firmware_bridge.byte_link import LinkState
from firmware_bridge.discovery import LISTENING, recognised_by_radio
from firmware_bridge.instrument_settings import InstrumentSettings, RadioPlace
from firmware_bridge.wire_formats import Framing, Parity, wire_format
from hardware.stick_files import FilesFound
from hardware.usb_stick import Stick
from ui.bench.desks.measuring import TakeBack
from ui.bench.live import absent
from ui.bench.opening import OwnLimits, limits_of, opening
from ui.bench.practice import Diagnosis, Exercise, Move, PracticeFault, judge
from ui.bench.workers.cables import NOT_OPENED
from ui.state.snapshot import (
    InstrumentStatus,
    Live,
    MachinesSlice,
    Message,
    PracticeSlice,
    Question,
    RecordsSlice,
    Snapshot,
    StrangePort,
    Undoable,
    UsedCable,
)
from ui.state.stick import (
    DesignSlice,
    DesignSource,
    DesignStage,
    DownloadSlice,
    DownloadState,
    KeepSlice,
    PreparedDesign,
    ShopFile,
    ShopSlice,
    ShopStage,
    UpdateSlice,
    UpdateState,
)
from ui.state.work import WorkSlice

MARK_AT_NL = Answers(mark=MarkSeen.NL)

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
LIMITS = limits_for_class(COUPON, "mK")
SETUP = MeasuringSetup()
RACKED = (-0.0004, -0.0006, 0.0088, 0.0, 0.0)
SQUARE = (-0.0004, -0.0006, 0.0004, 0.0, 0.0)
BORDER = (-0.0004, -0.0006, 0.0047, 0.0, 0.0)
FIRST_READING = 3  # the number of the event in the log; the coupon was opened before
BEGUN_UTC = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
ERRORS = (0.01, -0.01, 0.02, 0.0, -0.02, 0.01, 0.1, -0.05, 0.05, -0.1)
STEPS_MM, STEPS_DEG = 0.01, 0.05
UP = (
    InstrumentStatus(
        name="calipers", state=LinkState.UP, text=Name("open"), indications=812, faults=0, last_fault=NOTHING
    ),
    InstrumentStatus(
        name="angle gauge",
        state=LinkState.UP,
        text=Name("open"),
        indications=344,
        faults=2,
        last_fault=NOTHING,
    ),
)


# A frozen value of frozen values: of the same readings it is the same, however often a scene is shown.
evaluated = cache(evaluate)


# Lengths twice, against slips; corners once, as the witness of a move.
CHECKED = (*TEN_FEATURES, *DIAGONALS, *EDGES)


def readings(shape: Iterable[float], features: Iterable[Feature]) -> tuple[Reading, ...]:
    """What careful hands would read of a coupon of this shape."""
    values = true_features(COUPON, np.array([*shape]))[0]
    taken = []
    for feature in features:
        row = TEN_FEATURES.index(feature)
        step = STEPS_MM if feature.is_length else STEPS_DEG
        value = round((float(values[row]) + ERRORS[row]) / step) * step
        taken.append(Reading(feature=feature, value=round(value, 4), unit=Unit.MM if feature.is_length else Unit.DEG))
    return tuple(taken)


def live(feature: Feature, value: float | None, *, hold: float = 0.0, fit: Evaluation | None = None) -> Live:
    """A fresh indication at a cursor; None for a silent instrument."""
    state = LiveState.ABSENT
    if value is not None:
        state = compare(COUPON, LIMITS, SETUP, feature, value, fit.adjustment if fit else None)
    return Live(
        quantity=Quantity.LENGTH if feature.is_length else Quantity.ANGLE,
        feature=feature,
        value=value,
        unit=Unit.MM if feature.is_length else Unit.DEG,
        decimals=2 if feature.is_length else 1,
        state=state,
        limit=live_limit(COUPON, LIMITS, feature),
        hold_fraction=hold,
        age_s=None if value is None else 0.02,
    )


def logged(taken: Sequence[Reading], first: int = FIRST_READING) -> tuple[NumberedReading, ...]:
    """Readings as the log has them, one a minute."""
    return tuple(
        NumberedReading(number=number, reading=reading, time_utc=BEGUN_UTC + timedelta(minutes=number))
        for number, reading in enumerate(taken, first)
    )


def slipped_once(now: Snapshot) -> Snapshot:
    """The first reading was a slip before it was read again: it is in the log and does not count."""
    slip = now.readings[0].reading
    (voided,) = logged((replace(slip, value=slip.value + 5.0),), FIRST_READING - 1)
    return replace(now, readings=(replace(voided, voided="slipped"), *now.readings))


def snapshot(
    taken: tuple[Reading, ...] = (),
    *,
    length: Feature = Feature.NL_FR,
    corner: Feature = Feature.NL,
    length_value: float | None = 144.35,
    corner_value: float | None = 89.6,
    hold: float = 0.0,
) -> Snapshot:
    """The bench with these readings taken and these indications on the cables."""
    evaluation = evaluated(COUPON, taken, LIMITS, SETUP) if taken else None
    return Snapshot(
        revision=1,
        session="2026-11-25-1",
        coupon=COUPON,
        limits=LIMITS,
        machine="template router",
        span_mm=640.0,
        simulated=True,
        answers=Answers(mark=MarkSeen.NL),
        closed=False,
        readings=logged(taken),
        pending=None,
        next_length=length,
        next_corner=corner,
        live_length=live(length, length_value, hold=hold, fit=evaluation),
        live_corner=live(corner, corner_value, fit=evaluation),
        evaluation=evaluation,
        instruments=UP,
        question=None,
        message=Message(text=ACCEPTED),
        hand="",
    )


def contradicting() -> Snapshot:
    """All ten read, one edge keyed in wrongly by 2 mm."""
    taken = list(readings(RACKED, TEN_FEATURES))
    taken[1] = replace(taken[1], value=taken[1].value + 2.0)
    return snapshot(tuple(taken), length=Feature.RIGHT, length_value=79.95)


DOUBT = Question(
    name="better-fit",
    text=said(
        "{value} looks like the {other}, not the {asked}. Which is it?",
        value=Feature.NL_FR.measured(144.35),
        other=Feature.NL_FR.label,
        asked=Feature.NEAR.label,
    ),
    choices=(("nl-fr", Feature.NL_FR.label), ("near", Feature.NEAR.label), ("discard", said("Neither"))),
    feature=Feature.NEAR,
    value=144.35,
)
LOST = (replace(UP[0], state=LinkState.LOST, text=said("cable pulled")), UP[1])

ROUTER = MachineProfile(name="router", span_mm=640.0, process=Process.ROUTER, held=HowHeld.SCREWS, screw_pitch_mm=1.0)


def correcting(stage: Stage, gap_mm: float | None = 5.21) -> Snapshot:
    """The guided correction of the racked router, taken as far as this stage by its own answers; the jaws at a gap, or
    no caliper on its cable."""
    judged = replace(snapshot(readings(RACKED, CHECKED), length_value=gap_mm), closed=True)
    assert judged.evaluation is not None
    correction = gantry_correction(judged.evaluation, ROUTER, answers=MARK_AT_NL)
    assert isinstance(correction, Correction)
    payloads: list[LogPayload] = [begin("2026-11-25-1", correction)]
    gaps = iter((12.4, 12.4, 12.4, 12.4 - correction.move_mm.value, 12.4, 12.4 - correction.move_mm.value))
    while True:
        log = tuple(LogEntry(sequence=i, time_utc=None, payload=payload) for i, payload in enumerate(payloads, start=1))
        guided = guided_state(log, ROUTER)
        assert guided is not None
        if guided.stage is stage:
            break
        payloads += answer(guided, next(gaps) if guided.gap_end else None)
    machines = MachinesSlice(profiles=(ROUTER,), current=ROUTER, log=log, guided=guided, correction=correction)
    return replace(judged, machine=ROUTER.name, machines=machines, message=None)


def needing_witness(seats: Seats | None, answers: Answers = MARK_AT_NL) -> Snapshot:
    """A quick check on seats or corner to corner, NO-GO and settled: what the readings cannot say is to be answered."""
    coupon = replace(COUPON, seats=seats)
    values = predicted_readings(coupon, np.array([*RACKED, 0.0, 0.0, 0.0]), SETUP)[0]
    taken = tuple(
        Reading(feature=f, value=round(float(values[TEN_FEATURES.index(f)]), 2), unit=Unit.MM) for f in DIAGONALS * 2
    )
    evaluation = evaluated(coupon, taken, LIMITS, SETUP, among=DIAGONALS + EDGES)
    correction = gantry_correction(evaluation, ROUTER, answers=answers)
    return replace(
        snapshot(readings(RACKED, DIAGONALS * 2)),
        coupon=coupon,
        answers=answers,
        evaluation=evaluation,
        machine=ROUTER.name,
        machines=MachinesSlice(profiles=(ROUTER,), current=ROUTER, correction=correction),
        message=None,
    )


def with_other_seats() -> Snapshot:
    """A quick check of a square coupon that was cut without the seats it is said to have."""
    coupon = replace(COUPON, seats=keyed_seats(COUPON.width_mm, COUPON.height_mm))
    taken = readings(SQUARE, DIAGONALS * 2)
    evaluation = evaluated(coupon, taken, LIMITS, SETUP, among=DIAGONALS + EDGES)
    return replace(snapshot(taken, length=Feature.NEAR), coupon=coupon, evaluation=evaluation, message=None)


def to_correct() -> Snapshot:
    """A coupon judged no-go on a described machine, nothing begun."""
    return replace(
        (done := correcting(Stage.CAUTIONS)), closed=False, machines=replace(done.machines, guided=None, log=())
    )


def with_history(
    skews: tuple[float, ...] = (0.31, 0.34, 0.36, 0.39, 0.02, 0.03, 0.01), elsewhere: Mapping[int, str] | None = None
) -> Snapshot:
    """The router's coupons, one every third day, a correction after the fourth; those `elsewhere`, by their places,
    were measured at the benches named."""
    benches = elsewhere or {}
    start = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)
    sessions = tuple(
        SessionSummary(
            id=f"{start + timedelta(days=3 * i):%Y-%m-%d}-1",
            machine=ROUTER.name,
            opened_utc=start + timedelta(days=3 * i),
            coupon=COUPON,
            simulated=True,
            closed=True,
            verdict="no-go" if skew > 0.29 else "go",
            size_verdict="go",
            skew_deg=skew,
            skew_u95_deg=0.06,
        )
        for i, skew in enumerate(skews)
    )
    coupons = [
        ClosedCoupon(
            session=one.id,
            time_utc=one.opened_utc,
            skew_deg=Estimate(value=one.skew_deg, u=0.03),
            size_x_percent=Estimate(value=-0.04 - 0.003 * i, u=0.01),
            size_y_percent=Estimate(value=-0.06, u=0.015),
            bench=benches.get(i, ""),
        )
        for i, one in enumerate(sessions)
    ]
    set_then = LogEntry(
        sequence=1, time_utc=start + timedelta(days=10), payload=CorrectionApplied(session=sessions[3].id, made_mm=4.1)
    )
    no_go = NoGo(skew_deg=0.29, size_x_percent=0.25, size_y_percent=0.38)
    history = machine_history(coupons, (set_then,), no_go)
    view = History(
        machine=ROUTER.name,
        only=ALL_SESSIONS,
        sessions=sessions[::-1],
        history=history,
        no_go=no_go,
        benches={sessions[place].id: bench for place, bench in benches.items()},
    )
    due = Due(machine=ROUTER.name, text=history.check_next)
    return replace(to_correct(), records=RecordsSlice(history=view, due=due))


def restarted() -> Snapshot:
    """Power on, no machine described; coupons were measured before."""
    past = with_history().records.history
    assert past is not None
    nothing = replace(SCENES["empty"](), session=None, coupon=None, limits=None, machine="", span_mm=None)
    return replace(nothing, records=RecordsSlice(last_closed=past.sessions[0]))


DRIFTING = (0.31, 0.34, 0.36, 0.39, *(0.01 + 0.025 * i for i in range(9)))


GRID_SKEWS = {"A1": -0.18, "B1": 0.02, "C1": 0.21, "A2": -0.2, "B2": 0.0, "C2": 0.19}


def with_grid(skews: dict[str, float]) -> Snapshot:
    """Coupons of a grid, cut by a bowed gantry, measured so far."""
    measured = {
        place: SessionSummary(
            id=f"2026-11-25-{place}",
            machine=ROUTER.name,
            opened_utc=BEGUN_UTC,
            coupon=COUPON,
            simulated=True,
            closed=True,
            verdict="go",
            size_verdict="go",
            skew_deg=skew,
            skew_u95_deg=0.06,
            grid="G1",
            place=place,
        )
        for place, skew in skews.items()
    }
    places = tuple(
        Place(
            name=place,
            x_mm=120.0 * cell_of(place)[0],
            y_mm=80.0 * cell_of(place)[1],
            skew_deg=Estimate(value=skew, u=0.03),
        )
        for place, skew in skews.items()
    )
    bed, text = None, too_few_places("G1", 2)
    if len(places) >= FEWEST_PLACES:
        bed = GridMap(
            grid="G1",
            machine=ROUTER.name,
            coupon=COUPON,
            sessions=tuple(one.id for one in measured.values()),
            places=places,
            bed=bed_map(places),
            simulated=True,
            limit_deg=0.29,
        )
        text = bed.bed.text
    state = GridState(machine=ROUTER.name, grid="G1", known=("G1",), fresh="G2", measured=measured, map=bed, text=text)
    return replace(to_correct(), records=RecordsSlice(grid=state))


STRIP = Coupon(width_mm=40.0, height_mm=300.0)
WINDOWED = replace(COUPON, window_width_mm=60.0, window_height_mm=40.0)
# Scales are right, and the cut is 0.2 mm wider than was allowed for: outside too small, window too large by as much.
NARROW = (-0.2 / 120.0, -0.2 / 80.0, 0.0004, 0.0, 0.0)
WINDOW_READINGS = (
    Reading(feature=Feature.WINDOW_WIDTH, value=60.21),
    Reading(feature=Feature.WINDOW_HEIGHT, value=40.19),
)


def with_window(
    taken: tuple[Reading, ...] = (), feature: Feature = Feature.WINDOW_WIDTH, value: float = 60.21
) -> Snapshot:
    """A coupon with a window, judged by limits of four kinds, the jaws at this length."""
    limits = limits_of(WINDOWED, "mK", OwnLimits(edge_mm=0.25, corner_deg=0.3, diagonal_mm=0.5))
    first = snapshot(tuple(one for one in taken if one.feature in TEN_FEATURES), length=Feature.NEAR)
    evaluation = evaluated(WINDOWED, taken, limits, SETUP) if taken else None
    readings_taken = logged(taken)
    state = compare(WINDOWED, limits, SETUP, feature, value, evaluation.adjustment if evaluation else None)
    limit = live_limit(WINDOWED, limits, feature)
    indication = replace(first.live_length, feature=feature, value=value, state=state, limit=limit)
    return replace(
        first,
        coupon=WINDOWED,
        limits=limits,
        readings=readings_taken,
        evaluation=evaluation,
        next_length=feature,
        live_length=indication,
    )


def with_terms() -> Snapshot:
    """The coupon before was opened with everything a person can choose, and limits of four kinds."""
    own = OwnLimits(edge_mm=0.25, corner_deg=0.3, diagonal_mm=0.5)
    opened = opening(WINDOWED, "mK", own=own, expansion=expansion_difference("acrylic", 27.5))
    return replace(SCENES["empty"](), records=RecordsSlice(last_opened=opened))


def at_place(place: str, grid: str = "G1") -> Snapshot:
    """A coupon of the grid on the bench, measuring begun, after two others were measured."""
    begun = with_grid(dict([*GRID_SKEWS.items()][:2]))
    opened = Opened(coupon=COUPON, limits=LIMITS, setup=SETUP, machine=ROUTER.name, grid=grid, place=place)
    log = (Event(sequence=1, time_utc=None, payload=opened),)
    return replace(snapshot(hold=0.6), machine=ROUTER.name, machines=begun.machines, records=begun.records, log=log)


ON_DRIVE = said_counted("{count} coupon on the drive", "{count} coupons on the drive", count=12)


def with_download(state: DownloadState, text: Part, *, sticks: int = 1, cable: bool = False) -> Snapshot:
    """A stick plugged in, a download as far as this."""
    stick = Stick(partition="/dev/sda1", label="WORKSHOP", size_bytes=16_000_000_000, write_protected=False)
    view = DownloadSlice(sticks=(stick,) * sticks, cable=cable, state=state, session="2026-11-25-1", text=text)
    return replace(to_correct(), download=view)


SHOP_FILE = ShopFile(path="bench_2.shop", shop="shop.example:5432/coupons", bench="bench by the door")


def with_shop(slice_: ShopSlice, **state: object) -> Snapshot:
    """The bench and its shop; `state` is of a bench that belongs to one, none: alone."""
    joined = Membership(
        shop=SHOP_FILE.shop,
        bench_id="bench-0123456789abcdef",
        bench=SHOP_FILE.bench,
        names=False,
        joined_utc=datetime(2026, 11, 2, 8, 0, tzinfo=UTC),
    )
    found = ShopState(membership=joined, **state) if state else ShopState()  # type: ignore[arg-type]
    draft = replace(with_download(DownloadState.IDLE, NOTHING), shop=slice_)
    return replace(draft, records=replace(draft.records, shop=found))


SENT = {"sent": 214, "last_utc": datetime(2026, 11, 25, 15, 40, tzinfo=UTC)}
NOT_REACHED = said("the shop cannot be reached ({reason})", reason=Name("connection to server at shop.example failed"))
FORKED = forked("20261125-150000-0a1b2c3d")
SAME_MACHINE = MachineQuestion(
    machine="template router",
    other=ShopMachine(id="machine-0123456789abcdef", name="template router", benches=("bench in the hall", "school")),
)


def with_keep(state: DownloadState, text: Part = NOTHING, *, found: bool = False, sticks: int = 1) -> Snapshot:
    """The whole bench on its way to or from the stick."""
    saved = SavedBench(
        folder="cornerwise-bench-20261125-170312-0a1b2c3d",
        saved_utc=datetime(2026, 11, 25, 17, 3, tzinfo=UTC),
        sessions=1284,
    )
    view = KeepSlice(state=state, text=text, found=saved if found else None)
    return replace(with_download(DownloadState.IDLE, NOTHING, sticks=sticks), keep=view)


ACCEPTED = said("Accepted: {feature} {value}", feature=Feature.NL_FR.label, value=Feature.NL_FR.measured(144.35))
DESIGN = DesignSource(path="jobs/hinge-template-for-twelve-doors-left-handed.svg")


def _told(text: str) -> Part:
    return Name(text) if text else NOTHING


def with_design(stage: DesignStage, text: str = "", *, sticks: int = 1, found: bool = True) -> Snapshot:
    """A machine that cannot be adjusted, and a design on the stick corrected as far as this."""
    base = with_download(DownloadState.IDLE, NOTHING, sticks=sticks)
    machine = replace(ROUTER, held=HowHeld.NOT_ADJUSTABLE)
    assert base.evaluation is not None
    correction = gantry_correction(base.evaluation, machine, answers=MARK_AT_NL)
    paths = (DESIGN.path, "drawer-front.dxf", *(f"jobs/plate-{number}.svg" for number in range(1, 9)))
    chosen = stage not in (DesignStage.IDLE, DesignStage.LOOKING, DesignStage.FOUND)
    prepared = PreparedDesign(
        source=DESIGN,
        path=DESIGN.path.replace(".svg", "-corrected-SIMULATED.svg"),
        matrix=cut_by(0.5).inverse,
        texts=2,
        circles=14,
        left_out=1,
    )
    state = DesignSlice(
        stage=stage,
        found=FilesFound(paths=paths, too_large=1, more=True) if found else None,
        source=DESIGN if chosen else None,
        prepared=prepared if chosen else None,
        text=_told(text),
    )
    return replace(
        base, machines=replace(base.machines, current=machine, correction=correction), design=state, message=None
    )


def with_update(state: UpdateState, text: str = "", *, before: str = "0.1.0", news: str = "") -> Snapshot:
    """A bench of version 0.2.0 with an update as far as this, a coupon open on it."""
    found = "0.3.0" if state is UpdateState.FOUND else ""
    view = UpdateSlice(
        running="0.2.0",
        before=before,
        state=state,
        found=found,
        text=_told(text),
        last=_told(news),
        news=_told(news),
    )
    return replace(with_download(DownloadState.IDLE, NOTHING), update=view)


def with_new_port() -> Snapshot:
    """Nothing but a port that nobody has touched yet."""
    bench = with_stranger()
    return replace(bench, ports=tuple(port for port in bench.ports if not port.opened), instruments=())


def with_stranger() -> Snapshot:
    """One cable lost, and something unknown on another port."""
    settings = InstrumentSettings(
        name="calipers 2", port="/dev/serial/by-id/x", format_name="length-3.3", quantity=Quantity.LENGTH
    )
    heard = StrangePort(
        path="/dev/serial/by-id/x",
        description="USB serial adapter",
        text=said("speaks {formats}", formats=Series((wire_format("length-3.3").title,), joint=" / ")),
        listening=False,
        offers=(settings,),
    )
    silent = StrangePort(
        path="/dev/ttyACM3",
        description="USB device",
        text=said("silent: press its data button, or let it be asked"),
        listening=False,
        offers=(),
    )
    listened_to = replace(silent, path="/dev/ttyACM4", text=LISTENING, listening=True)
    unopened = StrangePort(
        path="/dev/serial/by-id/usb-1a86_USB_Serial-if00-port0",
        description="USB serial adapter",
        text=NOT_OPENED,
        listening=False,
        offers=(),
        opened=False,
    )
    place = RadioPlace(
        service="5a7e0001-c0de-4a11-9e55-0123456789ab", characteristic="5a7e0002-c0de-4a11-9e55-0123456789ab"
    )
    notified = recognised_by_radio("radio:C0:DE:00:00:00:07", {place: [bytes.fromhex("3AD2040000")]})
    by_radio = StrangePort(
        path=notified.port,
        description="bench caliper",
        text=notified.text,
        listening=False,
        offers=(),
        radio=notified.radio,
    )
    return replace(SCENES["lost"](), ports=(heard, listened_to, unopened, by_radio, silent), book=BOOK)


CALIPER_CABLE = InstrumentSettings(
    name="calipers", port="/dev/serial/by-id/a", format_name="length-8-unit", quantity=Quantity.LENGTH
)


def with_cable(*, wrong: bool = False, several: bool = False) -> Snapshot:
    """A caliper's cable set by hand to what it does not speak, or to a multiplexer; else as it was recognised."""
    settings = CALIPER_CABLE
    if wrong:
        framing = Framing(baud=2400, data_bits=7, parity=Parity.EVEN, stop_bits=2, rts=False)
        settings = replace(settings, format_name="length-3.3", framing=framing)
    if several:
        channels = {"1": "long caliper", "2": "short caliper"}
        settings = replace(settings, format_name="channels-lettered", channels=channels)
    heard = replace(
        UP[0],
        name=settings.instruments[0],
        last=NOTHING if wrong else Series((Number(120.34, 2), Name("mm"))),
        rate_hz=None if wrong else 9.6,
        indications=0 if wrong else 812,
        faults=37 if wrong else 0,
        last_fault=Name("a line that is not in this instrument's format") if wrong else NOTHING,
        port=settings.port,
    )
    cable = UsedCable(settings=settings, recognised=CALIPER_CABLE)
    return replace(SCENES["first"](), instruments=(heard, UP[1]), cables=(cable,), message=None)


def practising(*, answered: bool = False, begun: bool = True) -> Snapshot:
    """An exercise of a racked gantry: its coupon measured, and then diagnosed the wrong way round."""
    exercise = Exercise(fault=PracticeFault.RACKED, skew_deg=0.35)
    wrong = Diagnosis(fault=PracticeFault.RACKED, move=Move(end=Side.RIGHT, direction=Direction.FARTHER))
    state = PracticeSlice(
        total=4,
        number=2 if begun else 0,
        session="2026-11-25-1",
        judgement=judge(exercise, wrong) if answered else None,
    )
    return replace(SCENES["no-go"](), machine="", closed=True, practice=state)


def checked(zero_mm: float, day: int) -> RecordedCheck:
    check = GaugeChecked(
        instrument=UP[0].name,
        quantity=Quantity.LENGTH,
        zero=zero_mm,
        zero_sd=0.007,
        reference="closed jaws, 25 mm, 50 mm, 75 mm",
        found=zero_mm,
        found_sd=0.01,
    )
    time_utc = datetime(2026, 11, day, 8, tzinfo=UTC)
    return RecordedCheck(check=check, time_utc=time_utc, session="s", sessions_ago=24 - day)


# A caliper whose zero has moved: the longest that is said of a check.
BOOK = InstrumentBook(
    checks=(CheckHistory(instrument=UP[0].name, last=checked(0.05, 20), before=checked(0.01, 18)),),
    read_utc=datetime(2026, 11, 20, 9, tzinfo=UTC),
)

SCENES: dict[str, Callable[[], Snapshot]] = {
    "no-instrument": lambda: replace(snapshot(length_value=None, corner_value=None), instruments=()),
    "mark": lambda: replace(snapshot(), answers=Answers()),
    "first": lambda: snapshot(hold=0.6),
    "on-the-way": lambda: snapshot(length_value=97.41),
    "edges": lambda: snapshot(
        readings(RACKED, DIAGONALS), length=Feature.NEAR, length_value=119.98, corner_value=89.5, hold=0.35
    ),
    "edge-outside": lambda: snapshot(readings(RACKED, DIAGONALS), length=Feature.RIGHT, length_value=79.21),
    "edge-near-limit": lambda: snapshot(readings(RACKED, DIAGONALS), length=Feature.FAR, length_value=120.28),
    "question": lambda: replace(
        snapshot(readings(RACKED, DIAGONALS[1:]), length=Feature.NEAR, length_value=144.35), question=DOUBT
    ),
    "hand": lambda: replace(
        snapshot(readings(RACKED, DIAGONALS[:1])),
        hand=said("closing the jaws on the {feature}", feature=Feature.NR_FL.label),
    ),
    "lost": lambda: replace(
        snapshot(readings(RACKED, DIAGONALS), length_value=None),
        instruments=LOST,
        message=Message(
            text=said("{instrument}: {words}", instrument=instrument_shown(UP[0].name), words=LOST[0].text), alarm=True
        ),
    ),
    "no-go": lambda: slipped_once(snapshot(readings(RACKED, CHECKED), length=Feature.NEAR, length_value=11.2)),
    "go": lambda: snapshot(readings(SQUARE, CHECKED), length=Feature.NEAR, length_value=11.2),
    "undecided": lambda: snapshot(readings(BORDER, DIAGONALS + EDGES), length=Feature.NL_FR, length_value=11.2),
    "repeated": lambda: snapshot(
        readings(SQUARE, TEN_FEATURES + DIAGONALS), corner=Feature.NR, length=Feature.NEAR, length_value=120.03
    ),
    "inconsistent": contradicting,
    "other-seats": with_other_seats,
    "empty": lambda: replace(
        snapshot(length_value=None, corner_value=None),
        session=None,
        coupon=None,
        limits=None,
        machine="",
        answers=Answers(),
        next_length=None,
        next_corner=None,
        live_length=absent(Quantity.LENGTH, None),
        live_corner=absent(Quantity.ANGLE, None),
        message=None,
    ),
    "to-correct": to_correct,
    "cautions": lambda: correcting(Stage.CAUTIONS),
    "play": lambda: correcting(Stage.PLAY),
    "gaps": lambda: correcting(Stage.READ_UNTOUCHED),
    "loosen": lambda: correcting(Stage.LOOSEN),
    "set": lambda: correcting(Stage.SET),
    "inside": lambda: correcting(Stage.SET, 7.03),
    "set-without-cable": lambda: correcting(Stage.SET, None),
    "gaps-without-cable": lambda: correcting(Stage.READ_UNTOUCHED, None),
    "history": with_history,
    "restarted": restarted,
    "grid": lambda: with_grid(GRID_SKEWS),
    "grid-begun": lambda: with_grid(dict([*GRID_SKEWS.items()][:2])),
    "terms": with_terms,
    "window": lambda: with_window(),
    "window-unread": lambda: with_window(readings(SQUARE, CHECKED)),
    "window-read": lambda: with_window((*readings(NARROW, CHECKED), *WINDOW_READINGS), Feature.WINDOW_HEIGHT, 40.19),
    "strip": lambda: replace(
        snapshot(length_value=None, corner_value=None), coupon=STRIP, limits=limits_of(STRIP, "mK")
    ),
    "at-place": lambda: at_place("B2"),
    "drifting": lambda: with_history(DRIFTING),
    "shared": lambda: with_history(DRIFTING, dict.fromkeys((2, 3, 5, 8, 9, 11), "bench in the hall")),
    "stranger": with_stranger,
    "new-port": with_new_port,
    "cable": with_cable,
    "cable-wrong": lambda: with_cable(wrong=True),
    "cable-several": lambda: with_cable(several=True),
    "on-drive": lambda: with_download(DownloadState.SHOWN, ON_DRIVE, sticks=0, cable=True),
    "no-stick": lambda: with_download(DownloadState.IDLE, NOTHING, sticks=0),
    "writing": lambda: with_download(DownloadState.WRITING, said("writing")),
    "stick-pulled": lambda: with_download(
        DownloadState.FAILED,
        said("{stick} was pulled out before it was finished: plug it in and try again", stick=Name("WORKSHOP")),
        sticks=0,
    ),
    "downloaded": lambda: with_download(DownloadState.SAFE, said("safe to remove")),
    "shop": lambda: with_shop(ShopSlice()),
    "shop-none": lambda: with_shop(ShopSlice(stage=ShopStage.FOUND)),
    "shop-found": lambda: with_shop(ShopSlice(stage=ShopStage.FOUND, files=(SHOP_FILE,))),
    "shop-several": lambda: with_shop(ShopSlice(stage=ShopStage.FOUND, files=(SHOP_FILE,) * 4)),
    "shop-damaged": lambda: with_shop(
        ShopSlice(
            stage=ShopStage.FAILED,
            text=said("{file}: this is no file that admits a bench to a shop", file=Name("bench_2.shop")),
        )
    ),
    "shop-joining": lambda: with_shop(ShopSlice(stage=ShopStage.JOINING, files=(SHOP_FILE,))),
    "shop-wipe": lambda: with_shop(ShopSlice(stage=ShopStage.JOINED, joined_by="bench_2.shop"), waiting=215),
    "shop-joined": lambda: with_shop(ShopSlice(), **SENT, waiting=2),
    "shop-hindered": lambda: with_shop(
        ShopSlice(), **SENT, waiting=12, hindrance=NOT_REACHED, refused=(FORKED, FORKED, FORKED)
    ),
    "shop-practice": lambda: replace(
        with_shop(ShopSlice(), **SENT, waiting=12, hindrance=NOT_REACHED, questions=(SAME_MACHINE,)),
        practice=SCENES["practice"]().practice,
    ),
    "shop-asks": lambda: with_shop(ShopSlice(), **SENT, questions=(SAME_MACHINE,)),
    "shop-answered": lambda: with_shop(
        ShopSlice(),
        **SENT,
        answers=(MachineAnswer(question=SAME_MACHINE, same=True), MachineAnswer(question=SAME_MACHINE, same=False)),
    ),
    "shop-forked": lambda: with_shop(
        ShopSlice(),
        **SENT,
        refused=(FORKED,),
        forked=True,
        answers=(MachineAnswer(question=SAME_MACHINE, same=True),),
    ),
    "shop-forked-found": lambda: replace(
        SCENES["shop-forked"](), shop=ShopSlice(stage=ShopStage.FOUND, files=(SHOP_FILE,))
    ),
    "keep": lambda: with_keep(DownloadState.IDLE, sticks=0),
    "keep-found": lambda: with_keep(DownloadState.IDLE, found=True),
    "keep-saving": lambda: replace(
        with_keep(DownloadState.WRITING, said("saving the whole bench")),
        work=WorkSlice(key=1, what=said("saving the whole bench"), percent=42, can_stop=True),
        undo=Undoable(command=TakeBack(number=1)),
    ),
    "keep-saved": lambda: with_keep(
        DownloadState.SAFE, said("The whole bench is on the stick. Keep it away from the bench: cards die.")
    ),
    "keep-failed": lambda: with_keep(
        DownloadState.FAILED,
        said("{stick} was pulled out before it was finished: plug it in and try again", stick=Name("WORKSHOP")),
    ),
    "not-adjustable": lambda: with_design(DesignStage.IDLE, sticks=0, found=False),
    "designs": lambda: with_design(DesignStage.FOUND),
    "design-ready": lambda: with_design(DesignStage.READY),
    "design-writing": lambda: with_design(DesignStage.WRITING),
    "design-written": lambda: with_design(DesignStage.DONE, "jobs/hinge-template-for-twelve-doors-left-handed-2.svg"),
    "design-failed": lambda: with_design(
        DesignStage.FAILED, "drawer-front.dxf: this design was corrected before: correct the original, never twice"
    ),
    "update": lambda: with_update(UpdateState.IDLE, before=""),
    "update-looking": lambda: with_update(UpdateState.LOOKING, "Checking signature and content."),
    "update-found": lambda: with_update(UpdateState.FOUND),
    "update-installing": lambda: with_update(UpdateState.INSTALLING, "Taking over the libraries."),
    "update-starting": lambda: with_update(UpdateState.STARTING, "0.3.0 is in place and starts now."),
    "update-refused": lambda: with_update(
        UpdateState.FAILED,
        "not signed by a key this bench trusts, or changed since: get it again from whoever made it",
    ),
    "update-taken-back": lambda: with_update(
        UpdateState.IDLE,
        before="",
        news="Version 0.3.0 did not start. 0.2.0 runs again: nothing of your sessions was touched.",
    ),
    "practice": lambda: practising(begun=False),
    "practice-open": lambda: replace(practising(), closed=False),
    "practice-asked": practising,
    "practice-answered": lambda: practising(answered=True),
    "recut": lambda: correcting(Stage.RECUT),
    "no-mark": lambda: needing_witness(keyed_seats(120.0, 80.0), Answers()),
    "no-witness": lambda: needing_witness(equal_seats(120.0, 80.0)),
}
