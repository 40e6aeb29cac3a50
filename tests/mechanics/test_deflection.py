"""Deflection from curvatures: elastic closed forms, convergence, effective stiffness at its limits."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.mechanics.deflection import (
    beam_deflection,
    bischoff,
    branson,
    curvature_at,
    deflection,
    stiffened,
)

EI = 1e13
SPAN = 3000.0


def moment(x: np.ndarray, loads: list[tuple[float, float]]) -> np.ndarray:
    total = np.zeros_like(x)
    for force, place in loads:
        total += force * np.where(x <= place, x * (SPAN - place), place * (SPAN - x)) / SPAN
    return total


def test_one_load() -> None:
    """P a^2 b^2/(3 E I L) under the load (textbook): 90 kN at 1 m of 3 m gives 4 mm."""
    x = np.linspace(0.0, SPAN, 3001)
    got = deflection(x, moment(x, [(90e3, 1000.0)]) / EI, SPAN, 1000.0)
    assert got == pytest.approx(90e3 * 1000**2 * 2000**2 / (3 * EI * SPAN), rel=1e-6)
    assert got == pytest.approx(4.0, rel=1e-6)


def test_two_loads() -> None:
    """P a (3 L^2 - 4 a^2)/(24 E I) at midspan, P each (textbook)."""
    x = np.linspace(0.0, SPAN, 3001)
    got = deflection(x, moment(x, [(50e3, 1000.0), (50e3, 2000.0)]) / EI, SPAN, 1500.0)
    assert got == pytest.approx(50e3 * 1000 * (3 * SPAN**2 - 4 * 1000**2) / (24 * EI), rel=1e-6)


def test_error_falls_with_the_square_of_the_step() -> None:
    exact = 90e3 * 1000**2 * 2000**2 / (3 * EI * SPAN)
    errors = []
    for n in (30, 60):
        x = np.linspace(0.0, SPAN, n + 1)
        errors.append(abs(deflection(x, moment(x, [(90e3, 1000.0)]) / EI, SPAN, 1000.0) - exact))
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.01)


def test_many_beams_at_once() -> None:
    x = np.linspace(0.0, SPAN, 301)
    curvature = np.outer([1.0, 2.0], moment(x, [(90e3, 1000.0)]) / EI)
    got = deflection(x, curvature, SPAN, 1000.0)
    assert got.shape == (2,)
    assert got[1] == pytest.approx(2 * got[0])


def test_tension_stiffening() -> None:
    """zeta = 0 up to cracking, 0.75 at twice the cracking moment, towards 1 above."""
    got = stiffened(1.0, 5.0, np.array([5.0, 10.0, 20.0, 1e6]), 10.0)
    assert got.tolist() == pytest.approx([1.0, 1.0, 4.0, 5.0])
    assert stiffened(1.0, 5.0, 20.0, 10.0, load_factor=0.5) == pytest.approx(4.5)


def test_effective_stiffness() -> None:
    for rule in (branson, bischoff):
        assert rule(1e12, 1e7, 5e8, 1e8) == pytest.approx(1e8)
        assert rule(0.5e7, 1e7, 5e8, 1e8) == pytest.approx(5e8)
    assert branson(1e7, 1e7, 5e8, 1e8) == pytest.approx(5e8)
    assert bischoff(2e7, 1e7, 5e8, 1e8) == pytest.approx(1e8 / (1 - (1 / 3) ** 2 * 0.8))
    assert bischoff(2e7, 1e7, 5e8, 1e8, share=1.0) == pytest.approx(1e8 / (1 - 0.25 * 0.8))


def test_curvature_on_the_rising_part() -> None:
    line_m = np.array([10.0, 20.0, 18.0, 30.0, 25.0, np.nan])
    line_c = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    got = curvature_at([0.0, 5.0, 20.0, 25.0, 30.0, 30.1], line_m, line_c)
    assert got[:5].tolist() == pytest.approx([0.0, 0.5, 2.0, 3.0, 4.0])
    assert np.isnan(got[5])


def test_beam_between_uncracked_and_cracked() -> None:
    """A linear cracked section five times softer: uncracked up to M_cr, then between the two, towards the softer."""
    x = np.linspace(0.0, SPAN, 601)
    line = np.linspace(1e6, 400e6, 50)
    beam = {
        "span_length": SPAN,
        "x_0": 1500.0,
        "curve_moment": line,
        "curve_curvature": line / (EI / 5),
        "stiffness": EI,
        "cracking": 20e6,
    }
    whole = {}
    for load in (10e3, 30e3, 100e3, 390e3):
        m = moment(x, [(load, 1500.0)])
        elastic = load * SPAN**3 / 48 / EI
        whole[load] = beam_deflection(x, m, **beam) / elastic
    assert whole[10e3] == pytest.approx(1.0, rel=1e-4)
    assert 1.0 < whole[30e3] < whole[100e3] < whole[390e3] < 5.0
    assert whole[390e3] > 4.8
    assert np.isnan(beam_deflection(x, moment(x, [(600e3, 1500.0)]), **beam))
