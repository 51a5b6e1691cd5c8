"""Gauge study: what it finds in known instruments, and what it gives back to the weights."""

import numpy as np
import pytest

from core.errors import BadInputError
from core.metrology.accuracy import DEFAULT_CALIPER
from core.metrology.gauge_study import analysis_of_variance, average_and_range


def study_readings(seed, *, repeatability, operators=0.0, parts=0.0, interaction=0.0, shape=(3, 10, 3)):
    random = np.random.default_rng(seed)
    n_operators, n_parts, _ = shape
    return (
        random.normal(0.0, repeatability, shape)
        + random.normal(0.0, operators, (n_operators, 1, 1))
        + random.normal(0.0, parts, (1, n_parts, 1))
        + random.normal(0.0, interaction, (n_operators, n_parts, 1))
        + 120.0
    )


@pytest.mark.parametrize("method", [average_and_range, analysis_of_variance])
def test_on_average_the_study_finds_what_was_put_in(method):
    found = [method(study_readings(seed, repeatability=0.02, operators=0.03, parts=0.1)) for seed in range(300)]
    assert np.mean([study.repeatability**2 for study in found]) == pytest.approx(0.02**2, rel=0.05)
    assert np.mean([study.reproducibility**2 for study in found]) == pytest.approx(0.03**2, rel=0.2)
    assert np.mean([study.parts**2 for study in found]) == pytest.approx(0.1**2, rel=0.1)


def test_a_significant_interaction_is_not_hidden_in_the_repeatability():
    study = analysis_of_variance(study_readings(7, repeatability=0.02, interaction=0.2, shape=(3, 10, 3)))
    assert study.repeatability == pytest.approx(0.02, rel=0.3)
    assert study.reproducibility > 0.1


def test_one_operator_alone_shows_no_reproducibility():
    readings = study_readings(3, repeatability=0.02, parts=0.1, shape=(1, 5, 4))
    for method in (average_and_range, analysis_of_variance):
        study = method(readings)
        assert study.reproducibility == 0.0
        assert study.repeatability == pytest.approx(0.02, rel=0.4)


def test_readings_without_any_spread():
    for method in (average_and_range, analysis_of_variance):
        study = method(np.full((2, 2, 2), 5.0))
        assert (study.gauge, study.parts, study.total, study.distinct_categories) == (0.0, 0.0, 0.0, None)


def test_the_share_of_a_tolerance_is_six_sd_over_its_width():
    study = analysis_of_variance(study_readings(5, repeatability=0.02, operators=0.02, parts=0.1))
    assert study.share_of_tolerance(0.3) == pytest.approx(6 * study.gauge / 0.6)
    assert "too coarse" in str(study.text(0.05, "mm"))
    assert "good for it" in str(study.text(5.0, "mm"))


def test_the_repeatability_found_goes_into_the_weights_without_the_resolution_twice():
    study = analysis_of_variance(study_readings(5, repeatability=0.05, parts=0.1))
    accuracy = study.applied_to(DEFAULT_CALIPER)
    assert accuracy.repeatability**2 + accuracy.resolution**2 / 12 == pytest.approx(study.repeatability**2)
    assert accuracy.mean_variance(1, 0.0) > DEFAULT_CALIPER.mean_variance(1, 0.0)


@pytest.mark.parametrize(
    "readings",
    [
        [],
        [[[1.0, 2.0]]],
        [[[1.0], [2.0]]],
        [[[1.0, 2.0], [1.0]]],
        [[[1.0, 2.0], [1.0, float("nan")]]],
    ],
)
def test_an_incomplete_study_is_refused(readings):
    with pytest.raises(BadInputError, match="gauge study"):
        average_and_range(readings)
