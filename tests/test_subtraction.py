"""V_f by subtraction: what loadings share counts once, scatter by draws against exact quantiles; by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from cracktie.lab.budget import Budget, Component
from cracktie.member import Member
from cracktie.stats.scatter import Scatter
from cracktie.subtraction import draws, instruments, share_ratio, shares_of


class Loading:
    """A reduced test as far as a subtraction asks."""

    def __init__(self, name, V, rig, batch="c1", bound=False):
        cell = Component("load cell", 0.004 * V, "rectangular", source=f"cell of {rig}")
        zero = Component("zero of the load cell", 200.0, kind="A")
        self.test, self.batch, self.bound = name, batch, bound
        self.V, self.budgets = V, {"V_max": Budget((cell, zero))}

    def value(self, name):
        return self.V if name == "V_max" else None


def inputs(f_c, u=1.0, A_sw=0.0):
    values = {"f_c": f_c, "A_sw": A_sw, "f_yw": 500.0, "d": 360.0, "s_w": 200.0}
    return Member("S", "A", "measured", values, {}, {"f_c": u})


EXACT = Scatter(math.sqrt(math.log1p(0.08**2)), math.inf, "stated")


def test_one_cell_cancels_but_for_the_difference():
    """270 and 185 kN read with one cell of 0.4 %: 0.34 kN of the 85 kN, not 0.4 % of 327 kN; zeros are of each day."""
    strengthened, control = Loading("B1", 270e3, "one"), Loading("R1", 185e3, "one")
    budget = instruments(strengthened, inputs(30.0), [(control, inputs(30.0))], 0.5)
    parts = {c.name: c.u for c in budget.by_name()}
    assert parts["load cell"] == pytest.approx(0.004 * 85e3)
    assert parts["zero of the load cell"] == pytest.approx(200 * math.sqrt(2))
    assert "concrete strength" not in parts  # one batch: both strengths are wrong together
    other = instruments(strengthened, inputs(30.0), [(Loading("R1", 185e3, "two"), inputs(30.0))], 0.5)
    assert {c.name: c.u for c in other.by_name()}["load cell"] == pytest.approx(0.004 * math.hypot(270e3, 185e3))


def test_scaling_adds_the_strengths_of_two_batches():
    """A reference without stirrups scaled by sqrt(36/25) = 1.2: 222 kN, 1/2 of 4 % and of 4 % of it, independent."""
    control = Loading("R1", 185e3, "one", batch="c2")
    budget = instruments(Loading("B1", 270e3, "one"), inputs(36.0, 1.44), [(control, inputs(25.0, 1.0))], 0.5)
    parts = {c.name: c.u for c in budget.by_name()}
    assert parts["concrete strength"] == pytest.approx(0.5 * 0.04 * 222e3 * math.sqrt(2))
    assert parts["load cell"] == pytest.approx(0.004 * (270e3 - 1.2 * 185e3))


@pytest.mark.parametrize("dof", [math.inf, 6.0])
def test_interval_by_draws_meets_exact_quantiles(dof):
    """V_max - V' exp(s sqrt(1/n + 1) t): quantiles of a monotonic function are the function of the quantiles."""
    spread = Scatter(EXACT.s, dof, "stated")
    found = draws(270e3, 185e3, 2, spread, Budget(()), count=400_000)
    t = stats.norm.ppf(0.975) if math.isinf(dof) else stats.t.ppf(0.975, dof)
    reach = t * spread.s * math.sqrt(1.5)
    assert found.low == pytest.approx(270e3 - 185e3 * math.exp(reach), rel=0.01)
    assert found.high == pytest.approx(270e3 - 185e3 * math.exp(-reach), rel=0.01)


def test_a_small_gain_may_be_a_loss():
    """V_f is a difference and no log-normal number: 10 kN more than the reference may be a loss."""
    (half, third) = shares_of(
        Loading("B1", 195e3, "one"), inputs(30.0), [(Loading("R1", 185e3, "one"), inputs(30.0))], EXACT
    )
    assert half.V_f == third.V_f == pytest.approx(10e3)
    assert half.low < 0.0 < half.high
    assert half.u_beam == pytest.approx(EXACT.s * 185e3 * math.sqrt(2))
    assert half.u_reference == pytest.approx(EXACT.s * 185e3)
    assert half.u == pytest.approx(math.hypot(half.u_beam, half.u_instruments))
    assert half.u_instruments < 0.02 * half.u_beam


def test_a_lower_bound_stays_open_upwards():
    shares = shares_of(
        Loading("B1", 270e3, "one", bound=True), inputs(30.0), [(Loading("R1", 185e3, "one"), inputs(30.0))], EXACT
    )
    assert all(s.bound and s.high is None and s.low < s.V_f for s in shares)


def test_the_nominal_stirrups_of_the_reference_are_doubtful_where_the_concrete_is_scaled():
    """A_sw f_y d/s = 100 x 500 x 360/200 = 90 kN of 185 are not scaled; 20 % of it times the 0.2 of the scale."""
    control = Loading("R1", 185e3, "one", batch="c2")
    pair = [(control, inputs(25.0, 0.0, A_sw=100.0))]
    budget = instruments(Loading("B1", 270e3, "one"), inputs(36.0, 0.0), pair, 0.5)
    assert {c.name: c.u for c in budget.by_name()}["V_s of the reference"] == pytest.approx(0.2 * 90e3 * 0.2)


def share(name, V, reference, f_c, batch="c1"):
    return next(iter(shares_of(Loading(name, V, "one", batch=batch), inputs(f_c), [(reference, inputs(25.0))], EXACT)))


def test_a_ratio_of_shares_takes_each_beam_with_its_own_concrete():
    """Reference 200 kN at 25 MPa: 240 kN at 36. 330 kN at 36 is 90 kN of fibres, 260 kN at 25 is 60: 1.5; both less 240
    would be 4.5. Limits: the slopes r at which the difference of both sides is as large as its 1.96 u."""
    control = Loading("R1", 200e3, "one")
    one, other = share("B1", 330e3, control, 36.0, "c2"), share("B2", 260e3, control, 25.0)
    value, *_ = share_ratio(one, [other], EXACT)
    assert value == pytest.approx(1.5)
    calm = Scatter(0.02, math.inf, "stated")
    alone = [next(iter(shares_of(Loading(n, V, "one"), inputs(25.0), [(control, inputs(25.0))], calm)))
             for n, V in (("B1", 330e3), ("B2", 260e3))]  # fmt: skip
    value, low, high = share_ratio(alone[0], [alone[1]], calm)
    for r in (low, high):
        u = 0.02 * math.hypot(330e3, r * 260e3, (1.0 - r) * 200e3)
        assert abs(130e3 - r * 60e3) == pytest.approx(1.959964 * u, rel=1e-6)


def test_references_of_their_own_do_not_move_both_shares():
    """Reference of its own each: 200 kN in either, so its scatter counts r times in the denominator, independent."""
    calm = Scatter(0.02, math.inf, "stated")
    one, other = (next(iter(shares_of(Loading(n, V, "one"), inputs(25.0), [(Loading(r, 200e3, "one"), inputs(25.0))],
                                      calm)))
                  for n, V, r in (("B1", 330e3, "R1"), ("B2", 260e3, "R2")))  # fmt: skip
    _, low, high = share_ratio(one, [other], calm)
    for r in (low, high):
        u = 0.02 * np.hypot(np.hypot(330e3, 200e3), r * np.hypot(260e3, 200e3))
        assert abs(130e3 - r * 60e3) == pytest.approx(1.959964 * u, rel=1e-6)
