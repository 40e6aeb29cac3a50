"""Strain at the crack from gauges beside it: bounds against marched bonds, exact cases and hand numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from cracktie.lab.crack_strain import Law, LegGauges, bounds, mean_distance, outer_slip

K = 38_000.0
LAW = Law(4.0, 0.05, 0.7)


def stress(law, slip):
    """The law as Lu and others 2005 write it: root up to the peak, exponential fall, written out apart."""
    alpha = 1.0 / (law.G_f / (law.tau_max * law.slip_0) - 2.0 / 3.0)
    z = slip / law.slip_0
    return law.tau_max * (math.sqrt(max(z, 0.0)) if z < 1.0 else math.exp(-alpha * (z - 1.0)))


def leg(place, strain, *, slip=None, ends=(math.inf, math.inf), gone=False, peak=None):
    place, strain = np.asarray(place, dtype=float), np.asarray(strain, dtype=float)
    slip = np.zeros(place.size) if slip is None else np.asarray(slip, dtype=float)
    peak = strain if peak is None else np.asarray(peak, dtype=float)
    return LegGauges(place, np.zeros(place.size), strain, slip, peak, ends, gone)


def limits(*args, law=LAW, **more):
    low, high = bounds(leg(*args, **more), law, K, largest=0.015)
    return float(low[0]), float(high[0])


def marched(law, slip, strain, distance):
    """(slip, strain) after a distance towards the crack, from a gauge with that slip and strain."""

    def rates(_, y):
        return [y[1], stress(law, y[0]) / K]

    return solve_ivp(rates, (0.0, distance), [slip, strain], rtol=1e-9, atol=1e-12).y[:, -1]


def test_areas_of_the_law():
    assert LAW.left(0.0) == pytest.approx(0.7)
    for slip in (0.01, 0.05, 0.12, 0.4):
        area = quad(lambda s: stress(LAW, s), 0.0, slip, points=[0.05])[0]
        assert LAW.left(slip) == pytest.approx(0.7 - area, abs=1e-6)
        assert float(LAW.reached(area)) == pytest.approx(slip, rel=1e-5)
        assert LAW.most(slip) == pytest.approx(4.0 if slip < 0.05 else stress(LAW, slip))
    assert LAW.reached(0.8) > 1.0


@pytest.mark.parametrize("seed", range(40))
def test_any_marched_bond_lies_between_the_bounds(seed):
    """From a gauge with any slip and strain, bonded or torn, over any distance: the law's own solution is inside."""
    rng = np.random.default_rng(seed)
    tau, slip_0 = rng.uniform(1.5, 8.0), rng.uniform(0.02, 0.1)
    law = Law(tau, slip_0, (2.0 / 3.0 * tau * slip_0) * rng.uniform(1.5, 6.0))
    slip, strain, distance = rng.exponential(0.1), rng.uniform(0.0, 0.006), rng.uniform(1.0, 150.0)
    _, at_crack = marched(law, slip, strain, distance)
    for known in (0.0, 0.9 * slip):
        low, high = limits([-distance], [strain], law=law, slip=[known])
        assert low == pytest.approx(strain)
        assert at_crack <= min(high * (1 + 1e-6), 1.0) or high == pytest.approx(0.015)


@pytest.mark.parametrize("seed", range(20))
def test_two_gauges_on_a_marched_bond(seed):
    """A second gauge further out proves slip: the true strain stays inside, the interval gets no wider."""
    rng = np.random.default_rng(100 + seed)
    far, near = rng.uniform(40.0, 120.0), rng.uniform(5.0, 35.0)
    slip, strain = rng.exponential(0.05), rng.uniform(0.0005, 0.005)
    slip_near, strain_near = marched(LAW, slip, strain, far - near)
    _, at_crack = marched(LAW, slip_near, strain_near, near)
    place, strains = [-far, -near], [strain, strain_near]
    proved = outer_slip(place, np.array(strains)[:, None])
    assert proved[1] <= slip_near - slip + 1e-9
    low, high = limits(place, strains, slip=proved)
    alone = limits([-near], [strain_near])
    assert low - 1e-12 <= at_crack <= high * (1 + 1e-6) or high == pytest.approx(0.015)
    assert high <= alone[1]


def test_a_constant_stress_reaches_the_upper_bound():
    """With stress tau_max all the way the strain grows along a line, 0.002 + 4 x 30/38 000: the bound itself."""
    endless = Law(4.0, 1e-6, 1e6)
    assert limits([-30.0], [0.002], law=endless)[1] == pytest.approx(0.002 + 4.0 * 30.0 / K)


def test_elastic_decay_lies_inside():
    """tau = k s on a long leg: eps_g = eps_0 exp(-lambda d), lambda = sqrt(k/K); k = tau_max/slip_0 = 80 N/mm3."""
    decay = math.sqrt(80.0 / K)
    for distance in (5.0, 20.0, 60.0):
        at_crack = 0.0008  # slip 0.0008/lambda = 0.017 mm: below the peak, with this secant or a stiffer one
        low, high = limits([distance], [at_crack * math.exp(-decay * distance)])
        assert low < at_crack < high


def test_a_torn_leg_has_one_strain():
    """3000 um/m at 20 and 220 mm: at least 0.6 mm of slip at the inner gauge, where the bond has gone."""
    place, strain = [20.0, 220.0], [0.003, 0.003]
    slip = outer_slip(place, np.array(strain)[:, None])
    assert slip == pytest.approx([0.6, 0.0])
    low, high = limits(place, strain, slip=slip)
    assert low == pytest.approx(0.003)
    assert high - low < 0.02 * low
    assert limits([20.0], [0.003])[1] > 0.005  # one gauge alone cannot tell


def test_both_sides_intersect():
    one, other = limits([-40.0], [0.001])[1], limits([10.0], [0.002])[1]
    low, high = limits([-40.0, 10.0], [0.001, 0.002])
    assert (low, high) == pytest.approx((0.002, min(one, other)))


def test_a_free_end_holds_no_more_than_its_bond():
    """sqrt(2 G_f/K) = 6070 um/m on a long end, tau_max l/K = 2105 um/m on 20 mm of bond."""
    assert limits([-200.0], [0.0], ends=(300.0, math.inf))[1] == pytest.approx(math.sqrt(1.4 / K))
    assert limits([-200.0], [0.0], ends=(20.0, math.inf))[1] == pytest.approx(4.0 * 20.0 / K)
    assert limits([-200.0], [0.0])[1] == pytest.approx(math.sqrt(1.4 / K))  # the energy of the bond, held end or not


@pytest.mark.parametrize("slip", [0.06, 0.2, 0.5])
def test_a_leg_that_let_go_carries_little_more_than_it_reads(slip):
    """Marched from a free end that slips past the peak: inside, and no wider than reading x l/(l - a)."""
    at_gauge = marched(LAW, slip, 0.0, 150.0)
    _, at_crack = marched(LAW, *at_gauge, 50.0)
    low, high = limits([50.0], [at_gauge[1]], gone=True, ends=(math.inf, 200.0))
    assert low <= at_crack <= high * (1 + 1e-6)
    assert high <= at_gauge[1] * 200.0 / 150.0 * (1 + 1e-9)


def test_a_part_of_the_width_may_hold_where_the_gauge_has_fallen():
    """The crack climbs 60 mm over half the width, the end is 300 mm: a fifth of the fibres may be at the cap, 6070."""
    made = LegGauges(np.array([30.0]), np.zeros(1), np.array([0.0004]), np.zeros(1), np.array([0.0004]),
                     (math.inf, 300.0), True, 60.0)  # fmt: skip
    _, high = bounds(made, LAW, K, largest=0.015)
    alone = 0.0004 * 300.0 / 270.0
    assert float(high[0]) == pytest.approx(alone + 0.2 * (math.sqrt(1.4 / K) - alone))


def test_what_proves_a_torn_bond_takes_the_stronger_law():
    """0.3 mm of slip prove less to a law of twice the energy; without slip that law says nothing."""
    proof = Law(4.0, 0.05, 1.4)
    one = leg([-60.0], [0.002], slip=[0.3])
    torn, doubted = (float(bounds(one, LAW, K, largest=0.015, proof=p)[1][0]) for p in (None, proof))
    decay = (1.4 - 4.0 * 0.05 * 2 / 3) / 4.0
    assert torn < doubted == pytest.approx(0.002 + 4.0 * math.exp(-0.25 / decay) * 60.0 / K)
    fresh = leg([-200.0], [0.002])
    assert bounds(fresh, LAW, K, largest=0.015, proof=proof)[1] == pytest.approx(math.sqrt(0.002**2 + 1.4 / K))


def test_what_a_free_side_has_taken_up_is_gone():
    """A gauge that had 5500 um/m on a free side: K eps^2/2 = 0.575 of 0.7 N/mm, so little stress is left beyond it."""
    calm = limits([30.0], [0.001], ends=(math.inf, 300.0))[1]
    torn = limits([30.0], [0.001], ends=(math.inf, 300.0), peak=[0.0055])[1]
    assert torn < 0.6 * calm
    held = limits([30.0], [0.001], peak=[0.0055])[1]  # a held side may have lost that strain otherwise
    assert held > torn


def test_mean_distance_of_a_gauge():
    for place, length in ((0.0, 10.0), (3.0, 10.0), (5.0, 10.0), (-8.0, 10.0), (4.0, 0.0)):
        half = length / 2
        mean = quad(abs, place - half, place + half, points=[0.0])[0] / length if length else abs(place)
        assert float(mean_distance(place, length)) == pytest.approx(mean)


def test_slip_from_outer_strains_by_hand():
    """1, 2, 3 mm/m at -100, -60, -10: 0.001 x 40 = 0.04 at -60, + 0.002 x 50 = 0.14 at -10; the other side apart."""
    held = np.array([[0.001, 0.0], [0.002, 0.0], [0.003, 0.0], [0.004, 0.0]])
    assert outer_slip([-100.0, -60.0, -10.0, 30.0], held) == pytest.approx([0.0, 0.04, 0.14, 0.0])


def test_a_gauge_that_the_crack_may_cross_tells_nothing_of_its_slip():
    wide = LegGauges(np.array([2.0]), np.array([10.0]), np.array([0.003]), np.array([0.6]), np.array([0.003]),
                     (math.inf, math.inf))  # fmt: skip
    _, high = bounds(wide, LAW, K, largest=0.015)
    assert float(high[0]) == pytest.approx(0.003 + 4.0 * 2.9 / K)  # mean distance (4 + 25)/10


def test_arrays_of_draws():
    law = Law(np.array([4.0, 5.0]), np.array([0.05, 0.05]), np.array([0.7, 0.9]))
    low, high = bounds(
        leg([-50.0], [0.001]), law, K, largest=0.015, shift=np.array([0.0, 5.0]), gain=np.array([1.0, 1.1])
    )
    assert low == pytest.approx([0.001, 0.0011])
    assert high[0] == pytest.approx(limits([-50.0], [0.001])[1])
    assert high[1] == pytest.approx(limits([-55.0], [0.0011], law=Law(5.0, 0.05, 0.9))[1])
