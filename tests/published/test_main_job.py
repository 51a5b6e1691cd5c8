"""The main job's own functions against published figures: reliability, degrees of freedom, risks, a net by `adjust`.

Sources beside each; figures marked "from memory" were recalled, and reproduce one another to all their digits.

- W. Baarda, A testing procedure for use in geodetic networks (1968): noncentrality 4.1321 (0.1 %, 80 %), definition of
  internal and external reliability.
- W. Benning, Statistik in Geodäsie, Geoinformation und Bauwesen (2011), example 8-2.
- JCGM 100:2008 (GUM), example H.1 and table G.2.
- JCGM 106:2012, 9.5: global consumer's and producer's risk; the integrals are done by scipy.
- NIST Statistical Reference Datasets, nonlinear regression, sets MGH09 and MGH10, level of difficulty: higher.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate, stats

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology import measuring_model
from core.metrology.accuracy import CouponForm, EdgeMethod, InstrumentAccuracy, MeasuringSetup
from core.metrology.adjustment import Adjustment, adjust, nominal_gain
from core.metrology.distributions import student_quantile
from core.metrology.least_squares import gauss_newton
from core.metrology.readings import Method, Reading
from core.metrology.verdict import Verdict, judge
from tests.published.propagated import propagated

Array = NDArray[np.float64]


@pytest.fixture
def diagonals_without_loss(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Points of a net lose nothing to fire: the corner loss is held at nought, as the zeros are by the setup."""
    monkeypatch.setattr(measuring_model, "CORNER_LOSS_PRIOR_SD_MM", 1e-9)
    for remembered in (measuring_model.trust, nominal_gain):
        remembered.cache_clear()
    yield
    for remembered in (measuring_model.trust, nominal_gain):
        remembered.cache_clear()


# Benning, example 8-2: points 1 (0, 1000) and 2 (1000, 1000) are fixed, 3 and 4 are found from five distances,
# sd 0.010. As a coupon: 3 is NL, 4 NR, 2 FR, 1 FL. The far edge is no observation there:
# here it is read with next to no scatter.
_NET = {
    Feature.NEAR: 1000.00,
    Feature.RIGHT: 999.98,
    Feature.LEFT: 1000.02,
    Feature.NL_FR: 1414.24,
    Feature.NR_FL: 1414.20,
}


def square_net(**moved: float) -> Adjustment:
    """The net by the house's `adjust`; `moved` adds to observations by their feature's name."""
    perfect = InstrumentAccuracy(resolution=0.0, repeatability=0.010, linearity=0.0, zero_sd=1e-9)
    setup = MeasuringSetup(
        caliper=perfect,
        form=CouponForm(edge_mm=0.0, diagonal_mm=0.0, corner_deg=0.0),
        edge_method=EdgeMethod.TIPS,
        typed_repeatability_mm=1e-6,
    )
    readings = [Reading(feature=feature, value=value + moved.get(feature.name, 0.0)) for feature, value in _NET.items()]
    readings.append(Reading(feature=Feature.FAR, value=1000.0, method=Method.TYPED))
    return adjust(Coupon(width_mm=1000.0, height_mm=1000.0), readings, setup)


def test_benning_8_2_by_the_adjustment_itself(diagonals_without_loss: None) -> None:
    fit = square_net()
    assert fit.converged
    assert fit.nu == pytest.approx(1.0, abs=1e-3)
    assert fit.chi_square == pytest.approx(0.473676, abs=2e-5)
    # Published coordinates: 3 (-0.00958, -0.02260), 4 (999.99302, 0.01740).
    three, four = complex(-0.00958, -0.02260), complex(999.99302, 0.01740)
    one, two = 1000j, 1000.0 + 1000j
    expected = {
        Feature.NEAR: abs(four - three),
        Feature.RIGHT: abs(two - four),
        Feature.LEFT: abs(one - three),
        Feature.NL_FR: abs(two - three),
        Feature.NR_FL: abs(one - four),
    }
    adjusted = {reading.feature: reading.value + reading.residual for reading in fit.readings}
    for feature, distance in expected.items():
        assert adjusted[feature] == pytest.approx(distance, abs=1.5e-5)


def test_the_smallest_detectable_error_is_baardas(diagonals_without_loss: None) -> None:
    """Internal reliability: 4.1321 sd / sqrt(r) at one redundancy, which the five observations share."""
    fit = square_net()
    observed = [reading for reading in fit.readings if reading.feature is not Feature.FAR]
    assert sum(reading.redundancy for reading in observed) == pytest.approx(1.0, abs=1e-3)
    for reading in observed:
        assert reading.smallest_detectable == pytest.approx(4.1321 * 0.010 / math.sqrt(reading.redundancy), rel=2e-3)


@pytest.mark.parametrize("feature", list(_NET))
def test_external_reliability_is_what_an_error_that_size_does_to_the_result(
    diagonals_without_loss: None, feature: Feature
) -> None:
    """Baarda's definition: the effect of the smallest detectable error on what is wanted, here by adjusting anew."""
    fit = square_net()
    place = next(k for k, reading in enumerate(fit.readings) if reading.feature is feature)
    error = fit.readings[place].smallest_detectable
    assert error is not None
    anew = square_net(**{feature.name: error})
    assert anew.parameters - fit.parameters == pytest.approx(fit.gain[:, place] * error, abs=2e-8)
    # An error of that size is found with 80 % power: it moves the sum of squares by the noncentrality.
    w = fit.readings[place].standardised_residual
    assert anew.chi_square == pytest.approx((w - math.copysign(4.1321, 1.0)) ** 2, rel=5e-3)


def test_gum_h_1_effective_degrees_of_freedom_and_u99() -> None:
    """JCGM 100:2008, H.1.6 and H.1.7: l = 50 000 838 nm, u 31.66 nm (32), nu_eff 16.7, t99(16) 2.92, U99 93 nm."""
    of_d = propagated(
        np.diag([5.8**2, 3.9**2, 6.7**2]), 215.0, np.ones(3), np.array([5.8, 3.9, 6.7]) ** 2, np.array([24.0, 5.0, 8.0])
    )
    assert of_d.u == pytest.approx(9.7, abs=0.05)
    assert of_d.nu == pytest.approx(25.6, abs=0.2)  # from u rounded to 9.7 nm, as published
    length, alpha = 50000623.0, 11.5e-6
    parts = np.array([25.0, of_d.u, length * 0.1 * 0.58e-6, length * alpha * 0.029])
    nus = np.array([18.0, of_d.nu, 50.0, 2.0])
    of_l = propagated(np.diag(parts**2), length + 215.0, np.ones(4), parts**2, nus)
    assert of_l.value == 50000838.0
    assert of_l.u == pytest.approx(31.66, abs=0.1)
    assert math.floor(of_l.nu) == 16
    assert of_l.nu == pytest.approx(16.75, abs=0.15)
    t99 = student_quantile(0.995, math.floor(of_l.nu))
    assert t99 == pytest.approx(2.92, abs=0.005)
    assert 32.0 * t99 == pytest.approx(93.0, abs=0.6)


# JCGM 100:2008, table G.2; the columns 68.27, 95.45, 99 and 99.73 % from memory.
_G_2 = {
    1: (1.84, 6.31, 12.71, 13.97, 63.66, 235.80),
    2: (1.32, 2.92, 4.30, 4.53, 9.92, 19.21),
    3: (1.20, 2.35, 3.18, 3.31, 5.84, 9.22),
    4: (1.14, 2.13, 2.78, 2.87, 4.60, 6.62),
    5: (1.11, 2.02, 2.57, 2.65, 4.03, 5.51),
    10: (1.05, 1.81, 2.23, 2.28, 3.17, 3.96),
    20: (1.03, 1.72, 2.09, 2.13, 2.85, 3.42),
    math.inf: (1.0, 1.645, 1.960, 2.0, 2.576, 3.0),
}


@pytest.mark.parametrize("nu", _G_2)
def test_gum_table_g_2(nu: float) -> None:
    one, two, three = (math.erf(k / math.sqrt(2.0)) for k in (1, 2, 3))  # 68.27, 95.45 and 99.73 % in full
    for fraction, t in zip((one, 0.90, 0.95, two, 0.99, three), _G_2[nu], strict=True):
        assert student_quantile((1.0 + fraction) / 2.0, nu) == pytest.approx(t, abs=0.0051)


# NIST StRD MGH09 (Kowalik and Osborne) and MGH10 (Meyer); data and certified values from memory.
_X_09 = np.array([4.0, 2.0, 1.0, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625])
_Y_09 = np.array([0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246])
_X_10 = np.arange(50.0, 126.0, 5.0)
_Y_10 = np.array(
    [34780, 28610, 23650, 19630, 16370, 13720, 11540, 9744, 8261, 7030, 6005, 5147, 4427, 3820, 3307, 2872], dtype=float
)


def mgh09(b: Array) -> tuple[Array, Array]:
    above, below = _X_09**2 + _X_09 * b[1], _X_09**2 + _X_09 * b[2] + b[3]
    value = b[0] * above / below
    return value, np.column_stack([above / below, b[0] * _X_09 / below, -value * _X_09 / below, -value / below])


def mgh10(b: Array) -> tuple[Array, Array]:
    value = b[0] * np.exp(b[1] / (_X_10 + b[2]))
    return value, np.column_stack([value / b[0], value / (_X_10 + b[2]), -value * b[1] / (_X_10 + b[2]) ** 2])


@pytest.mark.parametrize(
    ("model", "y", "start", "certified", "errors", "squares"),
    [
        (
            mgh09,
            _Y_09,
            (0.25, 0.39, 0.415, 0.39),
            (1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01),
            (1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02),
            3.0750560385e-04,
        ),
        (
            mgh10,
            _Y_10,
            (0.02, 4000.0, 250.0),
            (5.6096364710e-03, 6.1813463463e03, 3.4522363462e02),
            (1.5687892471e-04, 2.3309021107e01, 7.8486103508e-01),
            8.7945855171e01,
        ),
    ],
    ids=["MGH09", "MGH10"],
)
def test_nist_nonlinear_sets_of_higher_difficulty(
    model: Callable[[Array], tuple[Array, Array]],
    y: Array,
    start: Sequence[float],
    certified: Sequence[float],
    errors: Sequence[float],
    squares: float,
) -> None:
    """In units of the start, as the house solves in units of the prior: six certified digits and more."""
    unit = np.array(start)

    def scaled(z: Array) -> tuple[Array, Array]:
        predicted, jacobian = model(z * unit)
        return y - predicted, jacobian * unit

    z = np.ones(len(unit))
    for _ in range(200):  # the solver's own cap is meant for coupons: taken up again where it stopped
        solution = gauss_newton(scaled, z, prior_mean=z, prior_weights=np.zeros(len(unit)))
        z = solution.parameters
        if solution.converged:
            break
    assert solution.converged
    assert z * unit == pytest.approx(certified, rel=1e-6)
    assert solution.objective == pytest.approx(squares, rel=1e-8)
    scatter = math.sqrt(solution.objective / (len(y) - len(unit)))
    assert np.sqrt(np.diag(solution.covariance)) * unit * scatter == pytest.approx(errors, rel=1e-5)


@pytest.mark.parametrize(("process", "u"), [(0.25, 0.05), (0.4, 0.05), (0.4, 0.15)])
def test_consumers_and_producers_risk_of_the_guarded_verdict(process: float, u: float) -> None:
    """JCGM 106:2012, 9.5: chances that a part is bad and accepted, or good and refused, for a process N(0, process).

    The house's verdict on a fine grid of readings against the standard's double integral between acceptance limits
    guarded by 1.645 u (8.3.2; one limit in play at a time), done by scipy. And no rule accepts more than 5 % of the
    parts at the limit.
    """
    limit = 0.4
    accepted = limit - stats.norm.ppf(0.95) * u

    def joint(reading: float, true: float) -> float:
        return float(stats.norm.pdf(true, 0.0, process) * stats.norm.pdf(reading, true, u))

    consumers = 2.0 * integrate.dblquad(joint, limit, limit + 8.0 * u, -accepted, accepted, epsabs=1e-9)[0]
    good_accepted = integrate.dblquad(joint, -limit, limit, -accepted, accepted, epsabs=1e-9)[0]
    producers = float(stats.norm.cdf(limit / process) - stats.norm.cdf(-limit / process)) - good_accepted

    step = 0.0005
    readings = np.arange(-2.5 + step / 2.0, 2.5, step)
    go = np.array([judge(float(x), u, -limit, limit) is Verdict.GO for x in readings])
    total = math.hypot(process, u)
    weight = stats.norm.pdf(readings, 0.0, total) * step
    share = process**2 / total**2
    spread = process * u / total  # of the true value, given the reading
    inside = stats.norm.cdf((limit - share * readings) / spread) - stats.norm.cdf((-limit - share * readings) / spread)
    assert float((weight * (1.0 - inside))[go].sum()) == pytest.approx(consumers, abs=2e-4)
    assert float((weight * inside)[~go].sum()) == pytest.approx(producers, abs=2e-3)
