"""FRP and bar coupons: hand numbers and curves that are their own answer."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.tension import (
    adhesive_coupon,
    area_by_mass,
    bar_coupon,
    frp_coupon,
    total_strain_at_max,
    yield_strain,
)


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


def plateau_bar(drop=True):
    """E = 200 GPa, upper yield 550 MPa, plateau 530 MPa with a dip to 525, strength 650 MPa at 10 %."""
    strain = np.concatenate(
        (np.linspace(0, 0.00275, 120), np.linspace(0.0028, 0.02, 400), np.linspace(0.0201, 0.1, 300))
    )
    peak = 550.0 if drop else 530.0
    nodes = [0, peak / 200e3, 0.0029, 0.009, 0.010, 0.011, 0.02, 0.1]
    dip = 525.0 if drop else 530.0
    return strain, np.interp(strain, nodes, [0, peak, 530, 530, dip, 530, 530, 650])


def test_upper_and_lower_yield():
    found = bar_coupon(*plateau_bar())
    assert (found.upper_yield, found.yield_stress) == (pytest.approx(550.0), pytest.approx(550.0))
    assert found.lower_yield == pytest.approx(525.0, abs=0.3)
    assert found.yielding == "plateau"
    assert found.strength == pytest.approx(650.0)
    assert found.strain_at_max == pytest.approx(0.1)


def test_a_plateau_without_a_drop_is_recognised_and_a_rounded_bar_is_not():
    found = bar_coupon(*plateau_bar(drop=False))
    assert (found.upper_yield, found.lower_yield, found.yielding) == (None, None, "plateau")
    assert found.yield_stress == pytest.approx(530.0)
    for n in (8, 12, 25):
        assert bar_coupon(*ramberg_osgood(n=n)).yielding == "rounded"


def test_the_curve_is_kept():
    strain, stress = ramberg_osgood(n=12)
    e, s = bar_coupon(strain + 4e-4, stress).curve
    assert e.size <= 301
    assert (e[0], s[0]) == (0.0, 0.0)
    at = np.array([0.001, 0.0026, 0.0046, 0.01])
    assert np.interp(at, e, s) == pytest.approx(np.interp(at, strain, stress), rel=2e-3)


def test_a_curved_start_is_helped_by_an_unloading_loop():
    """The start is bent by slip of the grips up to 250 MPa; a loop from 400 to 60 MPa has the true slope of 200 GPa.

    The proof line lies against the true elastic line: 520 MPa come back, while the window of the first loading alone
    gives a modulus far too low.
    """
    up = np.linspace(0, 400, 400)
    loop = np.concatenate((np.linspace(400, 60, 100)[1:], np.linspace(60, 400, 100)[1:]))
    on = np.linspace(400, 600, 800)[1:]

    def curve(s):
        return s / 200e3 + 0.002 * (s / 520.0) ** 25

    bent = 6e-4 * (1 - np.clip(1 - up / 250.0, 0, 1) ** 2)
    strain = np.concatenate((curve(up) + bent, curve(400.0) + 6e-4 - (400 - loop) / 200e3, curve(on) + 6e-4))
    stress = np.concatenate((up, loop, on))
    found = bar_coupon(strain, stress)
    assert found.modulus_from.startswith("unloading loop, ")
    assert found.modulus.slope == pytest.approx(200e3, rel=1e-6)
    assert found.proof_stress == pytest.approx(520.0, rel=5e-3)
    assert found.upper_yield is None
    without = bar_coupon(np.concatenate((strain[:400], strain[598:])), np.concatenate((stress[:400], stress[598:])))
    assert without.modulus.slope < 0.8 * 200e3


def test_an_extensometer_that_came_off():
    """Strain ends at 2 % (gaps, or standing still): strength from the force alone, no strain at the peak."""
    strain, stress = plateau_bar()
    off = strain > 0.02
    for left in (np.where(off, np.nan, strain), np.where(off, 0.02, strain)):
        found = bar_coupon(left, stress)
        assert found.strength == pytest.approx(650.0)
        assert found.strain_at_max is None
        assert found.yield_stress == pytest.approx(550.0)
    strain = np.linspace(0, 0.014, 100)
    gone = np.where(strain > 0.004, np.nan, strain)
    assert frp_coupon(gone, strain * 1e6, width=10.0).force_per_width == pytest.approx(1400.0)
    with pytest.raises(ModelInputError, match="did not stay on"):
        frp_coupon(gone, strain * 1e6, width=10.0, strain_to_failure=True)


def test_a_gt_of_iso_15630():
    """A_g = 6.5 %, R_m = 600 MPa: A_gt = 6.5 + 600/2000 = 6.8 % (ISO 15630-1, from memory)."""
    assert 100 * total_strain_at_max(0.065, 600.0) == pytest.approx(6.8)


def test_area_by_mass():
    """A nominal 8 mm bar weighs 0.395 kg/m (EN 10080 table, from memory): 50.3 mm2."""
    assert f"{area_by_mass(395.0, 1000.0):.1f}" == "50.3"


def test_adhesive_by_hand():
    """E = 3 GPa on 40 mm2: 60 N at 500e-6, 300 N at 2500e-6; 40 MPa at failure."""
    strain = np.array([0, 2e-4, 5e-4, 1e-3, 1.5e-3, 2e-3, 2.5e-3, 3e-3, 6e-3, 1e-2, 1.5e-2])
    force = np.interp(strain, [0, 2.5e-3, 1.5e-2], [0, 300.0, 1600.0])
    found = adhesive_coupon(strain, force, area=40.0)
    assert (found.modulus, found.strength, found.strain_at_max) == (pytest.approx(3000), 40.0, 0.015)
    with pytest.raises(ModelInputError, match="is that the strain along"):
        adhesive_coupon(strain, force[::-1] + np.where(strain > 0.014, 3000, 0), area=40.0)


def test_a_record_that_begins_late_is_refused():
    strain, stress = ramberg_osgood()
    with pytest.raises(ModelInputError, match="where the modulus is read; the record begins at"):
        bar_coupon(strain[3000:] + 0.004, stress[3000:])
