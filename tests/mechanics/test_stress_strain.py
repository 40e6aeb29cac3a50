"""Stress-strain curves: peaks, ends, initial slopes, inverses."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.mechanics.stress_strain import (
    bilinear,
    hardening_modulus,
    hognestad,
    parabola_rectangle,
    ramberg_osgood,
    sargin,
)


def test_parabola_rectangle() -> None:
    eps = np.array([-0.001, 0.0, 0.001, 0.002, 0.0035, 0.0036])
    assert parabola_rectangle(eps, 30.0).tolist() == pytest.approx([0.0, 0.0, 22.5, 30.0, 30.0, 0.0])
    assert parabola_rectangle(0.001, 30.0, 1.5) == pytest.approx(30 * (1 - 0.5**1.5))


def test_sargin() -> None:
    """Peak f_cm at eps_c1, initial slope k f_cm/eps_c1 (1.05 E_cm)."""
    k = 1.05 * 32837.0 * 0.00216 / 38.0
    eps = np.array([-1e-3, 1e-7, 0.00216, 0.0035, 0.0036])
    got = sargin(eps, 38.0, 0.00216, k, 0.0035)
    assert got[0] == 0.0
    assert got[1] / 1e-7 == pytest.approx(1.05 * 32837.0, rel=1e-3)
    assert got[2] == pytest.approx(38.0)
    assert 0.0 < got[3] < 38.0
    assert got[4] == 0.0
    near = sargin(np.array([0.00215, 0.00217]), 38.0, 0.00216, k, 0.0035)
    assert np.all(near < 38.0)


def test_hognestad() -> None:
    eps_0 = 1.8 * 27.0 / 25743.0
    assert hognestad(eps_0, 27.0, 25743.0) == pytest.approx(27.0)
    assert hognestad(0.0038, 27.0, 25743.0) == pytest.approx(0.85 * 27.0)
    assert hognestad(1e-8, 27.0, 25743.0) / 1e-8 == pytest.approx(2 * 25743.0 / 1.8, rel=1e-4)
    assert hognestad(np.array([-0.001, 0.004]), 27.0, 25743.0).tolist() == [0.0, 0.0]


def test_bilinear_steel() -> None:
    eps = np.array([-0.01, 0.001, 0.0025, 0.0125])
    assert bilinear(eps, 2e5, 500.0).tolist() == [-500.0, 200.0, 500.0, 500.0]
    slope = hardening_modulus(2e5, 500.0, 600.0, 0.1025)
    assert slope == pytest.approx(1000.0)
    assert bilinear(0.0525, 2e5, 500.0, slope) == pytest.approx(550.0)
    assert bilinear(0.11, 2e5, 500.0, slope, 0.1025) == 0.0


@pytest.mark.parametrize("exponent", [4.0, 8.0, 12.0, 25.0, 60.0])
def test_ramberg_osgood_is_solved(exponent: float) -> None:
    stress = np.linspace(-1.3, 1.3, 41) * 520.0
    eps = stress / 2e5 + 0.002 * np.sign(stress) * np.abs(stress / 520.0) ** exponent
    np.testing.assert_allclose(ramberg_osgood(eps, 2e5, 520.0, exponent), stress, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize(("exponent", "share"), [(8.0, 0.83), (12.0, 0.87), (25.0, 0.92)])
def test_rounded_steel_is_below_its_proof_stress_at_the_elastic_strain(exponent: float, share: float) -> None:
    """Reading the proof stress off a gauge that shows Rp0.2/E overstates the bar force by 9 to 20 %."""
    assert ramberg_osgood(520.0 / 2e5, 2e5, 520.0, exponent) / 520.0 == pytest.approx(share, abs=0.005)
    assert ramberg_osgood(520.0 / 2e5 + 0.002, 2e5, 520.0, exponent) == pytest.approx(520.0)
