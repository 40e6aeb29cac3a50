"""Gauge formulas: worked by hand, and back and forth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.errors import ModelInputError
from cracktie.lab.strain import (
    BRIDGES,
    bridge_strain,
    lead_factor,
    other_gauge_factor,
    principal,
    quarter_bridge,
    rosette,
    shunt_strain,
    straightened,
    strain_along,
    tensor,
    thermal_output,
    transverse_corrected,
    transverse_factor,
)

FACTOR, OHM = 2.05, 120.0


def divider(upper: float, lower: float) -> float:
    """Voltage over the lower of two resistors in series, over the supply."""
    return lower / (upper + lower)


def resistances(bridge: str, strain: float, nu: float) -> list[float]:
    """Ohm of the arms (left upper, left lower, right upper, right lower); tension in the first lowers the output."""
    change = {"0": 0.0, "+": strain, "-": -strain, "across": -nu * strain, "other face across": nu * strain}
    arms = {
        "quarter": "+ 0 0 0",
        "half dummy": "+ 0 0 0",
        "half bending": "+ - 0 0",
        "half poisson": "+ across 0 0",
        "half opposite": "+ 0 0 +",
        "full bending": "+ - - +",
        "full poisson": "+ across across +",
    }
    words = arms.get(bridge, "").split() or ["+", "-", "across", "other face across"]
    return [OHM * (1.0 + FACTOR * change[word]) for word in words]


def output(arms: list[float]) -> float:
    return divider(arms[0], arms[1]) - divider(arms[2], arms[3])


def test_quarter_bridge():
    """-8 mV on 5 V, GF 2.10 (hand): -4 * -0.0016/(2.1 * 0.9968) = 3057.4e-6; 0.5 ohm on 120 ohm adds 0.4167 %."""
    assert quarter_bridge(-0.008 / 5, 2.10) == pytest.approx(3057.404e-6, abs=2e-9)
    assert quarter_bridge(-0.008 / 5, 2.10, lead=0.5) / quarter_bridge(-0.008 / 5, 2.10) == pytest.approx(
        1.0041667, abs=1e-7
    )
    assert quarter_bridge([0.0, 1e-3], 2.0)[0] == 0.0


@given(st.floats(-0.02, 0.02))
def test_quarter_bridge_against_the_circuit(strain):
    """The divider itself: R(1 + GF e) against R gives V = 1/2 - (1 + GF e)/(2 + GF e)."""
    x = 2.05 * strain
    assert quarter_bridge(0.5 - (1 + x) / (2 + x), 2.05) == pytest.approx(strain, abs=1e-12)


@pytest.mark.parametrize("bridge", BRIDGES)
@pytest.mark.parametrize("strain", [-0.015, -1e-3, 1e-4, 0.012])
def test_every_bridge_against_its_resistors(bridge, strain):
    V = output(resistances(bridge, strain, 0.3))
    assert bridge_strain(V, FACTOR, bridge, nu=0.3) == pytest.approx(strain, rel=1e-10)


@pytest.mark.parametrize("bridge", BRIDGES)
def test_a_logger_that_takes_the_bridge_as_straight_is_straightened(bridge):
    """Such a logger shows the strain by the slope of the output near zero, here taken from a very small strain."""
    small = 1e-8
    slope = output(resistances(bridge, small, 0.3)) / small
    shown = output(resistances(bridge, 0.01, 0.3)) / slope
    assert straightened(shown, FACTOR, bridge, nu=0.3) == pytest.approx(0.01, rel=1e-5)
    curved = bridge not in ("half bending", "full bending", "full bending poisson")
    assert (abs(shown / 0.01 - 1.0) > 2e-3) == curved


def test_leads_of_a_quarter_bridge_against_its_resistors():
    """Three wires: one lead in the gauge's arm, one in the arm beside it. Two: both in the gauge's, zero taken off."""
    R, lead, x = 120.0, 0.7, FACTOR * 4e-3
    three = divider(R * (1 + x) + lead, R + lead) - 0.5
    assert bridge_strain(three, FACTOR) * lead_factor(lead, 3, R) == pytest.approx(4e-3, rel=1e-12)
    two = divider(R * (1 + x) + 2 * lead, R) - divider(R + 2 * lead, R)
    assert bridge_strain(two, FACTOR) * lead_factor(lead, 2, R) == pytest.approx(4e-3, rel=1e-4)


def test_leads_of_a_full_bridge_against_its_resistors():
    """Four wires: two leads in series with a bridge of 120 ohm; the logger divides by its own supply."""
    R, lead, e = 120.0, 0.7, 2e-3
    V = output(resistances("full bending", e, 0.3)) * R / (R + 2 * lead)
    assert bridge_strain(V, FACTOR, "full bending") * lead_factor(lead, 4, R) == pytest.approx(e, rel=1e-12)
    assert lead_factor(lead, 6, R) == 1.0


def test_shunt():
    """59 880 ohm over 120 ohm, GF 2: -1000e-6 (hand); the same by the parallel resistance."""
    assert shunt_strain(59_880.0, 2.0) == pytest.approx(-1000e-6, abs=1e-12)
    parallel = 120 * 59_880 / (120 + 59_880)
    assert (parallel - 120) / 120 / 2.0 == pytest.approx(-1000e-6, abs=1e-12)


def test_corrections():
    assert other_gauge_factor(5000e-6, 2.0, 2.12) == pytest.approx(4716.98e-6, abs=1e-8)
    assert thermal_output(-0.5e-6, 11e-6, 3.0) == pytest.approx(-34.5e-6)


def test_thermal_output_by_a_curve():
    """P(T) = 1e-6 T^2 from 20 to 23 degC: 129e-6; half as much again by unlike expansion (hand)."""
    found = thermal_output(10e-6, 31.5e-6, 3.0, curve=(0.0, 0.0, 1e-6), temperature=23.0)
    assert found == pytest.approx(129e-6 - 64.5e-6)


def moved(x, y, xy, angle):
    """Strain of a fibre that a deformation with this strain tensor stretches: (|F n|^2 - 1)/2 at small size."""
    size = 1e-5
    stretch = np.eye(2) + size * np.array([[x, xy / 2], [xy / 2, y]])
    n = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    return float((np.linalg.norm(stretch @ n) - 1.0) / size)


@pytest.mark.parametrize("angles", [(0.0, 45.0, 90.0), (0.0, 60.0, 120.0), (30.0, 75.0, 120.0)])
@pytest.mark.parametrize("state", [(900e-6, -250e-6, 1200e-6), (-400e-6, -400e-6, 700e-6), (1e-3, 0.0, 0.0)])
def test_a_rosette_with_transverse_sensitivity_gives_the_tensor_back(angles, state):
    """Every gauge reads (eps along + K eps across)/(1 - nu_0 K), which is what a maker's gauge factor means."""
    K = (0.011, -0.006, 0.008)
    shown = [(moved(*state, a) + k * moved(*state, a + 90.0)) / (1.0 - 0.285 * k)
             for a, k in zip(angles, K, strict=True)]  # fmt: skip
    assert tensor(shown, angles, K) == pytest.approx(state, abs=2e-10)
    assert strain_along(*state, 20.0) == pytest.approx(moved(*state, 20.0), abs=1e-10)


def test_principal_strains_are_eigenvalues():
    x, y, xy = 900e-6, -250e-6, 1200e-6
    values, vectors = np.linalg.eigh(np.array([[x, xy / 2], [xy / 2, y]]))
    big, small, angle = principal(x, y, xy)
    assert (small, big) == pytest.approx(tuple(values))
    direction = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    assert abs(float(direction @ vectors[:, 1])) == pytest.approx(1.0)


def test_a_delta_rosette_by_hand():
    """0/60/120 with 600, 0, 0 um/m: mean 200, radius 400 (2/3 of the largest deviation from the mean, equal sides)."""
    big, small, angle = rosette(600e-6, 0.0, 0.0, (0.0, 60.0, 120.0))
    assert (big, small, angle) == pytest.approx((600e-6, -200e-6, 0.0), abs=1e-12)


@given(st.floats(-2e-3, 2e-3), st.floats(-2e-3, 2e-3), st.floats(-85, 85))
def test_rosette_regains_the_planted_state(e1, e2, angle):
    big, small = max(e1, e2), min(e1, e2)

    def along(phi):
        r = np.radians(phi - angle)
        return big * np.cos(r) ** 2 + small * np.sin(r) ** 2

    found = rosette(along(0), along(45), along(90))
    assert found[0] == pytest.approx(big, abs=1e-9)
    assert found[1] == pytest.approx(small, abs=1e-9)
    if big - small > 1e-5:
        assert (found[2] - angle + 90) % 180 - 90 == pytest.approx(0.0, abs=1e-4)


@given(st.floats(-2e-3, 2e-3), st.floats(-2e-3, 2e-3))
def test_transverse_sensitivity_is_taken_off(x, y):
    """A gauge with sensitivity K shows (e_x + K e_y)/(1 - nu0 K)."""
    k, nu = 0.01, 0.285
    shown_x, shown_y = (x + k * y) / (1 - nu * k), (y + k * x) / (1 - nu * k)
    assert transverse_corrected(shown_x, shown_y, k, nu) == pytest.approx(x, abs=1e-15)


@given(st.floats(-2e-3, 2e-3), st.floats(-2e-3, 2e-3), st.floats(-0.02, 0.02), st.floats(-0.02, 0.02))
def test_two_gauges_of_unlike_transverse_sensitivity(x, y, k, other):
    shown_x, shown_y = (x + k * y) / (1 - 0.285 * k), (y + other * x) / (1 - 0.285 * other)
    assert transverse_corrected(shown_x, shown_y, k, other=other) == pytest.approx(x, abs=1e-15)


def test_transverse_sensitivity_with_a_stated_ratio():
    """In the maker's own state of strain (ratio -nu_0) nothing is taken off; across as along: K (1 + nu_0)/(1 + K)."""
    assert transverse_factor(0.01, -0.285) == pytest.approx(1.0)
    shown = (1000e-6 + 0.01 * 1000e-6) / (1.0 - 0.285 * 0.01)
    assert shown * transverse_factor(0.01, 1.0) == pytest.approx(1000e-6)


def test_impossible_gauges_are_refused():
    for call in (
        lambda: quarter_bridge(0.0, 0.0),
        lambda: shunt_strain(-1.0, 2.0),
        lambda: transverse_corrected(0, 0, 2.0),
        lambda: bridge_strain(0.0, 2.0, "third"),
        lambda: tensor((0.0, 0.0, 0.0), (0.0, 180.0, 90.0)),
        lambda: lead_factor(0.5, 5, 120.0),
    ):
        with pytest.raises(ModelInputError):
            call()
