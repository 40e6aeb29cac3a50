"""First-order propagation against the examples of JCGM 100:2008, annex H (values from memory)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.uncertainty import (
    correlation_of_means,
    coverage_factor,
    mean_and_u,
    propagate,
    rectangular,
    triangular,
    welch_satterthwaite,
)


def test_gum_h1_end_gauge():
    """JCGM 100:2008 H.1 (from memory): u_c = 32 nm, 16 degrees of freedom, U_99 = 93 nm."""

    def length(l_s, d, d_alpha, theta, alpha_s, d_theta):
        return l_s + d - l_s * (d_alpha * theta + alpha_s * d_theta)

    values = {"l_s": 50_000_623.0, "d": 215.0, "d_alpha": 0.0, "theta": -0.1, "alpha_s": 11.5e-6, "d_theta": 0.0}
    u = {"l_s": 25.0, "d": 9.7, "d_alpha": 0.58e-6, "theta": 0.41, "alpha_s": 1.2e-6, "d_theta": 0.029}
    found = propagate(length, values, u, dof={"l_s": 18, "d": 25.6, "d_alpha": 50, "d_theta": 2})
    assert found.value == 50_000_838.0
    assert found.u == pytest.approx(32.0, abs=0.5)
    assert math.floor(found.dof) == 16
    assert coverage_factor(0.99, found.dof) == pytest.approx(2.92, abs=0.005)
    assert found.expanded(0.99) == pytest.approx(93.0, abs=0.5)
    assert found.sensitivities["theta"] == pytest.approx(0.0, abs=1e-6)
    assert found.contributions["d_theta"] == pytest.approx(16.6, abs=0.1)  # product of the printed inputs: 16.675
    assert found.dominant() == "l_s"


V = [5.007, 4.994, 5.005, 4.990, 4.999]
I = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
PHI = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


def test_gum_h2_correlated_inputs():
    """JCGM 100:2008 H.2 (from memory): R 127.732 +- 0.071, X 219.847 +- 0.295, Z 254.260 +- 0.236 ohm."""
    data = {"V": V, "I": I, "phi": PHI}
    values = {name: mean_and_u(column)[0] for name, column in data.items()}
    u = {name: mean_and_u(column)[1] for name, column in data.items()}
    pairs = [("V", "I"), ("V", "phi"), ("I", "phi")]
    r = {pair: correlation_of_means(data[pair[0]], data[pair[1]]) for pair in pairs}
    assert [r[pair] for pair in pairs] == pytest.approx([-0.36, 0.86, -0.65], abs=0.005)
    for function, value, uncertainty in (
        (lambda V, I, phi: V / I * math.cos(phi), 127.732, 0.071),
        (lambda V, I, phi: V / I * math.sin(phi), 219.847, 0.295),
        (lambda V, I, phi: V / I, 254.260, 0.236),
    ):
        found = propagate(function, values, u, correlation=r)
        assert found.value == pytest.approx(value, abs=5e-4)
        assert found.u == pytest.approx(uncertainty, abs=7e-4)


def test_difference_of_two_beams():
    """Hand: sqrt((0.08*270)^2 + (0.08*185)^2 + (0.008*270)^2 + (0.008*185)^2) = 26.31 kN."""
    found = propagate(
        lambda a, b, s, t: a + s - b - t,
        {"a": 270.0, "b": 185.0, "s": 0.0, "t": 0.0},
        {"a": 2.16, "b": 1.48, "s": 21.6, "t": 14.8},
    )
    assert found.value == 85.0
    assert found.u == pytest.approx(26.3145, abs=1e-3)


def test_fully_correlated_difference_cancels():
    found = propagate(lambda a, b: a - b, {"a": 5.0, "b": 3.0}, {"a": 0.2, "b": 0.2}, correlation={("a", "b"): 1.0})
    assert found.u == pytest.approx(0.0, abs=1e-9)


def test_given_sensitivities_are_used():
    found = propagate(lambda a: a * a, {"a": 3.0}, {"a": 0.1}, sensitivities={"a": 6.0})
    assert found.u == pytest.approx(0.6)


def test_welch_satterthwaite_of_equal_parts():
    """Two equal contributions with nu each: effective 2 nu (both samples pooled)."""
    assert welch_satterthwaite(math.sqrt(2.0), [1.0, 1.0], [5, 5]) == pytest.approx(10.0)
    assert welch_satterthwaite(1.0, [1.0], [math.inf]) == math.inf


def test_factors():
    assert rectangular(0.3) == pytest.approx(0.3 / 3**0.5)
    assert triangular(0.3) == pytest.approx(0.3 / 6**0.5)
    # Student's table: t(0.975; 10) = 2.228, t(0.975; 1) = 12.706
    assert coverage_factor(0.95, 10.9) == pytest.approx(2.228, abs=5e-4)
    assert coverage_factor(0.95, 1) == pytest.approx(12.706, abs=5e-4)
    assert coverage_factor(0.95) == pytest.approx(1.960, abs=5e-4)


def test_first_order_against_simulation():
    rng = np.random.default_rng(5)
    cov = np.array([[0.04, 0.6 * 0.2 * 0.3], [0.6 * 0.2 * 0.3, 0.09]])
    a, b = rng.multivariate_normal([40.0, 7.0], cov, size=200_000).T
    found = propagate(lambda a, b: a / b, {"a": 40.0, "b": 7.0}, {"a": 0.2, "b": 0.3}, correlation={("a", "b"): 0.6})
    assert found.u == pytest.approx(float((a / b).std()), rel=0.02)


@pytest.mark.parametrize(
    "call",
    [
        lambda: propagate(lambda a: a, {"a": 1.0}, {"b": 1.0}),
        lambda: propagate(lambda a: a, {"a": 1.0}, {"a": -1.0}),
        lambda: propagate(lambda a, b: a, {"a": 1.0, "b": 1.0}, {"a": 1.0}, correlation={("a", "b"): 1.5}),
        lambda: propagate(
            lambda a, b, c: a,
            {"a": 1.0, "b": 1.0, "c": 1.0},
            {"a": 1.0, "b": 1.0, "c": 1.0},
            correlation={("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9},
        ),
        lambda: coverage_factor(1.0),
        lambda: coverage_factor(0.95, 0.4),
        lambda: mean_and_u([1.0]),
    ],
)
def test_impossible_inputs_are_refused(call):
    with pytest.raises(ModelInputError):
        call()


def test_budget_of_a_shear_force():
    """P = 300 kN on a 3000 mm span at 1170 mm, self-weight part 2356 N (worked by hand): cell 0.5 %, drift 150 N,
    both rectangular, noise 100 N: u(P) = 876.1 N; +-3 mm on both lengths, 5 % of the self-weight: u(V) = 578 N."""
    u_load = math.sqrt(rectangular(0.005 * 300e3) ** 2 + rectangular(150.0) ** 2 + 100.0**2)
    assert u_load == pytest.approx(876.07, abs=0.01)
    found = propagate(
        lambda P, a, L, own: P * (L - a) / L + own,
        {"P": 300e3, "a": 1170.0, "L": 3000.0, "own": 2356.125},
        {"P": u_load, "a": rectangular(3.0), "L": rectangular(3.0), "own": 0.05 * 2356.125},
    )
    assert found.value == pytest.approx(185_356.125)
    assert found.sensitivities["a"] == pytest.approx(-100.0)
    assert found.u == pytest.approx(577.95, abs=0.01)
    assert found.dominant() == "P"
