"""Bracketed roots: known roots, independence of neighbours, refusal without a bracket."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.mechanics.roots import NoBracket, bisect, chandrupatla


def test_square_roots():
    x = np.linspace(1e-6, 1e6, 101)
    np.testing.assert_allclose(chandrupatla(lambda r: r**2 - x, 0.0, x + 1.0), np.sqrt(x), rtol=1e-12)
    np.testing.assert_allclose(bisect(lambda r: x - r**2, 0.0, x + 1.0), np.sqrt(x), rtol=1e-9)


def test_few_evaluations_where_smooth():
    calls = 0

    def f(r):
        nonlocal calls
        calls += 1
        return np.exp(r) - 3.0

    assert chandrupatla(f, 0.0, 5.0) == pytest.approx(np.log(3.0), rel=1e-12)
    assert calls <= 15


def test_flat_and_steep_roots():
    """A ninth-order root and a jump: the safeguard must fall back on halving."""
    assert chandrupatla(lambda r: (r - 1.0) ** 9, -1.0, 4.0, atol=1e-9) == pytest.approx(1.0, abs=1e-2)
    assert chandrupatla(lambda r: np.sign(r - 0.3), 0.0, 1.0) == pytest.approx(0.3, rel=1e-12)


def test_each_case_on_its_own():
    x = np.array([2.0, 1e-9, 5e5])
    together = chandrupatla(lambda r: r**3 - x, 0.0, 1e3)
    alone = [chandrupatla(lambda r, v=v: r**3 - v, 0.0, 1e3) for v in x]
    assert together.tolist() == [float(v) for v in alone]


def test_root_at_an_end():
    assert chandrupatla(lambda r: r, 0.0, 1.0) == 0.0
    assert chandrupatla(lambda r: r - 1.0, 0.0, 1.0) == 1.0


def test_no_bracket_is_refused():
    with pytest.raises(NoBracket, match="1 of 2"):
        chandrupatla(lambda r: r**2 - np.array([1.0, -1.0]), 0.0, 2.0)


def test_bisect_at_its_ends():
    assert bisect(lambda v: -1.0 - v, 0.0, 1.0) == pytest.approx(0.0, abs=1e-12)
    assert bisect(lambda v: 1.0 + 0.0 * v, 0.0, 1.0) == pytest.approx(1.0, abs=1e-12)
