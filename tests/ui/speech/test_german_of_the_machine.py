"""German of what a person acts on: every way of holding a gantry, every front, every outcome, every slip."""

from __future__ import annotations

from itertools import product

import pytest
from msgspec.structs import replace

from core.geometry.features import CORNERS, DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.machine.before_after import before_after
from core.machine.design_correction import design_correction
from core.machine.diagnosis import diagnose
from core.machine.directions import Axis, Direction, Front, Side
from core.machine.gantry_correction import Correction, gantry_correction
from core.machine.guided_correction import answer, begin, guided_state
from core.machine.guided_wording import coarse_reset_sentence, sentences
from core.machine.holding import HowHeld, TurnedPart
from core.machine.machine_log import LogEntry, LogPayload
from core.machine.profile import MachineProfile, Process
from core.metrology.evaluation import Evaluation
from core.metrology.findings import ExplanationKind
from core.metrology.misreadings import sentence
from core.metrology.witness import Answers, MarkSeen
from core.said import Length, Part, said
from tests.ui.english_left import english_left
from tests.ui.scenes import BORDER, COUPON, LIMITS, RACKED, SETUP, SQUARE, evaluated, readings
from ui.speech.language import Language
from ui.speech.speech import Speech

MARK_AT_NL = Answers(mark=MarkSeen.NL)

LEANING_BACK = (RACKED[0], RACKED[1], -RACKED[2], 0.0, 0.0)
MORE = (RACKED[0], RACKED[1], 2.0 * RACKED[2], 0.0, 0.0)
LESS = (RACKED[0], RACKED[1], 0.6 * RACKED[2], 0.0, 0.0)
TAPERED = (0.0, 0.0, 0.0004, 0.004, -0.006)
LARGE = (0.006, 0.004, 0.0004, 0.0, 0.0)
SHAPES = (RACKED, LEANING_BACK, SQUARE, BORDER, TAPERED, LARGE)


def judged(shape: tuple[float, ...], features: tuple[Feature, ...] = (*TEN_FEATURES, *DIAGONALS, *EDGES)) -> Evaluation:
    return evaluated(COUPON, readings(shape, features), LIMITS, SETUP)


def machine(held: HowHeld, front: Front = Front.Y_AWAY, axis: Axis = Axis.X, *, told: bool = False) -> MachineProfile:
    return MachineProfile(
        name="mine",
        span_mm=640.0,
        process=Process.LASER,
        gantry_axis=axis,
        front=front,
        front_words="mine" if told else "",
        held=held,
        screw_pitch_mm=1.0,
        belt_pitch_mm=2.0,
        thinnest_shim_mm=0.05,
        steps_per_mm=80.0,
        controller_skew_set=told,
        bed_width_mm=900.0 if told else None,
        bed_height_mm=600.0 if told else None,
    )


def assert_said(*texts: Part | str) -> None:
    left = [f"{part!r} in {text!r}" for text in texts for part in english_left(text)]
    assert not left, "\n".join(left)


@pytest.mark.parametrize("held", HowHeld)
def test_every_correction_to_its_end(held: HowHeld) -> None:
    for front, axis, shape, told in product(Front, Axis, (RACKED, LEANING_BACK), (False, True)):
        profile = machine(held, front, axis, told=told)
        correction = gantry_correction(judged(shape), profile, answers=MARK_AT_NL)
        assert_said(correction.text)
        if not isinstance(correction, Correction):
            continue
        log: list[LogPayload] = [begin("s", correction)]
        gaps = iter((12.4, 12.6) * 20)
        while len(log) < 30:
            entries = tuple(LogEntry(sequence=i, time_utc=None, payload=one) for i, one in enumerate(log, start=1))
            guided = guided_state(entries, profile)
            assert guided is not None
            assert_said(*sentences(guided))
            more = answer(guided, next(gaps) if guided.gap_end else None)
            if not more:
                break
            log += more
        assert_said(coarse_reset_sentence(profile))


@pytest.mark.parametrize("features", [DIAGONALS, EDGES, DIAGONALS + EDGES, TEN_FEATURES])
def test_every_diagnosis(features: tuple[Feature, ...]) -> None:
    for shape, held in product(SHAPES, (HowHeld.SCREWS, HowHeld.RAILS, None)):
        evaluation = judged(shape, features)
        for told in (False, True):
            profile = replace(machine(held, told=told), span_mm=4000.0 if told else 640.0) if held else None
            assert_said(*diagnose(evaluation, profile, SETUP).sentences)
            assert_said(design_correction(evaluation, profile, answers=MARK_AT_NL if told else Answers()).text)


@pytest.mark.parametrize("before", SHAPES)
def test_every_outcome(before: tuple[float, ...]) -> None:
    correction = gantry_correction(judged(before), machine(HowHeld.SCREWS), answers=MARK_AT_NL)
    made = correction if isinstance(correction, Correction) else None
    for after in (*SHAPES, MORE, LESS):
        for coupons in ([judged(after)], [judged(after), judged(after)]):
            assert_said(before_after(judged(before), coupons, made).text)


@pytest.mark.parametrize("kind", ExplanationKind)
def test_every_slip(kind: ExplanationKind) -> None:
    one, more = (DIAGONALS[:1], EDGES[:1], CORNERS[:1]), (DIAGONALS, EDGES[:2], CORNERS[:2], CORNERS)
    exchanged = kind in (ExplanationKind.NEIGHBOURS_EXCHANGED, ExplanationKind.CORNERS_EXCHANGED)
    for features, expected in product(more if exchanged else one + more, (None, 0.4, -0.4)):
        assert_said(sentence(kind, features, expected))


def test_ends_and_directions_keep_their_side() -> None:
    """What hurts when it is wrong: German names the same end and the same way as English."""
    ends = {Side.LEFT: "linke", Side.RIGHT: "rechte", Side.NEAR: "vordere", Side.FAR: "hintere"}
    ways = {
        Direction.LEFT: "nach links",
        Direction.RIGHT: "nach rechts",
        Direction.NEARER: "zu sich heran",
        Direction.FARTHER: "von sich weg",
    }
    german = Speech(language=Language.GERMAN)
    for end, way in product(ends, ways):
        told = said(
            "Standing at the front, move the {end} end of the {part} by {move} {way}, or the {other} end {back} by as "
            "much.",
            end=end.word,
            part=TurnedPart.GANTRY.word,
            move=Length(3.2, u_mm=0.3),
            way=way.words,
            other=end.opposite.word,
            back=way.opposite.words,
        )
        assert german.say(told) == (
            f"Von vorn gesehen das {ends[end]} Ende des Portals um 3.20 ± 0.30 mm {ways[way]} verschieben, "
            f"oder das {ends[end.opposite]} Ende um ebenso viel {ways[way.opposite]}."
        )
