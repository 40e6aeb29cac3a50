"""Budgets and the random check: GUM's own end gauge, exact distributions, first order against draws."""

from __future__ import annotations

import math

import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.budget import Budget, Component, monte_carlo
from cracktie.lab.uncertainty import propagate

END_GAUGE = Budget(
    (
        Component("standard", 25.0, dof=18, note="calibration"),
        Component("repeated readings", 5.8, kind="A", dof=24),
        Component("comparator, random", 3.9, dof=5),
        Component("comparator, systematic", 6.7, dof=8),
        Component("difference of expansion", 2.9, "rectangular", dof=50),
        Component("difference of temperature", 16.6, "rectangular", dof=2),
    )
)
"""JCGM 100:2008, H.1, table H.1: components in nm with their degrees of freedom (from memory)."""


def test_end_gauge_of_the_guide():
    """u_c = 32 nm, nu_eff = 16 (rounded down), U_99 = 93 nm for l = 50 000 838 nm: JCGM 100:2008, H.1 (from memory)."""
    assert f"{END_GAUGE.u:.0f}" == "32"
    assert math.floor(END_GAUGE.dof) == 16
    assert END_GAUGE.expanded(0.99) == pytest.approx(93, abs=1.0)
    assert END_GAUGE.dominant.name == "standard"


def test_lines_name_the_largest_first():
    first = END_GAUGE.lines(unit="nm")[0]
    assert first == "standard: 25 nm (62 % of u^2, type B, normal, 18 degrees of freedom; calibration)"
    assert Budget.from_list(END_GAUGE.to_list()) == END_GAUGE
    assert Budget(()).u == 0.0
    assert Budget(()).dominant is None
    assert math.isinf(Budget(()).dof)


def test_sum_of_two_rectangles_is_a_triangle():
    """95 % of a triangular distribution of half-width 2 a lies within 2 a (1 - sqrt(0.05)): exact."""
    u = {"x": 1 / math.sqrt(3), "y": 1 / math.sqrt(3)}
    shapes = {"x": "rectangular", "y": "rectangular"}
    found = monte_carlo(lambda x, y: x + y, {"x": 0, "y": 0}, u, shapes=shapes, draws=200_000)
    assert found.u == pytest.approx(math.sqrt(2 / 3), rel=0.01)
    assert found.high == pytest.approx(2 * (1 - math.sqrt(0.05)), rel=0.01)
    assert found.low == pytest.approx(-found.high, rel=0.02)


def test_a_square_shows_what_the_first_order_misses():
    """x^2 for a standard normal x: mean 1, standard deviation sqrt 2; the first order says 0."""
    draws = monte_carlo(lambda x: x**2, {"x": 0.0}, {"x": 1.0}, draws=200_000)
    assert draws.mean == pytest.approx(1.0, abs=0.02)
    assert draws.u == pytest.approx(math.sqrt(2), rel=0.02)
    assert propagate(lambda x: x**2, {"x": 0.0}, {"x": 1.0}).u == pytest.approx(0.0, abs=1e-9)


def test_same_seed_same_numbers_and_refusals():
    args = (lambda x: 2 * x, {"x": 1.0}, {"x": 0.1})
    assert monte_carlo(*args, seed=3) == monte_carlo(*args, seed=3)
    assert monte_carlo(*args, seed=3) != monte_carlo(*args, seed=4)
    with pytest.raises(ModelInputError, match="'y' is no input"):
        monte_carlo(lambda x: x, {"x": 1.0}, {"y": 1.0})
    with pytest.raises(ModelInputError, match="'square'"):
        monte_carlo(lambda x: x, {"x": 1.0}, {"x": 1.0}, shapes={"x": "square"})
