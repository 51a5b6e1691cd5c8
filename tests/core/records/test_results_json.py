"""The JSON of a result: valid by its schema in every state, and the same numbers as the evaluation."""

import json

import pytest
from jsonschema import Draft202012Validator

from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES, Feature
from core.machine.gantry_correction import Correction, Refusal, gantry_correction, profile_of_span
from core.metrology.evaluation import evaluate
from core.metrology.tolerances import limits_for_class, own_limits
from core.metrology.verdict import CharacteristicGroup
from core.metrology.witness import Answers, MarkSeen
from core.records.results_json import result, result_text
from tests.core.metrology.known_coupons import HOUSE, SETUP, exact_readings, reading, shape
from tests.core.records.schemas import schema

MARK_AT_NL = Answers(mark=MarkSeen.NL)

MK = limits_for_class(HOUSE, "mK")
SCHEMA = schema("evaluation")


def evaluated(*, skew_deg=0.6, features=(*TEN_FEATURES, *DIAGONALS, *EDGES), limits=MK, more=(), **options):
    return evaluate(HOUSE, [*exact_readings(shape(skew_deg=skew_deg), features), *more], limits, SETUP, **options)


def test_the_schema_itself_is_valid():
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize(
    "evaluation",
    [
        evaluated(),
        evaluated(skew_deg=0.0),
        evaluated(features=()),
        evaluated(features=TEN_FEATURES[:1]),
        evaluated(features=DIAGONALS, groups=[CharacteristicGroup.SQUARENESS]),
        evaluated(limits=limits_for_class(HOUSE, "c")),
        evaluated(limits=own_limits(diagonal_mm=0.5)),
        evaluated(features=TEN_FEATURES[1:], more=[reading(Feature.NEAR, 123.0)]),
        evaluated(features=TEN_FEATURES[1:], more=[reading(Feature.NEAR, 119.97 / 25.4)]),
        evaluated(more=[reading(Feature.NEAR, 120.01)]),
    ],
)
@pytest.mark.parametrize("span_mm", [None, 640.0])
def test_every_result_is_valid_by_the_schema(evaluation, span_mm):
    correction = None
    if span_mm is not None:
        correction = gantry_correction(evaluation, profile_of_span(span_mm), answers=MARK_AT_NL)
    Draft202012Validator(SCHEMA).validate(json.loads(result_text(evaluation, correction)))


def test_the_numbers_are_those_of_the_evaluation():
    evaluation = evaluated(more=[reading(Feature.NEAR, 120.03)])
    told = result(evaluation, None)
    assert (told["verdict"], told["size_verdict"], told["cross_checked"]) == ("no-go", "go", True)
    assert (told["schema_version"], told["verdict_of"]) == (2, "squareness")
    assert told["groups"]["size"] == {"verdict": "go", "settled": True, "asked": True}
    assert told["skew_by"]["lengths"]["value"] == pytest.approx(0.6, abs=0.02)
    assert told["skew_by"]["corners"]["value"] == pytest.approx(0.6, abs=0.05)
    assert told["hand"]["caliper"]["set"] == pytest.approx(0.0202, abs=1e-4)
    skew = evaluation.adjustment.skew_deg
    assert told["shape"]["skew_deg"] == {"value": skew.value, "U95": pytest.approx(skew.U95)}
    near = told["fit"]["readings"][0]
    assert (near["feature"], near["n"], near["value"]) == ("near", 3, pytest.approx(120.004, abs=0.01))
    by_name = {characteristic["name"]: characteristic for characteristic in told["characteristics"]}
    assert by_name["squareness"]["upper"] == 0.4
    assert by_name["corner-nl"]["verdict"] is None
    assert (told["size_finding"]["cause"], told["size_finding"]["kerf_mm"]) == ("none", None)
    assert told["correction"] is None
    assert told["no_correction"] is None


def test_a_correction_carries_its_move_its_uncertainty_and_its_direction():
    evaluation = evaluated()
    correction = gantry_correction(evaluation, profile_of_span(640.0), answers=MARK_AT_NL)
    assert isinstance(correction, Correction)
    told = result(evaluation, correction)["correction"]
    assert told["move_mm"] == pytest.approx(640.0 * 0.010472, abs=0.05)
    assert told["U95_mm"] == pytest.approx(correction.move_mm.U95)
    assert (told["end"], told["direction"]) == ("right", correction.direction.value)


def test_a_correction_that_is_not_given_says_why():
    evaluation = evaluated(features=TEN_FEATURES[:6])
    refusal = gantry_correction(evaluation, profile_of_span(640.0), answers=MARK_AT_NL)
    assert isinstance(refusal, Refusal)
    told = result(evaluation, refusal)
    assert told["correction"] is None
    assert told["no_correction"]["reason"] == "not-cross-checked"
