"""Gauge formulas: worked by hand, and back and forth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.errors import ModelInputError
from cracktie.lab.strain import (
    other_gauge_factor,
    quarter_bridge,
    rosette,
    shunt_strain,
    thermal_output,
    transverse_corrected,
)


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


def test_shunt():
    """59 880 ohm over 120 ohm, GF 2: -1000e-6 (hand); the same by the parallel resistance."""
    assert shunt_strain(59_880.0, 2.0) == pytest.approx(-1000e-6, abs=1e-12)
    parallel = 120 * 59_880 / (120 + 59_880)
    assert (parallel - 120) / 120 / 2.0 == pytest.approx(-1000e-6, abs=1e-12)


def test_corrections():
    assert other_gauge_factor(5000e-6, 2.0, 2.12) == pytest.approx(4716.98e-6, abs=1e-8)
    assert thermal_output(-0.5e-6, 11e-6, 3.0) == pytest.approx(-34.5e-6)


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


def test_impossible_gauges_are_refused():
    for call in (
        lambda: quarter_bridge(0.0, 0.0),
        lambda: shunt_strain(-1.0, 2.0),
        lambda: transverse_corrected(0, 0, 2.0),
    ):
        with pytest.raises(ModelInputError):
            call()
