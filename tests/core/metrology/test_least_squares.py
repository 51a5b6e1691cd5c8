"""The general solver: what it does when the model is hard, hopeless or undetermined."""

import numpy as np
import pytest

from core.metrology.least_squares import gauss_newton, least_squares_step

ONE, ZERO = np.ones(1), np.zeros(1)


def test_many_problems_at_once_are_solved_as_each_alone() -> None:
    rng = np.random.default_rng(1)
    jacobian, misclosure = rng.normal(size=(4, 7, 3)), rng.normal(size=(4, 7))
    pull, prior_weights = rng.normal(size=3), np.array([0.0, 1.0, 2.0])
    steps, covariances = least_squares_step(jacobian, misclosure, pull, prior_weights)
    for k in range(4):
        step, covariance = least_squares_step(jacobian[k], misclosure[k], pull, prior_weights)
        assert steps[k] == pytest.approx(step, abs=1e-12)
        assert covariances[k] == pytest.approx(covariance, abs=1e-12)


def test_full_steps_that_overshoot_are_halved() -> None:
    # Plain Gauss-Newton on atan diverges from here; the zero is at 0.
    solution = gauss_newton(
        lambda p: (-np.arctan(p), np.diag(1.0 / (1.0 + p**2))), 2.0 * ONE, prior_mean=ZERO, prior_weights=ZERO
    )
    assert solution.converged
    assert solution.parameters == pytest.approx([0.0], abs=1e-8)


def test_a_search_beyond_reach_ends_unconverged() -> None:
    solution = gauss_newton(lambda p: (50.0 - p, np.eye(1)), ZERO, prior_mean=ZERO, prior_weights=ZERO, reach=8.0)
    assert not solution.converged
    assert abs(solution.parameters[0]) < 8.0


def test_what_nothing_determines_is_an_error() -> None:
    with pytest.raises(np.linalg.LinAlgError):
        gauss_newton(lambda p: (ONE, np.zeros((1, 1))), ONE, prior_mean=ONE, prior_weights=ZERO)


def test_where_gauss_newton_circles_newton_arrives() -> None:
    """A residual that stays large bends the objective more than the Jacobian knows: each full step shrinks by 1 %."""
    solution = gauss_newton(
        lambda p: (np.array([-p[0], -(0.99 + 0.5 * p[0] ** 2)]), np.array([[1.0], [p[0]]])),
        0.3 * ONE,
        prior_mean=ZERO,
        prior_weights=ZERO,
    )
    assert solution.converged
    assert solution.parameters == pytest.approx([0.0], abs=1e-8)
