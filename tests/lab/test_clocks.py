"""Two clocks: known shifts are found, quiet or periodic records are asked about."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.clocks import parabola_peak, spread_stamps, synchronise


def signal(t):
    """A loading with holds, an unloading and a drop; smooth enough to be sampled at 10 Hz."""
    knots = np.array([0, 20, 35, 50, 62, 70, 95, 110, 113, 140, 160.0])
    level = np.array([0, 30, 30, 62, 15, 60, 118, 118, 84, 96, 20.0])
    return np.interp(t, knots, level) + 1.5 * np.sin(0.9 * t) * np.exp(-(((t - 80) / 30) ** 2))


def pair(lag, seed=7, noise=0.05, drift=0.0):
    rng = np.random.default_rng(seed)
    ta = np.arange(0, 160, 0.1)
    tb = np.arange(0, 140, 0.05)
    true = tb * (1 + drift) + lag
    return ta, signal(ta) + rng.normal(0, noise, ta.size), tb, -3.0 + 0.7 * signal(true) + rng.normal(0, noise, tb.size)


def test_parabola():
    """Through 3, 5, 4: top at +1/6 of a step (hand)."""
    assert parabola_peak(3, 5, 4) == pytest.approx(1 / 6)
    assert parabola_peak(1, 1, 1) == 0.0


@pytest.mark.parametrize("lag", [1.234, -4.017, 0.0, 12.5])
def test_known_lag(lag):
    found = synchronise(*pair(lag), max_shift=20)
    assert found.status == "accepted"
    assert found.offset == pytest.approx(lag, abs=0.03)
    assert abs(found.offset - lag) < 3 * found.u
    assert found.peak > 0.9
    assert found.to_a([0.0, 1.0]) == pytest.approx([found.offset, 1 + found.offset])


def test_stated_uncertainty_covers_the_error():
    errors = []
    for seed in range(20):
        found = synchronise(*pair(1.0 + 0.013 * seed, seed=seed, noise=0.2), max_shift=10, cutoff=0.5)
        assert found.status == "accepted"
        errors.append((found.offset - 1.0 - 0.013 * seed) / found.u)
    assert np.mean(np.abs(errors) < 2) >= 0.9


def test_drift():
    found = synchronise(*pair(1.5, drift=2e-3, noise=0.02), max_shift=10, drift=True)
    assert found.status == "accepted"
    assert found.drift == pytest.approx(2e-3, abs=4e-4)
    assert found.to_a([20.0, 120.0]) == pytest.approx([20 * 1.002 + 1.5, 120 * 1.002 + 1.5], abs=0.1)
    still = synchronise(*pair(1.5, noise=0.02), max_shift=10, drift=True)
    assert still.drift == pytest.approx(0.0, abs=4e-4)


def test_noise_only_is_asked():
    rng = np.random.default_rng(1)
    t = np.arange(0, 200, 0.1)
    found = synchronise(t, rng.normal(size=t.size), t, rng.normal(size=t.size), max_shift=60)
    assert found.status == "asked"
    assert "needed more than" in found.reason
    with pytest.raises(ModelInputError, match="not synchronised"):
        found.to_a([1.0])


def test_a_periodic_signal_is_asked():
    """Equal cycles fit each other at several shifts: high correlation, no second-peak distance."""
    t = np.arange(0, 200, 0.1)
    found = synchronise(t, np.sin(t), t, np.sin(t + 1.0), max_shift=30)
    assert found.peak > 0.9
    assert found.status == "asked"


def test_opposite_sign_is_asked():
    ta, a, tb, b = pair(1.2)
    assert synchronise(ta, a, tb, -b, max_shift=10).status == "asked"


def test_a_shift_beyond_the_limit_is_asked():
    assert synchronise(*pair(12.5), max_shift=5).status == "asked"


def test_flat_records_are_asked():
    t = np.arange(0, 50, 0.1)
    assert synchronise(t, np.ones(t.size), t, signal(t), max_shift=5).status == "asked"


def test_too_short():
    with pytest.raises(ModelInputError, match="at least 20"):
        synchronise([0, 1], [0, 1], [0, 1], [0, 1], max_shift=5)


def test_spread_stamps():
    assert spread_stamps([5, 5, 6, 6, 7, 7, 8, 8]) == pytest.approx([5, 5.5, 6, 6.5, 7, 7.5, 8, 8.5])
    assert spread_stamps([5, 6, 6, 7, 7, 8]) == pytest.approx([5.5, 6, 6.5, 7, 7.5, 8])
    with pytest.raises(ModelInputError, match="second 7 holds 5 rows"):
        spread_stamps([5, 5, 6, 6, 7, 7, 7, 7, 7, 8, 8, 9, 9])
    with pytest.raises(ModelInputError, match="backwards"):
        spread_stamps([5, 5, 4, 4, 6, 6])


def hour(t, seed=3):
    """An hour of loading in 60 uneven pieces, with six sudden falls."""
    rng = np.random.default_rng(seed)
    knots = np.sort(rng.uniform(0, 3600, 60))
    x = np.interp(t, knots, np.cumsum(rng.normal(3, 12, 60)))
    for k in rng.uniform(700, 3600, 6):
        x = x - np.where(t > k, 5 * np.exp(-np.abs(t - k) / 30), 0)
    return x


def two_rates(ppm, seed):
    rng = np.random.default_rng(seed)
    ta, tb = np.arange(0, 3600, 0.1), np.arange(0, 3400, 0.5)
    true = tb * (1 + ppm * 1e-6) + 47.3
    b = 2 * hour(true) - 1 + rng.normal(0, 0.2, tb.size)
    return (ta, hour(ta) + rng.normal(0, 0.1, ta.size), tb, b), true


@pytest.mark.parametrize("ppm", [0.0, 50.0, -50.0, 500.0, -500.0])
def test_drift_over_an_hour_between_loggers_of_different_rates(ppm):
    """10 and 2 readings a second, 47.3 s apart: everywhere within 2.5 u; 500 ppm (1.7 s) is taken off, 50 ppm is less
    than an hour of such readings can show and stays inside u."""
    for seed in (1, 2):
        args, true = two_rates(ppm, seed)
        found = synchronise(*args, max_shift=900, drift=True)
        assert found.status == "accepted"
        assert np.abs(found.to_a(args[2]) - true).max() < 2.5 * found.u
        assert found.u < 0.4
        assert (abs(found.drift) > 300e-6) == (abs(ppm) > 300)


def test_a_drift_that_smears_the_whole_away_is_still_found():
    """2000 ppm: 6.8 s over the record."""
    args, true = two_rates(2000.0, 1)
    found = synchronise(*args, max_shift=900, drift=True)
    assert found.drift == pytest.approx(2000e-6, abs=400e-6)
    assert np.abs(found.to_a(args[2]) - true).max() < 1.0


def test_a_line_without_resolution_says_nothing_of_drift():
    """Loading and unloading in 400 s, then rest: the few pieces with a signal lie close together, so a line through
    their shifts leaves 1 % open. That no clock drifts; the shift of 12.3 s keeps its own uncertainty."""
    rng = np.random.default_rng(4)
    times, loads = [0, 40, 60, 200, 220, 320, 325, 400], [0, 0, 5, 5, 9, 9, 2, 2]
    t_a, t_b = np.arange(0.0, 400.0, 0.1), np.arange(0.0, 370.0, 0.2)
    one = np.interp(t_a, times, loads) + rng.normal(0.0, 0.02, t_a.size)
    two = np.interp(t_b + 12.3, times, loads) + rng.normal(0.0, 0.02, t_b.size)
    found = synchronise(t_a, one, t_b, two, max_shift=40.0, drift=True)
    assert found.status == "accepted"
    assert found.u == synchronise(t_a, one, t_b, two, max_shift=40.0).u
    assert abs(found.offset - 12.3) < 2.0 * found.u
    assert "drift cannot be told" in found.reason


def test_no_drift_can_be_told_from_one_event():
    """A single ramp in a long rest places the shift; the reason says that drift stays open."""
    t = np.arange(0, 600, 0.1)
    rng = np.random.default_rng(1)
    one, two = (np.interp(t + s, [0, 300, 310, 320, 600], [0, 0, 30, 5, 5]) for s in (0.0, 3.0))
    one, two = one + rng.normal(0, 0.02, t.size), two + rng.normal(0, 0.02, t.size)
    found = synchronise(t, one, t, two, max_shift=60, drift=True)
    assert found.status == "accepted"
    assert found.offset == pytest.approx(3.0, abs=0.1)
    assert "drift cannot be told" in found.reason
