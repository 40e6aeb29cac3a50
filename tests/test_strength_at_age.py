"""Strength at the age of a test: a curve through three or more ages, against the code's own curve and by hand."""

from __future__ import annotations

import math

import pytest

from cracktie.campaign.materials import Concrete, StrengthTest
from cracktie.member import measured_strength
from cracktie.member.strength import fitted_strength
from cracktie.units import Quantity


def batch(tests, how="fitted"):
    groups = tuple(StrengthTest(age=Quantity(a), f_c=Quantity(f, u)) for a, f, u in tests)
    return Concrete(strength=groups, strength_at_age=how)


def code_curve(age, f_28=38.0, s=0.25):
    """EN 1992-1-1:2004, (3.1) and (3.2): beta_cc(t) = exp(s (1 - sqrt(28/t))); s = 0.25 for class N."""
    return f_28 * math.exp(s * (1.0 - math.sqrt(28.0 / age)))


def test_the_curve_of_the_code_is_returned():
    """Points on the curve of EN 1992-1-1 (3.2), class N; at 7 d it gives 0.7788 of the strength at 28 d."""
    tests = [(a, code_curve(a), 0.4) for a in (7.0, 28.0, 90.0)]
    for age in (7.0, 14.0, 45.0, 180.0):
        value, _, how = measured_strength(batch(tests), age)
        assert value == pytest.approx(code_curve(age), rel=1e-9)
        assert ("OUTSIDE" in how) == (age > 90.0)
    assert f"{measured_strength(batch(tests), 7.0)[0] / 38.0:.4f}" == "0.7788"
    assert "s = 0.25" in measured_strength(batch(tests), 14.0)[2]


def test_the_choice_is_named_and_two_ages_stay_interpolated():
    tests = [(7.0, 30.0, 0.4), (28.0, 38.0, 0.5), (90.0, 41.0, 0.5)]
    assert "interpolated" in measured_strength(batch(tests, "interpolated"), 14.0)[2]
    assert "curve through cylinders at 7, 28, 90 d" in measured_strength(batch(tests), 14.0)[2]
    value, u, how = measured_strength(batch(tests[:2]), 14.0)
    assert (value, u) == measured_strength(batch(tests[:2], "interpolated"), 14.0)[:2]
    assert how.endswith("no curve is fitted to 2 ages, 3 are needed")


def test_uncertainty_by_hand():
    """Equal relative u of 1 % at abscissae -1, 0, 0.5 (7, 28, 112 d): mean -1/6, spread 7/6.

    At 28 d: u_rel = 0.01 sqrt(1/3 + (1/6)^2 / (7/6)) = 0.01 sqrt(5/14) while the residuals are smaller than stated.
    """
    tests = [(a, code_curve(a), 0.01 * code_curve(a)) for a in (7.0, 28.0, 112.0)]
    value, u, _ = measured_strength(batch(tests), 28.0)
    assert u / value == pytest.approx(0.01 * math.sqrt(5.0 / 14.0))


def test_the_stated_interval_holds_the_truth_as_often_as_it_says():
    """400 sets of noisy tests at four ages, seeded: about 95 % of the intervals of two u hold the truth."""
    import random

    draw, inside = random.Random(5), 0
    for _ in range(400):
        true = {a: code_curve(a) for a in (3.0, 7.0, 28.0, 90.0)}
        tests = [(a, f * (1 + 0.02 * draw.gauss(0, 1)), 0.02 * f) for a, f in true.items()]
        value, u, _ = fitted_strength(batch(tests).strength, 45.0)
        inside += abs(value - code_curve(45.0)) <= 2.0 * u
    assert 0.93 <= inside / 400 <= 0.99
