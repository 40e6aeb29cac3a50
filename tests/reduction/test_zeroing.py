"""Zeros before and after a test, what an earlier loading left, and beams strengthened under load."""

from __future__ import annotations

import copy
import math

import numpy as np
import pytest

from cracktie.actions import reduce
from cracktie.reduction.gauges import absolute_components
from cracktie.reduction.signals import NotReduced, read_signals

BAR = {"name": "B1", "quantity": "bar strain", "stirrup": 1, "unit": "um/m"}


def _signals(campaign, test="T"):
    return read_signals(campaign, test, campaign.tests[test], "A")


@pytest.fixture
def zeroed(build, plain, changed):
    """zeroed(columns, zeros=[...], **test keys): signals of the usual record with other columns."""
    record, csv = plain

    def make(
        columns=None, *, channels=(), test=None, tests=None, logs=None, logs_choice=(), campaign_only=False, **choice
    ):
        choice |= {"logs": logs_choice} if logs_choice else {}
        rig = changed("rig", lambda r: r["layouts"]["all"]["channels"].extend(channels))
        reduction = changed("reduction", lambda r: r["tests"]["T"].update(choice))

        def alter(t):
            t["tests"]["T"].update(test or {})
            t["tests"].update(tests or {})

        units = {"B1": "um/m"}
        files = {"logs/T.csv": csv(record() | (columns or {}), units), **(logs or {})}
        campaign = build(logs=files, **rig, **reduction, **changed("tests", alter))
        return campaign if campaign_only else _signals(campaign)

    return make


def rest_again(values, time, level=0.0):
    """The record with 40 s of rest at its end, at a level."""
    return np.where(time >= 180.0, level, values)


# drift


def test_drift_to_a_window_after_the_test_is_uncertain_or_taken_off(zeroed, plain):
    """G1 drifts by 90 um/m in a straight line from 10 s to 200 s; unloaded from 180 s on."""
    columns = plain[0]()
    time = columns["Time"]
    drift = 90.0 * np.clip((time - 9.0) / (200.0 - 9.0), 0.0, 1.05)
    shown = rest_again(columns["G1"], time) + drift
    zeros = [{"start": "0 s", "end": "18 s"}, {"start": "190 s", "end": "210 s", "after": True, "channels": ["G1"]}]
    row = int(np.searchsorted(time, 170.0))
    right = columns["G1"][row] * 1e-6
    left = zeroed({"G1": shown}, zeros=zeros).found["G1"]
    assert left.values[row] - right == pytest.approx(drift[row] * 1e-6, abs=3e-6)
    parts = {c.name: c for c in absolute_components(left, row)}
    assert parts["drift of the zero"].u == pytest.approx(90e-6 / math.sqrt(3), rel=0.05)
    assert parts["drift of the zero"].shape == "rectangular"
    assert abs(left.values[row] - right) < 2.0 * left.u_zero
    linear = copy.deepcopy(zeros)
    linear[1]["drift"] = "linear"
    taken = zeroed({"G1": shown}, zeros=linear)
    signal = taken.found["G1"]
    assert signal.values[row] == pytest.approx(right, abs=3e-6)
    assert absolute_components(signal, row)[1].u < 0.4 * 90e-6
    (step,) = [s for s in taken.trail if s.name == "zero_drift"]
    assert dict(step.arguments)["drift"] == pytest.approx(90e-6, rel=0.05)
    assert "drift of the zero" not in {c.name for c in absolute_components(taken.found["G2"], row)}


def test_what_is_left_of_a_straight_drift_covers_walks_at_random(zeroed, plain):
    """400 walks whose end is taken off along a line: their rms error at three places is that of the stated parts."""
    from cracktie.campaign.choices import Choice, ZeroWindow
    from cracktie.campaign.instruments import Channel
    from cracktie.campaign.testing import Test
    from cracktie.lab import channels as lab
    from cracktie.reduction.zeroing import Zeroing, zero_off

    time = np.arange(0.0, 100.0, 0.5)
    windows = (ZeroWindow(start="0 s", end="1 s"), ZeroWindow(start="98.5 s", end="99.5 s", after=True, drift="linear"))
    channel = Channel(name="G", quantity="FRP strain")
    zeroing = Zeroing(Choice(zeros=windows), Test(specimen="S"), "log", time, [], lambda name: None)
    rng, ratios = np.random.default_rng(3), []
    for _ in range(400):
        walk = np.cumsum(rng.normal(0.0, 1e-6, len(time)))
        found = zero_off(lab.Channel("G", "-", time, walk), channel, zeroing)
        part = next(p for p in found.parts if p.name == "drift of the zero")
        ratios.append([(found.channel.values[r] ** 2, float(part.u[r]) ** 2) for r in (50, 100, 160)])
    error, stated = np.mean(np.array(ratios), axis=0).T
    assert np.sqrt(error / stated) == pytest.approx(1.0, abs=0.15)


# two zeros


def test_a_value_stated_for_the_zero_window(zeroed, plain):
    stated = {"start": "0 s", "end": "18 s", "channels": ["G1"], "value": "350 +- 20 um/m"}
    signals = zeroed(zeros=[{"start": "0 s", "end": "18 s"}, stated])
    signal = signals.found["G1"]
    assert signal.values[0] == pytest.approx(350e-6)
    assert signal.values[400] == pytest.approx(2350e-6)
    assert {c.name: c.u for c in absolute_components(signal, 400)}["value stated for the zero window"] == pytest.approx(
        20e-6
    )
    assert signals.found["G2"].values[0] == pytest.approx(0.0, abs=1e-12)


def test_a_zero_window_by_quantity(zeroed):
    stated = {"start": "0 s", "end": "18 s", "quantities": ["FRP strain"], "value": "100 um/m"}
    signals = zeroed(zeros=[{"start": "0 s", "end": "18 s"}, stated])
    assert [signals.found[n].values[0] for n in ("G1", "G2", "D")] == pytest.approx([1e-4, 1e-4, 0.0], abs=1e-9)


def _pre_cracked(plain):
    """An earlier test that leaves 240 um/m in the bar: offset 33 um/m in its log, rest at the end."""
    record, csv = plain
    columns = record()
    time = columns["Time"]
    bar = rest_again(1500.0 * columns["P"] / 100.0, time, 240.0) + 33.0 + 0.4 * np.sin(7.0 * time)
    before = columns | {"P": rest_again(columns["P"], time), "B1": bar}
    first = {
        "specimen": "S",
        "order": 1,
        "setup": "one",
        "layout": "all",
        "logs": ["logs/T0.csv"],
        "outcome": "stopped",
    }
    return first, {"logs/T0.csv": csv(before, {"B1": "um/m"})}


def test_bars_keep_what_the_pre_loading_left_in_them(zeroed, plain):
    first, logs = _pre_cracked(plain)
    bar = 800.0 * plain[0]()["P"] / 100.0 - 5.0
    more = {"channels": [BAR], "tests": {"T0": first}, "logs": logs, "test": {"order": 2, "state": "precracked"}}
    silent = zeroed({"B1": bar}, **more)
    assert silent.found["B1"].values[400] == pytest.approx(800e-6)
    (note,) = [n for n in silent.notes if n.startswith("state precracked")]
    assert note == (
        "state precracked: strains of 1 bar gauge(s) count from the zero of this test; what an earlier loading left in "
        "the bars is not in them (zeros: carry: {test: T0} in reduction.yaml adds it)"
    )
    zeros = [{"start": "0 s", "end": "18 s"},
             {"start": "0 s", "end": "18 s", "quantities": ["bar strain"], "carry": {"test": "T0"}}]  # fmt: skip
    carried = zeroed({"B1": bar}, zeros=zeros, **more)
    assert carried.found["B1"].values[400] == pytest.approx(1040e-6, abs=1e-6)
    assert not [n for n in carried.notes if n.startswith("state precracked")]
    (step,) = [s for s in carried.trail if s.name == "value_in_zero_window"]
    told = dict(step.arguments)
    assert told["from"].startswith("test T0, 215.1 to 219.5 s")
    assert told["value"] == pytest.approx(240e-6, abs=1e-6)
    assert len(told["sha256"]) == 16
    assert "carried over from test T0" in {c.name for c in absolute_components(carried.found["B1"], 400)}


def test_nothing_to_carry_is_told(zeroed, plain):
    first, logs = _pre_cracked(plain)
    zeros = [
        {"start": "0 s", "end": "18 s"},
        {"start": "0 s", "end": "18 s", "channels": ["B2"], "carry": {"test": "T0"}},
    ]
    more = {"channels": [BAR | {"name": "B2"}], "tests": {"T0": first}, "logs": logs}
    signals = zeroed({"B2": plain[0]()["G1"]}, zeros=zeros, test={"order": 2, "state": "precracked"}, **more)
    assert "B2: nothing carried over, test T0 has no readings of it" in signals.notes


def test_a_changed_log_of_the_earlier_test_makes_the_later_one_anew(zeroed, plain):
    first, logs = _pre_cracked(plain)
    zeros = [
        {"start": "0 s", "end": "18 s"},
        {"start": "0 s", "end": "18 s", "channels": ["B1"], "carry": {"test": "T0"}},
    ]
    campaign = zeroed({"B1": plain[0]()["G1"]}, channels=[BAR], zeros=zeros, tests={"T0": first}, logs=logs,
                      test={"order": 2, "state": "precracked"}, campaign_only=True)  # fmt: skip
    from cracktie.actions import open_campaign
    from cracktie.reduction.store import Store

    before = Store(campaign, read=True).fingerprint("T")
    log = campaign.folder / "logs" / "T0.csv"
    log.write_text(log.read_text().replace("0.000000", "0.100000", 1))
    assert Store(open_campaign(campaign.folder), read=True).fingerprint("T") != before


# strengthened under load


def _held(plain, start=0.0):
    """Loaded to 60 kN from 20 to 60 s, held to 120 s while the sheet is bonded, then to 100 kN at 200 s."""
    columns = plain[0]()
    time = columns["Time"]
    load = np.interp(time, [20.0, 60.0, 120.0, 200.0, 200.1, 230.0], [0.0, 60.0, 60.0, 100.0, 60.0, 60.0])
    # bonded: the gauges have readings of no meaning before, 400 um/m of offset then, 20 um/m a kN from 60 kN on
    sheet = np.where(time < 90.0, 123.0 * np.sin(time), 400.0 + 20.0 * np.clip(load - 60.0, 0.0, None))
    keep = time >= start
    return {n: v[keep] for n, v in (columns | {"P": load, "G1": sheet, "G2": 0.5 * sheet}).items()}


def test_gauges_bonded_under_load_have_their_zero_in_the_hold(zeroed, plain):
    signals = zeroed(_held(plain), zeros=[], test={"state": "precracked", "strengthened_at_load": "60 kN"})
    row = int(np.searchsorted(signals.time, 200.0))
    assert signals.found["P"].values[row] == pytest.approx(100e3)
    assert signals.found["G1"].values[row] == pytest.approx(800e-6, rel=1e-6)
    (note,) = [n for n in signals.notes if "bonded at 60.0 kN" in n]
    start, end = signals.found["G1"].zeroed
    assert f"{start:.0f} to {end:.0f} s" in note
    assert 100.0 < start < end <= 121.5


def test_a_load_that_sinks_during_the_hold(zeroed, plain):
    """From 60 to 53 kN while the sheet cures; the gauges are bonded at 90 s."""
    columns = _held(plain)
    time = columns["Time"]
    sunk = np.where((time > 60.0) & (time < 120.0), 60.0 - 7.0 * (time - 60.0) / 60.0, columns["P"])
    sunk = np.where((time >= 120.0) & (time < 134.0), 53.0 + (time - 120.0) * 0.99, sunk)
    columns["G1"] = np.where(time < 90.0, columns["G1"], 400.0 + 20.0 * (sunk - 53.0))
    test = {"state": "precracked", "strengthened_at_load": "60 kN"}
    signals = zeroed(columns | {"P": sunk}, zeros=[], test=test)
    start, end = signals.found["G1"].zeroed
    assert 105.0 < start < end < 121.5
    row = int(np.searchsorted(time, 200.0))
    assert signals.found["G1"].values[row] == pytest.approx(20e-6 * 47.0, abs=10e-6)


def test_the_history_says_the_same(zeroed, plain):
    history = [{"stage": "load", "to": "60 kN"}, {"stage": "bond while loaded"}, {"stage": "load to failure"}]
    signals = zeroed(_held(plain), zeros=[], test={"history": history})
    assert signals.found["G1"].values[400] == pytest.approx(800e-6, rel=1e-6)


def test_a_record_that_begins_under_the_load_keeps_it(zeroed, plain):
    """Logged from 100 s on, with 0.4 kN of cell offset: the load is not zeroed, the difference is its uncertainty."""
    columns = _held(plain, start=100.0)
    columns["P"] = columns["P"] + 0.4
    signals = zeroed(columns, zeros=[], test={"state": "precracked", "strengthened_at_load": "60 kN"})
    load = signals.found["P"]
    row = int(np.searchsorted(signals.time, 200.0))
    assert load.values[row] == pytest.approx(100.4e3)
    assert load.u_zero == pytest.approx(400.0 / math.sqrt(3), rel=1e-3)
    assert abs(load.values[row] - 100e3) < 2.0 * load.u_zero
    assert signals.found["G1"].values[row] == pytest.approx(800e-6, rel=1e-6)
    assert any(n.startswith("P: not zeroed: the record begins at 60.40 kN") for n in signals.notes)


def test_bars_that_were_strained_when_the_record_began_are_told(zeroed, plain):
    """Zeroed under 60 kN a bar shows what comes on top; V_s from it would be too small, and V_c too large."""
    columns = _held(plain, start=100.0)
    columns["B1"] = 10.0 * columns["P"]
    more = {"channels": [BAR], "zeros": [], "test": {"strengthened_at_load": "60 kN"}}
    silent = zeroed(columns, **more)
    assert np.nanmax(silent.found["B1"].values) == pytest.approx(400e-6, abs=20e-6)  # of 1000
    (note,) = [n for n in silent.notes if n.startswith("the record begins at the load of the strengthening: strains")]
    assert "value: ..." in note
    told = [{"start": "100 s", "end": "110 s", "quantities": ["bar strain"], "value": "600 um/m"}]
    stated = zeroed(columns, **{**more, "zeros": told})
    assert not [n for n in stated.notes if n.startswith("the record begins at the load of the strengthening")]
    from_zero = zeroed(_held(plain) | {"B1": 10.0 * _held(plain)["P"]}, **more)
    assert not [n for n in from_zero.notes if n.startswith("the record begins at the load of the strengthening")]


def test_a_cell_set_to_zero_under_the_load_is_thought_of(zeroed, plain):
    """Logged from 100 s on and tared there: told; with its window and value the load is right."""
    columns = _held(plain, start=100.0)
    columns["P"] = columns["P"] - 60.0
    test = {"state": "precracked", "strengthened_at_load": "60 kN"}
    tared = zeroed(columns, zeros=[{"start": "100 s", "end": "118 s", "quantities": ["FRP strain"]}], test=test)
    assert any(n.startswith("P: the record begins near 0") and n.endswith("value: 60 kN") for n in tared.notes)
    zeros = [
        {"start": "100 s", "end": "118 s"},
        {"start": "100 s", "end": "118 s", "channels": ["P"], "value": "60 kN"},
    ]
    signals = zeroed(columns, zeros=zeros, test=test)
    assert np.nanmax(signals.found["P"].values) == pytest.approx(100e3)
    assert not any("begins near 0" in n for n in signals.notes)


def test_gauges_bonded_under_load_in_a_log_without_load_are_asked_for(zeroed, plain):
    csv = plain[1]
    columns = _held(plain)
    gauges = {n: columns[n] for n in ("Time", "G1")}
    logs = {"logs/U.csv": csv(gauges)}
    test = {"strengthened_at_load": "60 kN", "logs": ["logs/T.csv", "logs/U.csv"]}
    first = {n: columns[n] for n in ("Time", "P", "D")}
    signals = zeroed({**first, "G1": columns["G1"] * np.nan}, zeros=[], test=test, logs=logs,
                     logs_choice=[{"log": "logs/U.csv", "clock_offset": "0 s"}])  # fmt: skip
    assert any("its log has no load to find that by" in n for n in signals.notes)


def test_a_channel_left_out_up_to_a_time(zeroed):
    signals = zeroed(excluded=[{"channel": "G1", "before": "90 s", "reason": "not bonded yet"}])
    values = signals.found["G1"].values
    assert np.isnan(values[signals.time < 90.0]).all()
    assert np.isfinite(values[signals.time >= 90.0]).all()
    assert "G1: left out by choice up to 90 s, not bonded yet" in signals.notes


def test_a_load_that_begins_anywhere_else_is_asked_for(zeroed, plain):
    columns = _held(plain)
    columns["P"] = columns["P"] + 25.0
    with pytest.raises(NotReduced, match=r"begins at 25\.0 kN, neither near 0 nor near the 60\.0 kN"):
        zeroed(columns, zeros=[], test={"state": "precracked", "strengthened_at_load": "60 kN"})


def test_without_a_hold_the_zero_is_asked_for(zeroed, plain):
    columns = plain[0]()
    signals = zeroed(columns, zeros=[], test={"state": "precracked", "strengthened_at_load": "300 kN"})
    told = "bonded at 300.0 kN, and no hold at that load is found: name its zero window"
    assert any(n.startswith("G1") and n.endswith(told) for n in signals.notes)
    assert "G1" not in signals.found


def test_channels_that_are_absolute(zeroed, plain):
    columns = plain[0]()
    columns["P"] = columns["P"] + 7.0
    signals = zeroed(columns, absolute=["P"])
    assert signals.found["P"].values[400] == pytest.approx(107e3)
    assert signals.found["D"].values[400] == pytest.approx(9.0)


# rig weight


@pytest.mark.parametrize(("in_cell", "added"), [(True, 0.0), (False, 2000.0), (None, 0.0)])
def test_the_rig_weight_counts_where_the_cell_does_not_see_it(build, changed, in_cell, added):
    """V at the middle of span A: 0.6 (P + 2 kN) + own (2 kN/m on 2.9 m, 0.2 m over both supports): 0.6 of 2.5 m."""

    def alter(rig):
        setup = rig["setups"]["one"]
        setup.pop("weight_in_cell")
        if in_cell is not None:
            setup["weight_in_cell"] = in_cell

    result = reduce(build(**changed("rig", alter))).tests["T"]
    own = 2.0 * (2900.0 / 2.0 - 200.0 - 500.0)  # reaction less the load left of the section, by hand
    assert result.value("V_max") == pytest.approx(0.6 * (100e3 + added) + own, rel=1e-6)
    assert result.value("V_max_applied") == pytest.approx(60e3, rel=1e-6)


@pytest.mark.parametrize(
    ("setup", "channel", "half"),
    [("0.4 %", {"uncertainty": "1 %"}, 0.004), (None, {"uncertainty": "1 %"}, 0.01), (None, {}, 0.005),
     (None, {"calibration": {"input": "kN", "output": "kN", "factor": 1.0, "uncertainty": "0.25 %"}}, 0.0025)],
)  # fmt: skip
def test_the_accuracy_of_the_load_is_that_of_setup_channel_or_certificate(build, changed, setup, channel, half):
    def alter(rig):
        rig["setups"]["one"].pop("cell_uncertainty")
        rig["setups"]["one"] |= {"cell_uncertainty": setup} if setup else {}
        rig["layouts"]["all"]["channels"][0].update(channel)

    budget = reduce(build(**changed("rig", alter))).tests["T"].budgets["V_max_applied"]
    (cell,) = [c for c in budget.components if c.name == "load cell"]
    assert cell.u == pytest.approx(0.6 * half * 100e3 / math.sqrt(3), rel=1e-6)


def test_the_end_of_the_log_of_another_beam_is_no_residual(zeroed, plain):
    from cracktie.errors import InputRefused

    zeros = [{"start": "0 s", "end": "18 s", "carry": {"test": "T"}}]
    with pytest.raises(InputRefused, match="is no earlier test of the beam"):
        zeroed(zeros=zeros)
