"""Spikes are flagged and left out, real falls and brittle events are not, a load is never touched."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.actions import reduce
from cracktie.lab.channels import hampel_flags, lowpass, spike_flags
from cracktie.reduction.gauges import u_reading
from cracktie.reduction.signals import read_signals


def _signals(campaign):
    return read_signals(campaign, "T", campaign.tests["T"], "A")


@pytest.fixture
def cleaned(build, plain, changed):
    """cleaned(columns, **choice): signals of the usual record with other columns and noise on its gauges."""
    record, csv = plain

    def make(columns=None, *, campaign_only=False, **choice):
        rng = np.random.default_rng(11)
        usual = record()
        for name, sigma in (("P", 0.02), ("D", 0.002), ("G1", 2.0), ("G2", 2.0)):
            usual[name] = usual[name] + rng.normal(0.0, sigma, len(usual[name]))
        altered = usual | {n: change(usual[n].copy()) for n, change in (columns or {}).items()}
        reduction = changed("reduction", lambda r: r["tests"]["T"].update(choice))
        campaign = build(logs={"logs/T.csv": csv(altered)}, **reduction)
        return campaign if campaign_only else _signals(campaign)

    return make


def at(rows, by):
    """A change of a column: `by` more in some rows."""

    def change(values):
        values[rows] += by
        return values

    return change


# the rule itself


def test_the_worked_example_of_the_rule():
    """1.0 1.1 0.9 9.0 1.0: median 1.0, MAD 0.1, limit 3.5 x 1.4826 x 0.1 = 0.519 (hand): only 9.0 is flagged."""
    assert hampel_flags([1.0, 1.1, 0.9, 9.0, 1.0], half_width=4).tolist() == [False, False, False, True, False]


def test_single_flags_are_hampels_where_readings_come_back():
    """On noise with 200 spikes both rules agree; a step, a run of three and missing readings are no spikes."""
    rng = np.random.default_rng(5)
    x = np.cumsum(rng.normal(0.0, 0.05, 20_000)) + rng.normal(0.0, 1.0, 20_000)
    x[rng.choice(20_000, 200, replace=False)] += 60.0
    flags = spike_flags(x, floor=20.0)
    assert flags.sum() > 190
    assert (flags == hampel_flags(x, floor=20.0)).mean() > 0.9995
    step = np.where(np.arange(100) < 50, 0.0, 90.0) + rng.normal(0.0, 1.0, 100)
    assert not spike_flags(step, floor=20.0).any()
    three = rng.normal(0.0, 1.0, 100)
    three[40:43] += 90.0
    assert not spike_flags(three, floor=20.0).any()
    three[40] = np.nan
    assert np.flatnonzero(spike_flags(three, floor=20.0)).tolist() == [41, 42]


# in the reduction


def test_spikes_of_gauges_are_left_out_kept_and_told(cleaned):
    signals = cleaned({"G1": at([120, 260, 261], 900.0), "D": at([150], 3.0)})
    gauge = signals.found["G1"]
    assert sorted(gauge.flagged) == [120, 260, 261]
    assert gauge.flagged[120] > 1200e-6
    assert np.isnan(gauge.values[[120, 260, 261]]).all()
    assert np.isfinite(gauge.values).sum() == len(signals.time) - 3
    assert "G1: 3 spike reading(s) left out, at 60.0, 130.0, 130.5 s" in signals.notes
    assert "D: 1 spike reading(s) left out, at 75.0 s" in signals.notes
    steps = {dict(s.arguments)["channel"]: (s.rows, s.first, s.last) for s in signals.trail if s.name == "flag"}
    assert steps == {"G1": (3, 120, 261), "D": (1, 150, 150)}


def test_a_clean_record_has_no_flags(cleaned):
    signals = cleaned()
    assert all(not s.flagged for s in signals.found.values())
    assert not [s for s in signals.trail if s.name == "flag"]


def test_nothing_is_flagged_at_a_brittle_event(cleaned):
    """At 120 s the load falls from 55.6 to 50 kN and comes back; G1 swings for one reading there, G2 at 60 s."""

    def fall(load):
        load[240:250] -= 5.6
        return load

    signals = cleaned({"P": fall, "G1": at([241], -700.0), "G2": at([120], -700.0)})
    assert signals.found["G1"].flagged == {}
    assert sorted(signals.found["G2"].flagged) == [120]
    assert signals.found["G1"].values[241] < 600e-6


def test_nothing_is_flagged_where_a_strip_lets_go(cleaned):
    """G1 falls for good at 120 s without a fall of the load; the swing of one reading in both gauges is real."""

    def let_go(strain):
        strain[240:] *= 0.5
        strain[241] -= 400.0
        return strain

    signals = cleaned({"G1": let_go, "G2": at([241], 500.0)})
    assert signals.found["G1"].flagged == {}
    assert signals.found["G2"].flagged == {}


def test_a_load_is_told_and_kept(cleaned):
    """A reading of 130 kN at 100 s: told, kept, and the peak; flagged by hand it is gone."""
    signals = cleaned({"P": at([200], 85.0)})
    assert np.nanargmax(signals.found["P"].values) == 200
    (note,) = [n for n in signals.notes if n.startswith("P: ")]
    assert note.startswith(
        "P: 1 reading(s) look like spikes (one is the largest reading of all), at 100.0 s; a load is"
    )
    by_hand = cleaned({"P": at([200], 85.0)}, flags=[{"channel": "P", "time": "100 s", "reason": "radio"}])
    assert np.nanmax(by_hand.found["P"].values) == pytest.approx(100e3, rel=2e-3)
    assert sorted(by_hand.found["P"].flagged) == [200]


def test_the_engineer_keeps_and_flags(cleaned):
    flags = [
        {"channel": "G1", "status": "kept", "time": "60 s", "reason": "crack"},
        {"channel": "G2", "start": "50 s", "end": "52 s"},
    ]
    signals = cleaned({"G1": at([120, 260], 900.0)}, flags=flags)
    assert sorted(signals.found["G1"].flagged) == [260]
    assert signals.found["G1"].values[120] > 1200e-6
    assert sorted(signals.found["G2"].flagged) == [100, 101, 102, 103, 104]
    assert [s.rows for s in signals.trail if s.name == "keep"] == [1]


def test_spikes_can_be_left_alone(cleaned):
    signals = cleaned({"G1": at([120], 900.0)}, cleaning={"spikes": False})
    assert signals.found["G1"].flagged == {}


def test_an_event_that_the_engineer_placed_is_a_guard(cleaned):
    events = [{"event": "first debonding", "status": "moved", "time": "60.4 s"}]
    signals = cleaned({"G1": at([120], 900.0)}, events=events)
    assert signals.found["G1"].flagged == {}


def test_many_channels_make_one_note(build, plain, changed):
    record, csv = plain
    columns = record()
    names = [f"H{i}" for i in range(8)]
    for name in names:
        columns[name] = columns["G1"].copy()
        columns[name][100] += 900.0
    channels = [{"name": n, "quantity": "concrete strain", "unit": "um/m"} for n in names]
    rig = changed("rig", lambda r: r["layouts"]["all"]["channels"].extend(channels))
    signals = _signals(build(logs={"logs/T.csv": csv(columns, dict.fromkeys(names, "um/m"))}, **rig))
    told = [n for n in signals.notes if "spike" in n]
    assert told == ["spike readings left out (their rows are in the steps): " + ", ".join(f"{n} 1" for n in names)]


def test_spikes_of_a_second_log_are_found_before_it_is_drawn_out(build, plain, changed):
    """A 1 Hz log onto a 2 Hz clock: a spike of one reading would be three rows there."""
    record, csv = plain
    columns = record()
    slow = {"Time": columns["Time"][::2] + 33.0, "P": columns["P"][::2], "G1": columns["G1"][::2].copy()}
    slow["G1"][60] += 900.0
    logs = {"logs/T.csv": csv({n: columns[n] for n in ("Time", "P", "D")}), "logs/U.csv": csv(slow)}
    choice = {"zeros": [{"start": "0 s", "end": "18 s", "log": "logs/T.csv"},
                        {"start": "34 s", "end": "50 s", "log": "logs/U.csv"}],
              "logs": [{"log": "logs/U.csv", "clock_offset": "-33 s"}]}  # fmt: skip
    campaign = build(logs=logs, **changed("tests", lambda t: t["tests"]["T"].update(logs=["logs/T.csv", "logs/U.csv"])),
                     **changed("reduction", lambda r: r["tests"]["T"].update(choice)))  # fmt: skip
    signals = _signals(campaign)
    gauge = signals.found["G1"]
    assert gauge.values[120] == pytest.approx(2000e-6 * 40.0 / 180.0, abs=1e-9)
    assert list(gauge.flagged) == [120]
    assert "G1: 1 spike reading(s) left out, at 60.0 s" in signals.notes


def test_a_long_gap_of_a_second_log_is_no_straight_line(build, plain, changed):
    record, csv = plain
    columns = record()
    gauge = columns["G1"].copy()
    gauge[200:240] = np.nan
    logs = {"logs/T.csv": csv({n: columns[n] for n in ("Time", "P", "D")}),
            "logs/U.csv": csv({"Time": columns["Time"], "G1": gauge}).replace("nan", "NaN")}  # fmt: skip
    choice = {"logs": [{"log": "logs/U.csv", "clock_offset": "0.1 s"}]}
    campaign = build(logs=logs, **changed("tests", lambda t: t["tests"]["T"].update(logs=["logs/T.csv", "logs/U.csv"])),
                     **changed("reduction", lambda r: r["tests"]["T"].update(choice)))  # fmt: skip
    values = _signals(campaign).found["G1"].values
    assert np.isnan(values[205:236]).all()
    assert np.isfinite(values[100:199]).all()
    assert np.isfinite(values[242:399]).all()


# slopes


def test_the_filter_of_slopes_has_no_lag_and_its_gain():
    """Gain 1/sqrt 2 at the cut-off (Butterworth), no shift in time: a sine comes back in phase."""
    rate, cutoff = 50.0, 2.0
    time = np.arange(0.0, 60.0, 1.0 / rate)
    wave = np.sin(2.0 * np.pi * cutoff * time)
    smooth = lowpass(wave, rate, cutoff)
    inner = slice(500, 2500)
    assert float(smooth[inner] @ wave[inner] / (wave[inner] @ wave[inner])) == pytest.approx(np.sqrt(0.5), rel=1e-3)
    quarter = np.cos(2.0 * np.pi * cutoff * time)
    assert abs(float(smooth[inner] @ quarter[inner]) / 1000.0) < 1e-3


def test_slopes_are_filtered_peaks_are_not(cleaned):
    signals = cleaned(cleaning={"lowpass": "0.2 Hz"})
    load = signals.found["P"].values
    smooth, every = signals.for_slopes(load, "load")
    assert every == 5  # readings at 2 Hz, independent 2.5 s apart
    assert np.nanmax(load) == np.nanmax(signals.found["P"].values)
    line = 100e3 * np.clip((signals.time - 20.0) / 180.0, 0.0, 1.0)
    inside = slice(60, 390)
    assert np.std((smooth - line)[inside]) < 0.6 * np.std((load - line)[inside])
    # cut at the fall: the last rows before it are not drawn down by what comes after
    assert smooth[398] == pytest.approx(line[398], abs=100.0)
    assert smooth[404] == pytest.approx(60e3, abs=100.0)
    (step,) = [s for s in signals.trail if s.name == "lowpass"]
    assert dict(step.arguments) == {"of": "load", "hertz": 0.2, "for": "slopes, not for peaks"}
    raw, every = cleaned().for_slopes(load, "load")
    assert raw is load
    assert every == 1


def test_a_stiffness_of_filtered_readings(cleaned):
    """100 kN at 9 mm: 11.1 kN/mm either way; the peak is the same reading; fewer readings count."""
    raw = reduce(cleaned(campaign_only=True)).tests["T"]
    smooth = reduce(cleaned(campaign_only=True, cleaning={"lowpass": "0.2 Hz"})).tests["T"]
    for result in (raw, smooth):
        K = result.values["K_cracked"]
        assert K.value == pytest.approx(100e3 / 9.0, rel=2e-3)
        assert abs(K.value - 100e3 / 9.0) < 3.0 * K.u
    points = [int(r.values["K_cracked"].status.split(", ")[-1].split()[0]) for r in (raw, smooth)]
    assert points[1] * 5 == pytest.approx(points[0], abs=6)
    assert smooth.value("V_max") == raw.value("V_max")


# everything at once


def test_a_hard_log_gives_the_truth_back_within_its_uncertainty(build, plain, changed):
    """Wrong factor, leads, a curved bridge, drift, warming, noise, spikes and a real fall at debonding, all at once."""
    record, csv = plain
    rng = np.random.default_rng(23)
    columns = record()
    time, e = columns["Time"], 3.0 * columns["G1"]
    T = 20.0 + 8.0 * time / 220.0
    e = np.where(time >= 150.0, 0.4 * e, e)  # the strip lets go at 150 s; G2 takes it
    other = 2.0 * columns["G2"] + np.where(time >= 150.0, 600.0, 0.0)
    columns["P"] = columns["P"] - np.where((time >= 150.0) & (time < 152.0), 4.0, 0.0)

    def shown(strain):
        gauge = 120.0 * (1.0 + 2.13 * 1e-6 * (strain - 11.5 * (T - 20.0)))
        V = 0.5 - 120.6 / (gauge + 0.6 + 120.6)
        return 4.0 * V / 2.0 * 1e6 + 35.0 * time / 220.0 + rng.normal(0.0, 2.0, len(time))

    columns |= {"G1": shown(e), "G2": shown(other), "TH": T + rng.normal(0.0, 0.05, len(time))}
    columns["G1"][[70, 180]] += (1500.0, -1100.0)
    gauge = {"gauge_factor": 2.12, "gauge_factor_tolerance": "1 %", "gauge_factor_set": 2.0, "linearised": False,
             "resistance": "120 ohm", "lead_resistance": "0.6 ohm", "temperature": "TH", "alpha_gauge": "11 um/m/K",
             "alpha_substrate": "-0.5 um/m/K"}  # fmt: skip

    def alter(rig):
        rig["layouts"]["all"]["channels"].append({"name": "TH", "quantity": "temperature", "unit": "degC"})
        rig["layouts"]["all"]["gauge"] = gauge

    after = {"start": "215 s", "end": "219 s", "after": True, "channels": []}
    zeros = [{"start": "0 s", "end": "18 s"}, after]
    campaign = build(logs={"logs/T.csv": csv(columns, {"TH": "degC"})}, **changed("rig", alter),
                     **changed("reduction", lambda r: r["tests"]["T"].update(zeros=zeros)))  # fmt: skip
    signals = _signals(campaign)
    assert sorted(signals.found["G1"].flagged) == [70, 180]
    drift = 35e-6 / np.sqrt(3.0)  # not measured here: no window after the test
    ratios = []
    for name, truth in (("G1", e), ("G2", other)):
        for row in (299, 301, 350, 399):
            found = signals.found[name].values[row]
            assert np.isfinite(found), (name, row)
            u = np.hypot(u_reading(signals.found[name], row), drift)
            ratios.append(abs(found - 1e-6 * truth[row]) / u)
    assert max(ratios) < 2.0
    assert max(ratios) > 0.3
    result = reduce(campaign).tests["T"]
    debonding = next(m for m in result.marks if m.kind == "first debonding")
    assert debonding.time == pytest.approx(150.0, abs=1.0)
