"""Results as functions of errors: budgets by source, correlation, draws; against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.budget import Budget, Component, Simulated, tolerance
from cracktie.lab.chain import Chain, Source


def two(correlated):
    """a = 10 (1 + x), b = 4 (1 + x or y): one gain for both, or one of each."""
    chain = Chain()
    x = chain.source(Source("x", "gain", 0.03))
    y = x if correlated else chain.source(Source("y", "other gain", 0.03))
    chain.define("a", lambda e: 10 * (1 + e.get(x, 0.0)), (x,))
    chain.define("b", lambda e: 4 * (1 + e.get(y, 0.0)), (y,))
    return chain, (x, y)


@pytest.mark.parametrize(("correlated", "u"), [(True, 0.03 * 6), (False, 0.03 * math.hypot(10, 4))])
def test_a_difference_of_what_shares_a_source(correlated, u):
    chain, uses = two(correlated)
    a, b = (chain.results[n][0] for n in "ab")
    value, budget = chain.define("d", lambda e: a(e) - b(e), uses)
    assert value == pytest.approx(6.0)
    assert budget.u == pytest.approx(u)
    by_hand = Budget.combined([(1.0, chain.first_order("a")[1]), (-1.0, chain.first_order("b")[1])])
    assert by_hand.u == pytest.approx(u)
    assert chain.drawn("d", 100_000).u == pytest.approx(u, rel=0.01)


def test_what_cancels_is_gone():
    """V_1 - V_2 with one cell and equal loads: nothing of the cell is left, the zeros stay."""
    cell, zero = Component("cell", 2.0, source="cell of rig"), Component("zero", 0.5)
    found = Budget.combined([(1.0, Budget((cell, zero))), (-1.0, Budget((cell, zero)))])
    assert [c.name for c in found.components] == ["zero", "zero"]
    assert found.u == pytest.approx(0.5 * math.sqrt(2))


def test_degrees_of_freedom_of_a_shared_source_add_before_the_formula():
    """Two components 1 and 1 of one source with 5 degrees, and 2 with infinite: u = sqrt 8, u^4/(2^4/5) = 20."""
    parts = (Component("a", 1.0, dof=5, source="s"), Component("b", 1.0, dof=5, source="s"), Component("c", 2.0))
    budget = Budget(parts)
    assert budget.u == pytest.approx(math.sqrt(8))
    assert budget.dof == pytest.approx(20.0)
    mixed = Budget((Component("a", 1.0, dof=5, source="s"), Component("b", 1.0, source="s")))
    assert mixed.dof == pytest.approx(5.0)  # the source is known no better than its worst component says
    # as if independent it would be 6^2/(2/5) = 90
    assert Budget(tuple(Component(c.name, c.u, dof=c.dof) for c in parts)).dof == pytest.approx(90.0)


def test_lines_join_sources_of_one_name():
    budget = Budget((Component("zero", 3.0, source="z1"), Component("zero", 4.0, source="z2"), Component("gain", 2.0)))
    assert [line.split(" (")[0] for line in budget.lines(unit="N")] == ["zero: 5 N", "gain: 2 N"]
    assert budget.dominant.name == "zero"


def test_first_order_and_draws_of_a_bent_result():
    """max(0, x) of a standard normal x: first order u = 1/2; draws have sd sqrt(1/2 - 1/(2 pi)), mean 1/sqrt(2 pi)."""
    chain = Chain()
    x = chain.source(Source("x", "x", 1.0))
    value, budget = chain.define("m", lambda e: np.maximum(e.get(x, 0.0), 0.0), (x,))
    assert (value, budget.u) == (0.0, 0.5)
    drawn = chain.drawn("m", 200_000)
    assert drawn.mean == pytest.approx(1 / math.sqrt(2 * math.pi), rel=0.01)
    assert drawn.u == pytest.approx(math.sqrt(0.5 - 1 / (2 * math.pi)), rel=0.01)
    assert drawn.validates(value, budget.expanded(), budget.u) == 0


def test_students_t_is_drawn_wider():
    """Type A with 4 degrees of freedom: 95 % within 2.776 u (Student's table); JCGM 101:2008, 6.4.9."""
    chain = Chain()
    x = chain.source(Source("x", "x", 2.0, dof=4, kind="A"))
    _, budget = chain.define("t", lambda e: e.get(x, 0.0), (x,))
    drawn = chain.drawn("t", 400_000)
    assert drawn.high == pytest.approx(2.776 * 2.0, rel=0.02)
    assert budget.expanded() == pytest.approx(2.776 * 2.0, rel=1e-3)


def test_the_shortest_interval_of_a_skewed_result():
    """Exponential draws: 95 % central from 0.025 to 3.69, shortest from 0 to -ln 0.05 = 3.00."""
    found = Simulated.of(np.random.default_rng(2).exponential(1.0, 400_000))
    assert (found.low, found.high) == pytest.approx((-math.log(0.975), -math.log(0.025)), rel=0.02)
    assert found.shortest[0] == pytest.approx(0.0, abs=0.01)
    assert found.shortest[1] == pytest.approx(-math.log(0.05), rel=0.02)


def test_tolerances():
    """JCGM 101:2008, 7.9.2 (from memory): u = 0.035 with two digits is 35 x 10^-3, so 0.0005; with one digit 0.005."""
    assert tolerance(0.035, 2) == pytest.approx(0.0005)
    assert tolerance(0.035, 1) == pytest.approx(0.005)
    assert tolerance(0.0999, 1) == pytest.approx(0.05)
    near = Simulated(0.0, 35.0, -68.4, 68.9, 1000)
    assert near.validates(0.0, 68.6, 35.0) == 2
    assert near.validates(0.0, 70.0, 35.0) == 1
    assert near.validates(0.0, 80.0, 35.0) == 0


def test_refusals():
    chain, _ = two(True)
    with pytest.raises(ModelInputError, match="two uncertainties"):
        chain.source(Source("x", "gain", 0.02))
    with pytest.raises(ModelInputError, match="no result 'c'"):
        chain.drawn("c", 1000)
    with pytest.raises(ModelInputError, match="999 draws"):
        chain.drawn("a", 999)
    chain.define("bad", lambda e: np.where(e["x"] > 0.05, np.nan, 1.0), ("x",))
    with pytest.raises(ModelInputError, match="give no number"):
        chain.drawn("bad", 1000)
