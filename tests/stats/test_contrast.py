"""Ratios with intervals, checked against closed forms and published examples."""

import math

import pytest

from cracktie.stats.contrast import critical_ratios, difference_ratio, ratio, t_quantile
from cracktie.stats.scatter import Scatter, log_sd, pooled, prior_dof, scatter


def test_student_quantiles_of_the_printed_table():
    # Student's t, two-sided 95 %: 12.706 (1), 2.447 (6), 2.228 (10), 1.960 (infinite); any printed t table
    for dof, printed in ((1, "12.706"), (6, "2.447"), (10, "2.228"), (math.inf, "1.960")):
        assert t_quantile(0.975, dof) == pytest.approx(float(printed), abs=5e-4)


def test_default_prior_is_worth_about_six_degrees_of_freedom():
    assert prior_dof(0.08, 0.05, 0.15) == pytest.approx(5.12, abs=0.01)  # hand: 0.5/(0.10/0.32)^2


def test_one_beam_against_one_with_known_scatter():
    # hand: exp(1.95996 * sqrt(ln(1 + 0.08^2)) * sqrt 2) = exp(0.22138) = 1.2478
    found = ratio([146.0], [100.0], Scatter(log_sd(0.08), math.inf, "known"))
    assert found.critical == pytest.approx(1.2478, abs=1e-4)
    assert found.value == pytest.approx(1.46)
    assert (found.low, found.high) == (pytest.approx(1.46 / 1.2478, abs=2e-4), pytest.approx(1.46 * 1.2478, abs=2e-4))
    assert found.verdict == "resolved"


def test_interval_with_six_degrees_of_freedom_is_wider():
    # hand: exp(2.44691 * 0.0798724 * sqrt 2) = exp(0.276395) = 1.3184
    found = ratio([120.0], [100.0], Scatter(log_sd(0.08), 6, "x"))
    assert found.critical == pytest.approx(1.3184, abs=1e-4)
    assert found.verdict == "not resolved"


def test_lower_bound_has_no_upper_limit():
    found = ratio([150.0], [100.0], Scatter(log_sd(0.08), 6, "x"), bound=True)
    assert found.high is None
    assert found.verdict == "lower bound, above 1"


def test_pooled_variance_by_hand():
    # ln 1.1 = 0.0953102; the pair (1, 1.1) has variance (0.0953102/2)^2 * 2 = 0.00454202
    variance, dof = pooled([[1.0, 1.1], [5.0]])
    assert dof == 1
    assert variance == pytest.approx(0.00454202, abs=1e-8)


def test_replicates_move_the_scatter_and_are_named():
    prior, updated = scatter(), scatter([[100.0, 100.0, 100.0]])
    assert updated.s < prior.s
    assert updated.dof == prior.dof + 2
    assert "own replicates" in updated.origin
    assert "assumed, common practice, no source" in prior.origin


def test_other_scatters_are_shown():
    # exp(1.95996 * sqrt(ln(1 + cv^2)) * sqrt 2) for 5, 8, 15 %
    found = critical_ratios((1, 1), 6)
    assert [round(v, 2) for v in found.values()] == [1.15, 1.25, 1.51]


def test_fieller_with_exact_denominator_is_a_plain_interval():
    value, low, high = difference_ratio(30.0, 10.0, 0.0, (2.0, 0.0, 0.0), math.inf)
    assert value == 3.0
    assert (low, high) == (pytest.approx(3 - 1.959964 * 0.2), pytest.approx(3 + 1.959964 * 0.2))


def test_fieller_is_unbounded_when_the_denominator_may_be_zero():
    assert difference_ratio(30.0, 10.0, 5.0, (2.0, 4.0, 4.0), 6)[1:] == (None, None)


@pytest.mark.parametrize("bad", [([], [1.0]), ([1.0], [0.0])])
def test_empty_or_zero_is_refused(bad):
    with pytest.raises(ValueError, match="positive"):
        ratio(*bad, Scatter(0.08, 6, "x"))


@pytest.mark.parametrize("u", [(8.0, 8.0, 0.0), (8.0, 8.0, 5.0), (3.0, 6.0, 9.0)])
def test_fieller_with_a_shared_control(u):
    """At a limit r the form (top - c) - r (bottom - c) is t times its own standard uncertainty.

    By hand: its slopes are 1, -r and -(1 - r), so u^2 = u_top^2 + r^2 u_bottom^2 + (1 - r)^2 u_c^2.
    """
    top, bottom, common, dof = 270.0, 240.0, 150.0, 4
    value, low, high = difference_ratio(top, bottom, common, u, dof)
    assert value == pytest.approx(120 / 90)
    assert low < value < high
    for r in (low, high):
        spread = math.sqrt(u[0] ** 2 + (r * u[1]) ** 2 + ((1 - r) * u[2]) ** 2)
        assert abs((top - common) - r * (bottom - common)) == pytest.approx(2.776445 * spread, rel=1e-6)
