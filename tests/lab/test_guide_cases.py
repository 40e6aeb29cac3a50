"""Uncertainty by sources against worked cases; what each expectation rests on stands beside it.

The examples of the guide (JCGM 100:2008, annex H) are from memory: data and results fit each other to the last digit.
The laboratory cases are arithmetic by hand on stated inputs: they prove coding, not the choice of a formula.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.lab import crack
from cracktie.lab.budget import Budget, Component
from cracktie.lab.chain import Chain, Source

READINGS = np.array(
    [
        [5.007, 4.994, 5.005, 4.990, 4.999],
        [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
        [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    ]
)
"""JCGM 100:2008, table H.2: five simultaneous readings of voltage (V), current (A) and phase (rad); from memory."""


@pytest.fixture
def impedance():
    """Resistance, reactance and impedance from the means, whose correlated errors are three independent sources."""
    means = READINGS.mean(axis=1)
    root = np.linalg.cholesky(np.cov(READINGS) / READINGS.shape[1])
    chain = Chain()
    ids = [chain.source(Source(f"s{i}", f"source {i}", 1.0)) for i in range(3)]

    def inputs(x):
        errors = [sum(root[i, k] * x.get(ids[k], 0.0) for k in range(3)) for i in range(3)]
        return [m + e for m, e in zip(means, errors, strict=True)]

    def of(function):
        return lambda x: function(*inputs(x))

    chain.define("R", of(lambda V, I, phi: V / I * np.cos(phi)), ids)
    chain.define("X", of(lambda V, I, phi: V / I * np.sin(phi)), ids)
    chain.define("Z", of(lambda V, I, phi: V / I), ids)
    return chain


@pytest.mark.parametrize(
    ("name", "value", "u"), [("R", "127.732", "0.071"), ("X", "219.847", "0.295"), ("Z", "254.260", "0.236")]
)
def test_simultaneous_readings_of_the_guide(impedance, name, value, u):
    """H.2: R = 127.732 (71), X = 219.847 (295), Z = 254.260 (236) ohm (from memory), and so by draws."""
    found, budget = impedance.first_order(name)
    assert f"{found:.3f}" == value
    assert budget.u == pytest.approx(float(u), abs=7e-4)  # the guide rounds its inputs on the way
    assert impedance.drawn(name, 200_000).u == pytest.approx(budget.u, rel=0.01)


def test_results_of_one_set_of_readings_are_correlated(impedance):
    """H.2: r(R, X) = -0.588, r(R, Z) = -0.485, r(X, Z) = 0.993 (from memory): from the signs of shared sources."""
    signed = {n: {c.source: c.signed for c in impedance.first_order(n)[1].components} for n in "RXZ"}
    u = {n: impedance.first_order(n)[1].u for n in "RXZ"}
    for (a, b), r in {("R", "X"): "-0.588", ("R", "Z"): "-0.485", ("X", "Z"): "0.993"}.items():
        shared = sum(signed[a].get(s, 0.0) * signed[b].get(s, 0.0) for s in impedance.sources)
        assert f"{shared / u[a] / u[b]:.3f}" == r


def test_a_gauge_with_thermal_output():
    """4800 um/m: gauge factor 0.5 %, leads and amplifier 0.2 %, thermal +-34.5 um/m rectangular (hand: 32.6 um/m)."""
    parts = (
        Component("factor", 24.0),
        Component("leads", 9.6),
        Component("thermal", 34.5 / math.sqrt(3), "rectangular"),
    )
    assert Budget(parts).u == pytest.approx(math.sqrt(24.0**2 + 9.6**2 + 34.5**2 / 3))
    assert f"{Budget(parts).u:.1f}" == "32.6"


PROFILE = [0.0, 60.0, 120.0, 180.0, 240.0, 300.0], [0.0, 2200e-6, 4200e-6, 4800e-6, 3900e-6, 1500e-6]


def test_a_sheet_with_a_turned_crack():
    """Two faces, 0.167 mm, 230 GPa, theta = 42 deg: 81.136 kN (trapezoids by hand: 951 000 um/m mm, cot 42 = 1.11061).

    3 % of the stiffness, 15 % of the strain and 3 deg of theta (dcot/cot = dtheta/(sin cos) = 10.5 %): 18.57 %.
    """
    one = crack.sheet_force(*PROFILE, thickness=0.167, modulus=230e3, theta=42.0)
    assert f"{2 * one / 1e3:.3f}" == "81.137"
    chain = Chain()
    K = chain.source(Source("K", "stiffness", 0.03))
    eps = chain.source(Source("eps", "strain", 0.15))
    theta = chain.source(Source("theta", "angle", math.radians(3.0)))

    def force(x):
        turned = np.atleast_1d(math.radians(42.0) + x.get(theta, 0.0))
        return 2 * one * np.tan(math.radians(42.0)) / np.tan(turned) * (1 + x.get(K, 0.0)) * (1 + x.get(eps, 0.0))

    value, budget = chain.define("V_f", force, (K, eps, theta))
    exact = math.sqrt(
        0.03**2 + 0.15**2 + (math.radians(3.0) / math.sin(math.radians(42)) / math.cos(math.radians(42))) ** 2
    )
    assert budget.u / value == pytest.approx(exact, rel=2e-3)  # half the difference over +-3 deg, not the tangent
    assert f"{100 * exact:.2f}" == "18.57"


def test_two_beams_by_instruments_alone():
    """270 and 185 kN, 0.8 % each, two cells: 2.618 kN of 85 kN; one cell: 0.8 % of the difference (hand)."""

    def result(V, cell):
        return Budget((Component("cell", 0.008 * V, source=cell),))

    apart = Budget.combined([(1.0, result(270.0, "a")), (-1.0, result(185.0, "b"))])
    assert f"{apart.u:.3f}" == "2.618"
    assert Budget.combined([(1.0, result(270.0, "a")), (-1.0, result(185.0, "a"))]).u == pytest.approx(0.008 * 85.0)
