"""FRP and bar coupons: hand numbers and curves that are their own answer."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.tension import bar_coupon, frp_coupon, yield_strain


def test_frp_chord_by_hand():
    """Width 25.10 mm, 979 N at 1000e-6, 2871 N at 3000e-6, peak 14 350 N (hand): 37 689 N/mm and 571.71 N/mm;
    225 684 MPa on 0.167 mm of fibre, 37 689 MPa on 1.0 mm of laminate: the same coupon."""
    strain = np.array([0, 0.0005, 0.001, 0.002, 0.003, 0.005, 0.007, 0.009, 0.011, 0.013, 0.0151])
    force = np.interp(strain, [0, 0.001, 0.003, 0.0151], [0, 979.0, 2871.0, 14_350.0])
    found = frp_coupon(strain, force, width=25.10)
    assert found.stiffness_per_width == pytest.approx(37_689.2, abs=0.05)
    assert found.force_per_width == pytest.approx(571.713, abs=5e-4)
    assert found.modulus(0.167) == pytest.approx(225_684, abs=0.5)
    assert found.modulus(1.0) == pytest.approx(37_689.2, abs=0.05)
    assert found.strength(0.167) / found.strength(1.0) == pytest.approx(5.98802, abs=1e-5)
    assert not found.measured
    assert found.ultimate_strain == pytest.approx(found.force_per_width / found.stiffness_per_width)
    assert frp_coupon(strain, force, width=25.10, strain_to_failure=True).ultimate_strain == 0.0151


def test_a_brittle_coupon_takes_the_other_chord():
    strain = np.linspace(0, 0.005, 50)
    found = frp_coupon(strain, strain * 1e6, width=10.0, strain_to_failure=True)
    assert found.chord == pytest.approx((0.00125, 0.0025))
    assert found.stiffness_per_width == pytest.approx(1e5)


def test_a_brittle_coupon_without_strain_to_failure_takes_it_too():
    """The extensometer comes off at 3500e-6, the force goes on to 45 kN on a width of 10 mm.

    By hand: 12 kN at 1000e-6 and 30 kN at 3000e-6 make 900 kN/mm, so 4500/900e3 = 5000e-6 is below 6000e-6 and the
    chord runs from 1250 to 2500e-6: 15 and 27 kN, 960 kN/mm.
    """
    strain = np.append(np.linspace(0, 0.0035, 71), 0.0035)
    force = np.append(np.interp(strain[:-1], [0, 0.002, 0.003, 0.0035], [0, 24e3, 30e3, 33e3]), 45e3)
    found = frp_coupon(strain, force, width=10.0)
    assert found.chord == pytest.approx((0.00125, 0.0025))
    assert found.stiffness_per_width == pytest.approx(960e3)
    assert found.ultimate_strain == pytest.approx(4500 / 960e3)
    assert not found.measured


def test_a_short_record_is_refused():
    strain = np.linspace(0, 0.002, 50)
    with pytest.raises(ModelInputError, match="does not cover 3000 um/m"):
        frp_coupon(strain, strain * 1e6, width=10.0)
    with pytest.raises(ModelInputError, match="at least 10"):
        frp_coupon([0.0, 1.0], [0.0, 1.0], width=10.0)


def ramberg_osgood(E=200_000.0, proof=520.0, n=25, top=600.0, points=4000):
    stress = np.linspace(0, top, points)
    return stress / E + 0.002 * (stress / proof) ** n, stress


@pytest.mark.parametrize("n", [8, 12, 25])
@pytest.mark.parametrize("toe", [0.0, 7e-4, -2e-4])
def test_a_ramberg_osgood_curve_returns_its_own_proof_stress(n, toe):
    """Exact construction; the plastic part inside the window is below 0.4^n * 0.002."""
    strain, stress = ramberg_osgood(n=n)
    found = bar_coupon(strain + toe, stress)
    slack = 200 * 0.4**n  # what the curve itself bends inside the regression window
    assert found.proof_stress == pytest.approx(520.0, rel=1e-5 + slack)
    assert found.modulus.slope == pytest.approx(200_000.0, rel=1e-5 + slack)
    assert found.toe == pytest.approx(toe, abs=1e-8 + 0.002 * slack)
    assert found.strength == 600.0
    assert found.upper_yield is None
    assert found.strain_at_max == pytest.approx(strain[-1], rel=1e-4 + slack)


def test_a_yield_plateau():
    strain = np.concatenate(
        (np.linspace(0, 0.00275, 120), np.linspace(0.0028, 0.02, 200), np.linspace(0.0201, 0.1, 300))
    )
    stress = np.interp(strain, [0, 0.00275, 0.0029, 0.02, 0.1], [0, 550, 530, 530, 650])
    found = bar_coupon(strain, stress)
    assert found.upper_yield == pytest.approx(550.0)
    assert found.proof_stress == pytest.approx(530.0)
    assert found.modulus.slope == pytest.approx(200_000.0)


@pytest.mark.parametrize(("n", "share"), [(8, 0.83), (12, 0.87), (25, 0.92)])
def test_rounded_bars_have_not_yielded_at_r_over_e(n, share):
    """Stress at strain R/E over R, solved on the curve itself; sharp bars alone reach 1."""
    strain, stress = ramberg_osgood(n=n)
    knee, yielded = yield_strain(520.0, 200_000.0, rounded=True)
    assert np.interp(knee, strain, stress) / 520.0 == pytest.approx(share, abs=0.006)
    assert np.interp(yielded, strain, stress) / 520.0 == pytest.approx(1.0, abs=1e-4)
    assert yield_strain(520.0, 200_000.0, rounded=False) == (knee, knee)


def test_a_curve_that_ends_early_is_refused():
    strain, stress = ramberg_osgood(top=400.0)
    with pytest.raises(ModelInputError, match="never meets"):
        bar_coupon(strain, stress)
