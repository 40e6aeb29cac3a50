"""Event detectors on an invented test whose truth is known, with each fault on and off."""

from __future__ import annotations

import itertools
import sys
from pathlib import Path

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.cracks import first_diagonal_crack, first_flexural_crack
from cracktie.lab.debonding import leg_events
from cracktie.lab.events import after_peak, loading_envelope, peak
from cracktie.lab.hinge import fit_hinge
from cracktie.lab.legs import Leg, LegGauge
from cracktie.lab.load_drops import load_drops

sys.path.insert(0, str(Path(__file__).parent))
from beam_record import record


def first_debonding(time, load, strips, deflection=None):
    """The first debonding where every gauge is the only one of its leg, and the lost gauges."""
    legs = [Leg(i, "front", [LegGauge(name, values)]) for i, (name, values) in enumerate(strips.items(), start=1)]
    found, losses = leg_events(time, load, legs, deflection=deflection)
    return next((e for e in found if e.kind == "debonding"), None), losses


SWITCHES = list(itertools.product([True, False], repeat=3))


def test_kink_of_two_exact_lines():
    """Slope 30 to 1.0 mm, then 12: the fit returns 1.0 mm (exact construction)."""
    x = np.linspace(0, 3, 61)
    hinge = fit_hinge(x, np.where(x < 1, 30 * x, 30 + 12 * (x - 1)))
    assert hinge.at == pytest.approx(1.0, abs=1e-6)
    assert hinge.value == pytest.approx(30.0, abs=1e-4)
    assert (hinge.slope_before, hinge.slope_after) == pytest.approx((30.0, 12.0), rel=1e-6)
    off_grid = fit_hinge(x, np.where(x < 1.0137, 30 * x, 30.411 + 12 * (x - 1.0137)))
    assert off_grid.at == pytest.approx(1.0137, abs=1e-5)


def test_kink_error_is_the_scatter_of_kinks():
    rng = np.random.default_rng(1)
    x = np.linspace(0, 3, 120)
    y = np.where(x < 1, 30 * x, 30 + 12 * (x - 1))
    fits = [fit_hinge(x, y + rng.normal(0, 1.0, x.size)) for _ in range(120)]
    assert np.std([f.at for f in fits]) == pytest.approx(np.mean([f.u_at for f in fits]), rel=0.25)
    assert np.mean([f.at for f in fits]) == pytest.approx(1.0, abs=0.02)


def test_one_line_has_no_kink():
    x = np.linspace(0, 3, 200)
    values = [fit_hinge(x, 5 * x + np.random.default_rng(s).normal(0, 0.1, 200)).p_value for s in range(20)]
    assert np.mean(np.array(values) > 0.001) >= 0.9
    assert fit_hinge([1.0] * 10, np.arange(10)) is None


def test_envelope():
    running, on = loading_envelope([0, 5, 10, 6, 9, 10.05, 12])
    assert running.tolist() == [0, 5, 10, 10, 10, 10.05, 12]
    assert on.tolist() == [True, True, True, False, False, True, True]


@pytest.mark.parametrize(("unloading", "debonding", "lost"), SWITCHES)
@pytest.mark.parametrize("seed", [0, 1])
def test_all_planted_events_are_found(unloading, debonding, lost, seed):
    r = record(seed=seed, unloading=unloading, debonding=debonding, lost=lost)
    flexural = first_flexural_crack(r.time, r.deflection, r.load)
    assert flexural.value == pytest.approx(40.0, abs=1.5)
    assert abs(flexural.value - 40.0) < 4 * flexural.u + 0.3
    diagonal = first_diagonal_crack(r.time, r.load, r.stirrups | r.strips, deflection=r.deflection)
    assert diagonal.value == pytest.approx(110.0, abs=4.0)
    assert diagonal.confidence > 0.6
    found, losses = first_debonding(r.time, r.load, r.strips)
    assert set(losses) == ({"f4"} if lost else set())
    if debonding:
        assert found.time == pytest.approx(r.truth["debonding time"], abs=0.3)
        assert found.value == pytest.approx(190.0, abs=1.0)
        assert found.evidence.startswith("f2 falls")
        assert found.confidence > 0.8
    else:
        # only the failure itself is left
        assert found is None or found.time > r.truth["peak time"] - 0.6
    top = peak(r.time, r.load)
    assert top.value == pytest.approx(240.0, abs=0.8)
    end = after_peak(r.time, r.load, deflection=r.deflection)
    assert end.value == pytest.approx(0.85 * top.value)
    assert end.time == pytest.approx(r.truth["peak time"] + 0.16, abs=0.06)
    drops = load_drops(r.time, r.load, deflection=r.deflection)
    assert [round(event.value, -1) for event in drops] == ([190.0, 240.0] if debonding else [240.0])


def test_a_lost_gauge_is_no_debonding():
    r = record(debonding=False, lost=True)
    strips = {name: values[r.time < r.truth["peak time"] - 1] for name, values in r.strips.items()}
    keep = r.time < r.truth["peak time"] - 1
    found, losses = first_debonding(r.time[keep], r.load[keep], strips)
    assert found is None
    assert losses["f4"].time == pytest.approx(130.0, abs=0.2)


def test_fast_unloading_by_the_operator_is_no_event():
    t = np.arange(0, 100, 0.05)
    p = np.interp(t, [0, 60, 62, 64, 100], [0, 150, 40, 40, 170])
    rng = np.random.default_rng(0)
    d = np.maximum.accumulate(p) / 40 - (np.maximum.accumulate(p) - p) / 60
    strips = {k: p * 22e-6 + rng.normal(0, 4e-6, t.size) for k in "ab"}
    load = p + rng.normal(0, 0.1, t.size)
    assert load_drops(t, load, deflection=d) == []
    assert load_drops(t, load) == []
    assert first_debonding(t, load, strips)[0] is None
    assert after_peak(t, load, deflection=d) is None


def test_unloading_at_the_end_is_no_post_peak():
    t = np.arange(0, 60, 0.1)
    p = np.interp(t, [0, 40, 60], [0, 200, 0])
    d = p / 40
    assert after_peak(t, p, deflection=d) is None
    slow = after_peak(t, p)
    assert slow.confidence < 0.7
    assert "unloading" in slow.evidence


def test_85_percent_between_two_readings():
    """Readings 200 then 150 one second later: 170 is reached 0.6 s after the peak (hand)."""
    event = after_peak([0, 1, 2, 3, 4], [0, 100, 200, 150, 150], deflection=[0, 2, 4, 6, 8])
    assert event.time == pytest.approx(2.6)
    assert event.value == pytest.approx(170.0)
    assert after_peak([0, 1, 2], [0, 100, 200]) is None
    reloaded = after_peak([0, 1, 2, 3, 4, 5], [0, 200, 100, 190, 150, 140], deflection=[0, 4, 2, 5, 6, 7])
    assert reloaded.time == pytest.approx(3.5)


def test_peak_hold_beats_the_log():
    event = peak([0, 1, 2], [0, 99.0, 50], peak_hold=100.0)
    assert event.value == 100.0
    assert "1 % lower" in event.evidence
    assert peak([0, 1, 2], [0, 99.0, 50], peak_hold=98.0).value == 99.0


def test_no_diagonal_crack_before_the_end():
    r = record(diagonal=False, debonding=False, lost=False)
    keep = r.time < r.truth["peak time"] - 1
    gauges = {name: values[keep] for name, values in (r.stirrups | r.strips).items()}
    assert first_diagonal_crack(r.time[keep], r.load[keep], gauges, deflection=r.deflection[keep]) is None


def test_detectors_do_not_change_their_input():
    r = record()
    before = [r.load.copy(), r.deflection.copy(), r.strips["f2"].copy()]
    first_debonding(r.time, r.load, r.strips)
    first_flexural_crack(r.time, r.deflection, r.load)
    load_drops(r.time, r.load, deflection=r.deflection)
    for array, copy in zip((r.load, r.deflection, r.strips["f2"]), before, strict=True):
        np.testing.assert_array_equal(array, copy)


def test_impossible_records_are_refused():
    with pytest.raises(ModelInputError, match="backwards"):
        peak([0, 2, 1], [0, 1, 2])
    with pytest.raises(ModelInputError, match="one each"):
        peak([0, 2], [0, 1, 2])
    with pytest.raises(ModelInputError, match="at least 3"):
        peak([0, 1, 2], [np.nan] * 3)


def test_slow_debonding_is_found_on_the_envelope():
    """f1 sinks by 40 % over 8 s while the load goes on rising and f2 takes over."""
    t = np.arange(0, 100, 0.05)
    rng = np.random.default_rng(2)
    load = 2.0 * t + rng.normal(0, 0.1, t.size)
    going = np.clip((t - 60) / 8, 0, 1)
    f1 = 30e-6 * t * (1 - 0.4 * going) + rng.normal(0, 4e-6, t.size)
    f2 = 30e-6 * t + 300e-6 * going + rng.normal(0, 4e-6, t.size)
    event, losses = first_debonding(t, load, {"f1": f1, "f2": f2})
    assert losses == {}
    assert event.time == pytest.approx(60.0, abs=1.0)
    assert event.method == "strip gauges sink under loading"
    assert event.evidence.startswith("f1 sinks")
    assert first_debonding(t, load, {"f1": 30e-6 * t + rng.normal(0, 4e-6, t.size), "f2": f2})[0] is None


def test_a_spike_is_no_debonding_and_does_not_hide_one():
    r = record(debonding=False, lost=False)
    keep = r.time < r.truth["peak time"] - 1
    strips = {name: values[keep].copy() for name, values in r.strips.items()}
    strips["f1"][4000] += 3e-3
    strips["f2"][4100] -= 1e-3
    assert first_debonding(r.time[keep], r.load[keep], strips)[0] is None
    r = record(lost=False)
    spoiled = {name: values.copy() for name, values in r.strips.items()}
    spoiled["f2"][3000] = 0.02
    event, _ = first_debonding(r.time, r.load, spoiled)
    assert event.time == pytest.approx(r.truth["debonding time"], abs=0.3)


def _uncracked(*changes):
    """Three gauges that follow the load up to 200 kN with a hold at 60 kN; `changes` are added to the first ones."""
    t = np.arange(0.0, 400.0, 0.2)
    load = np.interp(t, [0, 100, 160, 400], [0, 60, 60, 200])
    rng = np.random.default_rng(4)
    gauges = {f"W{i}": 0.1e-6 * load + rng.normal(0, 2e-6, t.size) for i in range(1, 4)}
    for name, change in zip(gauges, changes, strict=False):
        gauges[name] = gauges[name] + change(t)
    return first_diagonal_crack(t, load + rng.normal(0, 0.05, t.size), gauges, deflection=load / 40.0)


def test_drift_and_range_steps_are_no_diagonal_crack():
    """What a gauge does with time, and what one amplifier does alone, is no crack; the load does not know of it."""
    assert _uncracked() is None
    assert _uncracked(lambda t: 3e-4 * t / 400.0) is None
    assert _uncracked(*[lambda t: 2e-4 * (1 - np.exp(-t / 150.0))] * 3) is None  # all of them warm up
    assert _uncracked(lambda t: np.where(t >= 250.0, 7e-4, 0.0)) is None
    assert _uncracked(lambda t: np.where(t >= 250.0, -7e-4, 0.0)) is None


def test_a_crack_shows_in_one_gauge_alone_and_behind_a_drift():
    opens = lambda t: np.maximum(t - 250.0, 0.0) * 15e-6  # noqa: E731
    event = _uncracked(opens)
    assert event.time == pytest.approx(250.0, abs=2.0)
    assert event.confidence == pytest.approx(0.5)
    both = _uncracked(opens, lambda t: opens(t) + 3e-4 * t / 400.0)
    assert both.time == pytest.approx(250.0, abs=2.0)
    sudden = _uncracked(*[lambda t: np.where(t >= 250.0, 7e-4, 0.0)] * 2)
    assert sudden.time == pytest.approx(250.0, abs=0.5)  # two gauges at one moment are no amplifier
