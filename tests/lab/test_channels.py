"""Zero, flags, dead gauges, noise and filter against exact constructions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.errors import ModelInputError
from cracktie.lab.channels import (
    MAD_TO_SIGMA,
    Channel,
    apply_factor,
    apply_sign,
    drop_dead,
    find_gauge_loss,
    guard_mask,
    hampel_flags,
    lowpass,
    noise,
    remove_offset,
    remove_zero,
    running_median,
    step_noise,
    without_flagged,
    zero_drift,
    zero_window,
)
from cracktie.lab.trail import Trail


def test_mad_constant():
    from scipy import stats

    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-12) == MAD_TO_SIGMA


def test_hampel_worked_example():
    """Worked by hand: median 1.0, MAD 0.1, limit 3.5 * 1.4826 * 0.1 = 0.519; only 9.0 lies outside."""
    x = [1.0, 1.1, 0.9, 9.0, 1.0]
    assert hampel_flags(x, half_width=4).tolist() == [False, False, False, True, False]
    assert not hampel_flags(x, half_width=4, guard=[False, False, False, True, False]).any()
    assert not hampel_flags([1.0, 1.1, 0.9, 1.518, 1.0], half_width=4)[3]
    assert hampel_flags([1.0, 1.1, 0.9, 1.520, 1.0], half_width=4)[3]


def test_hampel_on_long_records_equals_the_plain_definition():
    rng = np.random.default_rng(3)
    x = np.cumsum(rng.normal(size=400))
    x[[50, 200]] += 40
    x[120] = np.nan
    flags = hampel_flags(x, half_width=4)
    for i in range(4, 396):
        window = x[i - 4 : i + 5][np.isfinite(x[i - 4 : i + 5])]
        middle = np.median(window)
        limit = 3.5 * MAD_TO_SIGMA * np.median(np.abs(window - middle))
        assert flags[i] == (np.isfinite(x[i]) and abs(x[i] - middle) > limit)
    assert flags[50]
    assert flags[200]


def test_quantised_signal_needs_a_floor():
    x = np.array([0.0, 0, 0, 1, 0, 0, 0, 0])
    assert hampel_flags(x)[3]
    assert not hampel_flags(x, floor=2.0).any()


def test_guard_window():
    assert guard_mask(np.arange(0, 5, 0.5), [2.0]).tolist() == [
        False,
        False,
        False,
        True,
        True,
        True,
        False,
        False,
        False,
        False,
    ]


def test_zero_window_median_and_error():
    t = np.arange(2000) / 10
    x = np.random.default_rng(1).normal(5.0, 0.2, t.size)
    x[500] = 1e6
    zero = zero_window(t, x, 0, 100)
    assert zero.readings == 1001
    assert zero.sigma == pytest.approx(0.2, rel=0.1)
    assert zero.u == pytest.approx(1.2533 * 0.2 / 1001**0.5, rel=0.1)
    assert abs(zero.value - 5.0) < 4 * zero.u
    later = zero_window(t, x + 0.03, 100, 199)
    change, u = zero_drift(zero, later)
    assert change == pytest.approx(0.03, abs=4 * u)
    with pytest.raises(ModelInputError, match="holds 0 readings"):
        zero_window(t, x, 900, 910)


def test_the_stated_error_of_the_zero_is_the_scatter_of_zeros():
    rng = np.random.default_rng(2)
    t = np.arange(51.0)
    zeros = [zero_window(t, rng.normal(0, 1, 51), 0, 50) for _ in range(600)]
    assert np.std([z.value for z in zeros]) == pytest.approx(np.mean([z.u for z in zeros]), rel=0.1)


def test_steps_leave_the_raw_values_alone_and_keep_a_trail():
    t, x = np.arange(10.0), np.arange(10.0) - 3
    raw = Channel("load", "V", t, x)
    zeroed, zero = remove_zero(raw, 0, 4)
    done = apply_factor(apply_sign(remove_offset(zeroed, 1.0), -1), 25.0, "kN")
    assert zero.value == -1.0
    assert done.values.tolist() == [-25.0 * (v + 1.0 - 1.0) for v in x]
    assert done.unit == "kN"
    assert raw.values.tolist() == x.tolist()
    assert [s.name for s in done.trail] == ["remove_zero", "remove_offset", "apply_sign", "apply_factor"]
    assert done.trail.steps[0].rows == 10
    assert dict(done.trail.steps[0].arguments)["zero"] == -1.0
    assert len(raw.trail) == 0
    x[0] = 99.0
    assert raw.values[0] == -3.0
    with pytest.raises(ValueError):
        raw.values[0] = 1.0
    flagged = without_flagged(raw, np.arange(10) == 4)
    assert np.isnan(flagged.values[4])
    step = {"name": "without_flagged", "arguments": {"channel": "load"}, "rows": 1, "first": 4, "last": 4}
    assert flagged.trail.to_list() == [step]


def test_trail_prints_what_was_done():
    trail = Trail().add("remove_zero", {"start_s": 1.5}, np.array([3, 9, 4]))
    assert str(trail.steps[0]) == "remove_zero(start_s=1.5): 3 rows, rows 3 to 9"
    assert len(Trail().add("x", rows=np.zeros(3, dtype=bool)).steps) == 1


@pytest.mark.parametrize(
    "call",
    [
        lambda c: apply_sign(c, 2),
        lambda c: apply_factor(c, 0.0),
        lambda c: Channel("a", "", [1.0], [1.0, 2.0]),
        lambda c: hampel_flags([1.0], half_width=0),
        lambda c: noise([0.0], [1.0], 0, 1),
        lambda c: lowpass([0.0] * 50, 10.0, 9.0),
    ],
)
def test_impossible_steps_are_refused(call):
    with pytest.raises(ModelInputError):
        call(Channel("a", "", [0.0, 1.0], [0.0, 1.0]))


def test_noise_does_not_see_the_slope():
    t = np.arange(5000) / 100
    x = 7 * t + np.random.default_rng(4).normal(0, 0.5, t.size)
    assert noise(t, x, 0, 50) == pytest.approx(0.5, rel=0.05)
    assert step_noise(x) == pytest.approx(0.5, rel=0.05)


@given(st.floats(0.5, 20))
def test_two_pass_gain_at_the_cut_off(cutoff):
    """The gain of forward and backward filtering at the stated cut-off is 1/sqrt(2), without phase shift."""
    rate = 100.0
    t = np.arange(8000) / rate
    x = np.sin(2 * np.pi * cutoff * t)
    y = lowpass(x, rate, cutoff)
    inner = slice(2000, 6000)
    quadrature = np.cos(2 * np.pi * cutoff * t)[inner]
    gain = (y[inner] @ x[inner]) / (x[inner] @ x[inner])
    assert gain == pytest.approx(2**-0.5, rel=2e-3)
    assert abs(y[inner] @ quadrature) / (x[inner] @ x[inner]) < 5e-3


def test_filter_does_not_smear_a_drop():
    x = np.concatenate((np.full(100, 10.0), np.full(100, 4.0)))
    y = lowpass(x, 10.0, 1.0, splits=[100])
    np.testing.assert_allclose(y, x)
    assert abs(lowpass(x, 10.0, 1.0)[99] - 10.0) > 1.0


T = np.arange(3000) / 50


def ramp(seed=0):
    return T * 100e-6 + np.random.default_rng(seed).normal(0, 3e-6, T.size)


def test_a_sound_gauge_is_not_lost():
    assert find_gauge_loss(T, ramp()) is None
    debonded = np.where(T > 40, 500e-6, ramp())
    assert find_gauge_loss(T, debonded + np.random.default_rng(1).normal(0, 3e-6, T.size)) is None


@pytest.mark.parametrize("fault", ["open", "jump", "negative jump", "missing", "frozen"])
def test_gauge_loss_is_found_at_its_row(fault):
    x = ramp()
    x[2000:] = {
        "open": 0.08,
        "jump": x[2000:] + 0.012,
        "negative jump": x[2000:] - 0.012,
        "missing": np.nan,
        "frozen": x[2000],
    }[fault]
    loss = find_gauge_loss(T, x)
    assert loss is not None
    assert abs(loss.row - 2000) <= 1
    dead = drop_dead(Channel("e", "-", T, x), loss)
    assert np.isnan(dead.values[loss.row :]).all()
    assert np.isfinite(dead.values[:1999]).all()
    assert dead.trail.steps[-1].name == "drop_dead"


def test_a_spike_is_no_gauge_loss():
    x = ramp()
    x[1000] = 0.08
    assert find_gauge_loss(T, x) is None


@given(st.lists(st.sampled_from([np.nan, *np.arange(-3.0, 4.0)]), min_size=1, max_size=30))
def test_running_median_is_that_of_the_finite_readings_round_each_row(values):
    x = np.array(values)
    for half in (1, 2, 3):
        rows = [x[max(0, i - half) : i + half + 1] for i in range(x.size)]
        expected = [np.median(r[np.isfinite(r)]) if np.isfinite(r).any() else np.nan for r in rows]
        assert np.array_equal(running_median(x, half), expected, equal_nan=True)
