"""Closed forms of bonded legs against integration of the differential equation, work and limits; blocks by vectors."""

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from cracktie.plan import bonded
from cracktie.plan.bonded import Bar, Bond, Leg, Length
from cracktie.plan.crack import MOUTH, BlockCrack

BOND = Bond(0.46, 13.0, 0.167 * 236e3)


def _tau(bond, slip):
    return 2.0 * bond.B * bond.G * (np.exp(-bond.B * slip) - np.exp(-2.0 * bond.B * slip))


@pytest.mark.parametrize(("far_slip", "far_strain"), [(0.02, 0.0), (0.4, 0.0), (0.0, 1e-4), (0.0, 3e-3), (0.1, 2e-3)])
def test_slip_and_strain_satisfy_the_equilibrium_of_a_strip(far_slip, far_strain):
    """E t s'' = tau(s) integrated by Runge-Kutta from the far end (relative 1e-11)."""
    x = np.linspace(0.0, 120.0, 13)

    def slope(_, state):
        return [state[1], _tau(BOND, state[0]) / BOND.stiffness]

    found = solve_ivp(slope, (0.0, 120.0), [far_slip, far_strain], t_eval=x, rtol=1e-11, atol=1e-14)
    slip, strain = BOND.at(x, far_slip, far_strain)
    np.testing.assert_allclose(slip, found.y[0], rtol=1e-7, atol=1e-11)
    np.testing.assert_allclose(strain, found.y[1], rtol=1e-7, atol=1e-12)


def test_the_law_has_the_energy_and_gives_the_strain_of_a_long_bond():
    """Area under tau is G; a long free length carries sqrt(2 G/(E t))."""
    area, _ = quad(lambda s: _tau(BOND, s), 0.0, 10.0)
    assert area == pytest.approx(BOND.G, rel=1e-6)
    longest = Length(BOND, 600.0).states[3].max()
    assert longest == pytest.approx(math.sqrt(2.0 * BOND.G / BOND.stiffness), rel=1e-3)
    assert Length(BOND, 30.0).states[3].max() < 0.6 * longest


def test_force_is_the_bond_stress_along_the_length():
    """E t eps at the loaded end is the integral of tau over the length, for a free end."""
    slip_0, _, _, strain = Length(BOND, 90.0).states
    row = int(np.argmax(strain))
    total, _ = quad(lambda x: float(_tau(BOND, BOND.at(x, slip_0[row], 0.0)[0])), 0.0, 90.0)
    assert BOND.stiffness * strain[row] == pytest.approx(total, rel=1e-8)


@pytest.mark.parametrize("upper", [Length(BOND, 100.0), Length(BOND, 100.0, "spring", 160.0 / BOND.stiffness, 5.4e-3)])
def test_both_sides_of_a_leg_carry_one_force_and_share_the_opening(upper):
    leg = Leg(upper, Length(BOND, 260.0, "fixed"))
    assert leg.driver_is_upper
    openings = np.array([0.02, 0.1, 0.3, 0.5 * leg.opening_at_fold, leg.opening_at_fold])
    states = bonded.at_opening(leg.bonded(), openings)
    above = bonded.strain_along(leg, states, 0.0)
    below = bonded.strain_along(leg, states, -1e-9)
    np.testing.assert_allclose(above, below, rtol=0.03)
    np.testing.assert_allclose(above, states.strain, rtol=0.01)
    slips = [
        side.bond.at(side.length, *far)[0] * part
        for side, far, part in ((leg.upper, states.driver, 1.0), (leg.lower, states.follower, states.share))
    ]
    np.testing.assert_allclose(slips[0] + slips[1], openings, rtol=0.02)


def test_a_leg_debonds_at_its_largest_force_and_an_anchor_holds_the_rest():
    loose = Leg(Length(BOND, 100.0), Length(BOND, 260.0, "fixed"))
    held = Leg(Length(BOND, 100.0, "spring", 160.0 / BOND.stiffness, 5.4e-3), Length(BOND, 260.0, "fixed"))
    for leg in (loose, held):
        assert np.all(np.diff(leg.bonded().strain) >= 0.0)
        assert leg.bonded().strain[-1] == pytest.approx(leg.bonded().strain.max())
    wide = np.array([2.0])
    assert bonded.at_opening(loose.debonded(), wide).strain[0] < 1e-4
    # spring and free strip in series: u = eps E t/k + eps times the length that slips, both sides
    strain = float(bonded.at_opening(held.debonded(), wide).strain[0])
    assert 2.0 - strain * (BOND.stiffness / 160.0 + 100.0) == pytest.approx(strain * 80.0, abs=strain * 130.0)
    closed = Leg(Length(BOND, 100.0, "fixed"), Length(BOND, 260.0, "fixed"))
    assert closed.opening_at_fold == math.inf


def test_strain_falls_away_from_the_crack():
    leg = Leg(Length(BOND, 150.0), Length(BOND, 260.0, "fixed"))
    states = bonded.at_opening(leg.bonded(), np.array([0.05, 0.2]))
    profile = np.array([bonded.strain_along(leg, states, d) for d in (-120.0, -60.0, -20.0, 0.0, 20.0, 60.0, 120.0)])
    assert np.all(np.diff(profile[:4], axis=0) > 0.0)
    assert np.all(np.diff(profile[3:], axis=0) < 0.0)
    np.testing.assert_array_equal(bonded.strain_along(leg, states, 200.0), 0.0)  # beyond the end


def test_a_bar_yields_and_its_strain_adds_up_to_the_opening():
    bar = Bar(6.0, 324.0, 201e3, 1.9, 0.011)
    at_yield = 324.0**2 * 6.0 / (4.0 * 201e3 * 1.9)
    assert bar.stress(0.25 * at_yield) == pytest.approx(162.0)
    assert bar.stress(3.0 * at_yield) == 324.0
    for opening in (0.4 * at_yield, 3.0 * at_yield):
        whole, _ = quad(lambda x, w=opening: float(bar.strain(w, x, 1e-6)), 0.0, 400.0, limit=2000, points=[30.0, 40.0])
        plastic = max(opening - at_yield, 0.0) / (2 * 0.011) * 0.011
        assert whole == pytest.approx(plastic + (opening - 2 * plastic) / 2, rel=0.01)


CRACK = BlockCrack(support=2080.0, toward=-1.0, start=212.0, angle=36.0, tip=378.0, parallel=0.35, slide=0.3)


def test_a_gauge_across_the_crack_sees_both_blocks_part():
    """A vertical gauge: w cos(theta) + v sin(theta); one on a single block: nothing."""
    x = 2080.0 - 212.0 - (200.0 - MOUTH) / math.tan(math.radians(36.0))
    w = CRACK.opening(200.0)
    assert w == pytest.approx(0.35 + 0.65 * (378.0 - 200.0) / 338.0)
    z, vertical = CRACK.crossing(x, 200.0, 90.0, 100.0)
    turn = math.radians(36.0)
    assert z == pytest.approx(200.0)
    assert vertical == pytest.approx(w * math.cos(turn) + 0.3 * math.sin(turn))
    assert CRACK.stretch(200.0) == pytest.approx(vertical)
    assert CRACK.crossing(x, 200.0, 180.0 - (90.0 + 36.0), 60.0)[1] == pytest.approx(w)  # square to it, span B
    assert CRACK.crossing(x + 150.0, 200.0, 90.0, 100.0) is None
    assert CRACK.height(x) == pytest.approx(200.0)
    assert CRACK.height(2080.0) is None


def test_blocks_are_rigid():
    """Two gauges of a panel give by the formula for diagonals the shear strain of its corners' displacements."""
    x = 2080.0 - 212.0 - (190.0 - MOUTH) / math.tan(math.radians(36.0))
    strains = [CRACK.crossing(x, 200.0, angle, 300.0)[1] / 300.0 for angle in (60.0, 120.0)]
    slope = math.sin(math.radians(120.0)) - math.sin(math.radians(240.0))
    assert CRACK.shear_strain(x, 200.0, 60.0, 300.0) == pytest.approx(2.0 * (strains[0] - strains[1]) / slope, rel=1e-9)
    for z in (60.0, 150.0, 300.0):
        along = (z - MOUTH) / math.tan(math.radians(36.0))
        np.testing.assert_allclose(CRACK._at(along, z), CRACK.jump(z), rtol=1e-12)


def test_an_inclined_fibre_meets_the_crack_where_two_lines_cross():
    """Span A: crack z = 40 + (x - 212) tan 36; fibre at 45 degrees through (600, 210): x = 600 - (z - 210)."""
    crack = BlockCrack(0.0, 1.0, 212.0, 36.0, 378.0, 0.3, 0.3)
    z = crack.height(500.0, 45.0, 210.0)
    assert z == pytest.approx(MOUTH + (500.0 - (z - 210.0) - 212.0) * math.tan(math.radians(36.0)))
    across, up = crack.jump(z)
    assert crack.stretch(z, 45.0) == pytest.approx((up - across) / math.sqrt(2.0))
