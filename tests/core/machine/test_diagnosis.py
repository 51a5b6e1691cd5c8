"""A table of simulated machines, each fault alone and in pairs, and the diagnosis each must get."""

from __future__ import annotations

import math

import numpy as np
import pytest
from msgspec import Struct, field

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.geometry.shape import skew_deg
from core.machine.coupon_choice import largest_coupon, planned_skew_u_deg, span_answer, wanted_over_span_mm
from core.machine.diagnosis import Diagnosis, diagnose, reading_that_would_tell
from core.machine.directions import Axis
from core.machine.faults import Fault, Standing
from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.metrology.accuracy import DEFAULT_CALIPER, MeasuringSetup
from core.metrology.adjustment import Estimate, adjust
from core.metrology.evaluation import evaluate
from core.metrology.readings import Reading
from core.metrology.tolerances import limits_for_class

SETUP = MeasuringSetup()
LONG = Coupon(width_mm=120.0, height_mm=80.0)
SQUARE = Coupon(width_mm=90.0, height_mm=90.0)
TALL = Coupon(width_mm=70.0, height_mm=130.0)
WINDOWED = Coupon(width_mm=120.0, height_mm=80.0, window_width_mm=60.0, window_height_mm=40.0)
F = Fault


class Case(Struct, frozen=True):
    name: str
    faults: set[Fault]
    coupon: Coupon = LONG
    skew_deg: float = 0.0
    machine: dict[str, float] = field(default_factory=dict)
    features: tuple[Feature, ...] = TEN_FEATURES
    open: frozenset[Fault] = frozenset()
    says: str = ""


SIX = EDGES + DIAGONALS
CASES = [
    Case("square", set()),
    Case("square, square coupon", set(), coupon=SQUARE, says="only the mark tells"),
    Case("racked", {F.SKEW}, skew_deg=0.4, says="the gantry is racked"),
    Case("racked the other way", {F.SKEW}, skew_deg=-0.4, says="diagonal NR-FL is the longer"),
    Case("racked, tall coupon", {F.SKEW}, coupon=TALL, skew_deg=0.3),
    Case("kerf", {F.KERF}, machine={"kerf_mm": 0.3}, says="kerf"),
    Case("kerf, square coupon", {F.KERF}, coupon=SQUARE, machine={"kerf_mm": 0.3}, says="cannot be told apart"),
    Case("too much kerf allowed for", {F.KERF}, machine={"kerf_mm": -0.2}, says="more kerf was allowed for"),
    Case("scale", {F.SCALE}, machine={"scale_x": 1.004, "scale_y": 1.004}, says="equal per cent"),
    Case("scale, tall coupon", {F.SCALE}, coupon=TALL, machine={"scale_x": 0.995, "scale_y": 0.995}),
    Case("X scale", {F.UNEQUAL_SCALE}, machine={"scale_x": 1.004}, says="steps per mm of one axis"),
    Case("Y scale, square coupon", {F.UNEQUAL_SCALE}, coupon=SQUARE, machine={"scale_y": 0.996}),
    Case("Y taper", {F.Y_TAPER}, machine={"taper_y": 0.002}, says="the gantry turns as it travels"),
    Case("Y taper the other way", {F.Y_TAPER}, machine={"taper_y": -0.002}, says="the left edge is longer"),
    Case("X taper", {F.X_TAPER}, machine={"taper_x": 0.0015}, says="Cut a second coupon before touching anything"),
    Case("racked and kerf", {F.SKEW, F.KERF}, skew_deg=0.4, machine={"kerf_mm": 0.3}),
    Case("racked and scale", {F.SKEW, F.SCALE}, skew_deg=-0.4, machine={"scale_x": 1.004, "scale_y": 1.004}),
    Case("racked and X scale", {F.SKEW, F.UNEQUAL_SCALE}, skew_deg=0.4, machine={"scale_x": 0.996}),
    Case("racked and Y taper", {F.SKEW, F.Y_TAPER}, skew_deg=0.4, machine={"taper_y": 0.002}),
    Case("racked and X taper", {F.SKEW, F.X_TAPER}, skew_deg=-0.4, machine={"taper_x": -0.0015}),
    Case("kerf and Y taper", {F.KERF, F.Y_TAPER}, machine={"kerf_mm": 0.3, "taper_y": 0.002}),
    Case("kerf and X taper", {F.KERF, F.X_TAPER}, machine={"kerf_mm": 0.3, "taper_x": 0.0015}),
    Case("both tapers", {F.X_TAPER, F.Y_TAPER}, machine={"taper_x": 0.0015, "taper_y": 0.002}),
    Case("X scale and Y taper", {F.UNEQUAL_SCALE, F.Y_TAPER}, machine={"scale_x": 1.004, "taper_y": 0.002}),
    Case(
        "kerf and scale, with a window",
        {F.KERF, F.SCALE},
        coupon=WINDOWED,
        machine={"kerf_mm": 0.3, "scale_x": 1.004, "scale_y": 1.004},
        says="Told apart by the window",
    ),
    Case("kerf alone, with a window", {F.KERF}, coupon=WINDOWED, machine={"kerf_mm": 0.3}),
    Case(
        "racked, only two diagonals", {F.SKEW}, skew_deg=0.6, features=DIAGONALS, open=frozenset({F.X_TAPER, F.Y_TAPER})
    ),
    Case("racked, lengths only", {F.SKEW}, skew_deg=0.4, features=SIX, says="would pass unseen: read the corners"),
    Case("kerf, edges only", {F.KERF}, machine={"kerf_mm": 0.3}, features=EDGES, open=frozenset({F.SKEW})),
    Case("racked, corners only", {F.SKEW}, skew_deg=0.6, features=CORNERS, says="Of the sizes nothing can be said"),
    Case("one diagonal only", set(), skew_deg=0.4, features=DIAGONALS[:1], open=frozenset({F.SKEW})),
]


def window_readings(machine, coupon: Coupon) -> list[Reading]:
    """Inner sizes: the cut takes from the inside, so kerf makes the window larger."""
    if coupon.window_width_mm is None or coupon.window_height_mm is None:
        return []
    cos = math.cos(math.radians(machine.skew_deg))
    return [
        Reading(feature=Feature.WINDOW_WIDTH, value=(coupon.window_width_mm * machine.scale_x + machine.kerf_mm) * cos),
        Reading(
            feature=Feature.WINDOW_HEIGHT, value=(coupon.window_height_mm * machine.scale_y + machine.kerf_mm) * cos
        ),
    ]


def diagnosis_of(machine_of, read, case: Case, profile: MachineProfile) -> Diagnosis:
    machine = machine_of(profile, **case.machine)
    machine.rack(case.skew_deg)
    readings = read(machine.cut(case.coupon), case.features, SETUP) + window_readings(machine, case.coupon)
    return diagnose(evaluate(case.coupon, readings, limits_for_class(case.coupon, "mK"), SETUP), profile, SETUP)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_each_machine_gets_its_diagnosis(machine_of, read, case: Case) -> None:
    profile = MachineProfile(name="m", span_mm=640.0)
    diagnosis = diagnosis_of(machine_of, read, case, profile)
    assert set(diagnosis.proven) == case.faults
    still_open = {finding.fault for finding in diagnosis.findings if finding.standing is Standing.OPEN}
    assert case.open <= still_open
    text = " ".join(map(str, diagnosis.sentences))
    assert case.says in text
    assert "takes a second coupon" in text
    for finding in diagnosis.findings:
        assert (finding.sds > 1.95) is (finding.standing is Standing.PROVEN)
        assert bool(finding.causes) is (finding.standing is Standing.PROVEN)


def test_the_table_is_long_enough() -> None:
    assert len(CASES) >= 20
    assert len({case.name for case in CASES}) == len(CASES)


def test_on_a_gantry_along_y_the_tapers_change_places(machine_of, read) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, gantry_axis=Axis.Y)
    x_taper = diagnosis_of(machine_of, read, Case("x", set(), machine={"taper_x": 0.0015}), profile)
    y_taper = diagnosis_of(machine_of, read, Case("y", set(), machine={"taper_y": 0.002}), profile)
    assert any("the gantry turns as it travels" in str(sentence) for sentence in x_taper.sentences)
    assert any("seldom geometry" in str(sentence) for sentence in y_taper.sentences)


def test_rails_are_named_where_rails_are_set(machine_of, read) -> None:
    profile = MachineProfile(name="m", span_mm=640.0, held=HowHeld.RAILS)
    diagnosis = diagnosis_of(machine_of, read, Case("r", set(), skew_deg=0.4), profile)
    assert any("rails are not square to the gantry" in str(sentence) for sentence in diagnosis.sentences)


def test_contradictory_readings_support_nothing(machine_of, read) -> None:
    profile = MachineProfile(name="m", span_mm=640.0)
    readings = read(machine_of(profile).cut(LONG), TEN_FEATURES, SETUP)
    readings[8] = Reading(feature=readings[8].feature, value=readings[8].value + 5.0, unit=readings[8].unit)
    diagnosis = diagnose(evaluate(LONG, readings, limits_for_class(LONG, "mK"), SETUP), profile, SETUP)
    assert diagnosis.findings == ()
    assert diagnosis.proven == ()
    assert "contradict each other" in str(diagnosis.sentences[-1])


@pytest.mark.parametrize("features", [DIAGONALS[:1], EDGES, CORNERS[:2], (Feature.NEAR,), SIX])
def test_the_reading_asked_for_is_the_one_that_tells_most(machine_of, read, features) -> None:
    """Against the adjustment itself, run once with each reading added."""
    corners = machine_of(MachineProfile(name="m", span_mm=640.0)).cut(LONG)
    adjustment = adjust(LONG, read(corners, features, SETUP), SETUP)
    gradient = skew_deg(np.asarray(adjustment.parameters))[1]
    would = reading_that_would_tell(adjustment, SETUP, gradient)
    u = {
        feature: adjust(LONG, read(corners, (*features, feature), SETUP), SETUP).skew_deg.u
        for feature in TEN_FEATURES
        if feature not in features
    }
    assert would is not None
    assert u[would] == pytest.approx(min(u.values()), rel=1e-3)


def test_a_coupon_that_settles_its_span_and_one_that_cannot() -> None:
    small_span = MachineProfile(name="m", span_mm=640.0)
    skew = Estimate(value=0.2, u=planned_skew_u_deg(LONG, SETUP))
    answer = span_answer(skew, small_span, SETUP)
    assert answer.settles
    assert answer.wanted_mm == 0.8  # ISO 2768-2 class K, 300 to 1000 mm
    assert str(answer.text).endswith("it is enough.")
    wide = MachineProfile(name="m", span_mm=1800.0, bed_width_mm=1700.0, bed_height_mm=1200.0)
    cannot = span_answer(skew, wide, SETUP, caliper_range_mm=150.0)
    assert not cannot.settles
    assert "cannot settle this span" in str(cannot.text)
    assert "marks 1530 x 1080 mm apart" in str(cannot.text)
    longer = span_answer(skew, wide, SETUP, caliper_range_mm=300.0)
    assert longer.better is not None
    assert math.hypot(longer.better.width_mm, longer.better.height_mm) <= 300.0
    assert "measured the same way, would" in str(longer.text)
    own = MachineProfile(name="m", span_mm=640.0, wanted_mm=0.1)
    assert wanted_over_span_mm(own) == 0.1
    assert not span_answer(skew, own, SETUP).settles
    assert "Make fine marks over the whole bed" in str(span_answer(skew, own, SETUP).text)


def test_the_largest_coupon_is_the_best_the_caliper_spans() -> None:
    best = largest_coupon(150.0)
    assert (best.width_mm, best.height_mm) == (115.0, 90.0)
    for width_mm in range(60, 145, 5):
        for height_mm in range(40, int(width_mm / 1.2) + 1, 5):
            if math.hypot(width_mm, height_mm) <= 148.0:
                other = Coupon(width_mm=float(width_mm), height_mm=float(height_mm))
                assert planned_skew_u_deg(best, SETUP) <= planned_skew_u_deg(other, SETUP) * 1.02
    assert DEFAULT_CALIPER.resolution == 0.01
