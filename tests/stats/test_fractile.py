"""Fractile factors: remembered printed tables against the distributions they are said to come from."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from cracktie.errors import ModelInputError
from cracktie.stats.fractile import (
    K_KNOWN,
    K_UNKNOWN,
    five_percent,
    five_percent_lognormal,
    guaranteed,
    k_n,
    tolerance_factor,
)

TEN = (3890, 4010, 3765, 3955, 4120, 3840, 3990, 4065, 3910, 3875)


@pytest.mark.parametrize("n", K_UNKNOWN)
def test_unknown_row_is_students_t(n):
    """The printed table (from memory) is t_0.95 sqrt(1 + 1/n) within 0.8 %: a check of the memory, no proof."""
    assert k_n(n) == pytest.approx(stats.t.ppf(0.95, n - 1) * math.sqrt(1 + 1 / n), rel=0.008)


@pytest.mark.parametrize("n", K_KNOWN)
def test_known_row_is_normal(n):
    assert k_n(n, known=True) == pytest.approx(1.64 * math.sqrt(1 + 1 / n), abs=0.0101)


def test_between_rows_and_beyond():
    assert k_n(9) == pytest.approx(stats.t.ppf(0.95, 8) * math.sqrt(10 / 9), rel=0.01)
    assert k_n(15) == pytest.approx(stats.t.ppf(0.95, 14) * math.sqrt(16 / 15), rel=0.01)
    values = [k_n(n) for n in range(3, 400)]
    assert values == sorted(values, reverse=True)
    assert 1.64 < values[-1] < 1.65
    with pytest.raises(ModelInputError, match="2 results are too few"):
        k_n(2)


@pytest.mark.parametrize(("n", "printed"), [(5, "3.400"), (10, "2.568"), (15, "2.329"), (20, "2.208")])
def test_tolerance_factors_90(n, printed):
    """Classical one-sided normal tolerance factors 5 %/90 %, as used in anchor qualification (from memory)."""
    assert f"{tolerance_factor(n, confidence=0.90):.3f}" == printed


@pytest.mark.parametrize(("n", "printed"), [(3, "3.15"), (5, "2.46"), (10, "2.10"), (20, "1.93")])
def test_tolerance_factors_75(n, printed):
    """5 %/75 %, the confidence of EN 14358 (from memory)."""
    assert f"{tolerance_factor(n, confidence=0.75):.2f}" == printed


def test_ten_strips_three_rules():
    mean = sum(TEN) / 10
    s = math.sqrt(sum((x - mean) ** 2 for x in TEN) / 9)
    assert f"{guaranteed(mean, s):.0f}" == "3620"
    assert f"{five_percent(mean, s, 10):.0f}" == "3185"  # the floor V_X = 0.10 rules
    assert f"{five_percent(mean, s, 10, floor=0.0):.0f}" == "3736"
    assert f"{five_percent(mean, s, 10, known_cv=0.05):.0f}" == "3603"
    assert f"{mean - tolerance_factor(10, confidence=0.75) * s:.0f}" == "3716"


def test_log_normal_fractile_by_hand():
    """ln x = 7, 8, 9: m_y = 8, s_y = 1, k_3 = 3.37: exp(4.63). Ten equal values meet the floor: s_y = sqrt(ln 1.01)."""
    assert five_percent_lognormal([math.exp(v) for v in (7, 8, 9)]) == pytest.approx(math.exp(4.63))
    assert five_percent_lognormal([100.0] * 10) == pytest.approx(100 * math.exp(-1.92 * math.sqrt(math.log(1.01))))
    assert five_percent_lognormal([100.0], known_cv=0.05) == pytest.approx(
        100 * math.exp(-2.31 * math.sqrt(math.log(1.0025)))
    )
    with pytest.raises(ModelInputError, match="2 results are too few"):
        five_percent_lognormal([1.0, 2.0])
    with pytest.raises(ModelInputError, match="above 0"):
        five_percent_lognormal([1.0, -2.0, 3.0])


def test_log_normal_lies_above_normal_where_the_floor_rules():
    mean = sum(TEN) / 10
    s = math.sqrt(sum((x - mean) ** 2 for x in TEN) / 9)
    assert five_percent(mean, s, 10) < five_percent_lognormal(TEN) < mean


@pytest.mark.parametrize(
    ("n", "printed"), [(5, ("2.33", "2.46", "3.40", "4.20")), (10, ("1.92", "2.10", "2.57", "2.91"))]
)
def test_which_five_percent_fractile(n, printed):
    """Prediction rule of EN 1990 D1 beside confidence of 75, 90 and 95 % (classical tolerance factors, from memory)."""
    found = [k_n(n), *(tolerance_factor(n, confidence=c) for c in (0.75, 0.90, 0.95))]
    assert [f"{k:.2f}" for k in found] == list(printed)
