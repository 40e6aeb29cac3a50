"""Results of one test: values, uncertainty of the deflection, events by choice, bounds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.reduction import reduce_test
from cracktie.reduction.deflection import Deflection, u_reading
from cracktie.reduction.results import thinned
from cracktie.reduction.signals import Signal


def test_shear_and_deflection_at_the_peak(build):
    """100 kN and 2 kN of rig: 0.6 x 102 + 1.5 = 62.7 kN; the load falls after 9 mm."""
    result = reduce_test(build(), "T")
    assert result.value("P_max") == pytest.approx(100e3)
    assert result.value("V_max") == pytest.approx(62.7e3)
    assert result.value("V_max_applied") == pytest.approx(60e3)
    assert result.value("delta_V_max") == pytest.approx(9.0)
    assert result.value("eps_f_max") == pytest.approx(2000e-6)
    assert result.value("eps_f_mean") == pytest.approx(1750e-6)
    assert not result.values["V_max"].bound
    assert "support settlement is not measured: the deflection holds it" in result.notes


def test_a_transducer_without_accuracy_is_told(build, changed):
    def silent(rig):
        del rig["layouts"]["all"]["channels"][1]["uncertainty"]

    told = [n for n in reduce_test(build(**changed("rig", silent)), "T").notes if "no accuracy is stated" in n]
    assert len(told) == 1
    assert told[0].startswith("D:")
    assert not any("no accuracy is stated" in n for n in reduce_test(build(), "T").notes)


def test_settlement_is_taken_off_by_the_lever_rule(build, plain, changed):
    """Load at 0.4 of the span: 9 mm less 0.6 x 1 mm and 0.4 x 0.5 mm."""
    record, csv = plain
    columns = record()
    share = columns["P"] / 100.0
    columns |= {"L": 1.0 * share, "R": 0.5 * share}

    def supports(rig):
        for name, side in (("L", "left"), ("R", "right")):
            channel = {"name": name, "quantity": "displacement", "unit": "mm", "at": f"{side} support"}
            rig["layouts"]["all"]["channels"].append(channel)

    log = {"logs/T.csv": csv(columns, {"L": "mm", "R": "mm"})}
    result = reduce_test(build(logs=log, **changed("rig", supports)), "T")
    assert result.value("delta_V_max") == pytest.approx(9.0 - 0.6 - 0.2)


def test_midspan_is_taken_where_nothing_measures_at_the_load(build, changed):
    result = reduce_test(
        build(**changed("rig", lambda r: r["layouts"]["all"]["channels"][1].update(at="midspan"))), "T"
    )
    assert result.value("delta_V_max") == pytest.approx(9.0)
    assert "no displacement at the load: deflections are those at midspan" in result.notes
    gone = changed("rig", lambda r: r["layouts"]["all"]["channels"].pop(1))
    nothing = reduce_test(build(**gone, folder="nothing"), "T")
    assert nothing.value("delta_V_max") is None
    assert "no displacement at the load or at midspan: no deflection" in nothing.notes


def _signal(name="D", values=(0.0, 8.0), uncertainty=None, u_zero=0.0, noise=0.0):
    from cracktie.campaign.instruments import Channel

    channel = Channel(name=name, quantity="displacement", unit="mm", uncertainty=uncertainty)
    return Signal(channel, np.array(values), u_zero, noise)


def test_uncertainty_of_a_reading():
    assert u_reading(_signal(uncertainty="0.03 mm"), 1) == pytest.approx(0.03 / math.sqrt(3))
    assert u_reading(_signal(uncertainty="0.5 %"), 1) == pytest.approx(0.005 * 8.0 / math.sqrt(3))
    assert u_reading(_signal(u_zero=0.003, noise=0.004), 1) == pytest.approx(0.005)


def test_uncertainty_of_the_deflection_by_hand():
    """Two faces +-0.03 mm, supports +-0.01 mm, r = 0.4 +- 0.001, settlements 1.0 and 0.4 mm."""
    faces = [_signal(uncertainty="0.03 mm"), _signal(uncertainty="0.03 mm")]
    supports = [_signal(values=(0.0, 1.0), uncertainty="0.01 mm"), _signal(values=(0.0, 0.4), uncertainty="0.01 mm")]
    found = Deflection(np.array([0.0, 7.2]), faces, supports, 0.4, 0.001)
    face, support = 0.03 / math.sqrt(3), 0.01 / math.sqrt(3)
    expected = math.sqrt(2 * (face / 2) ** 2 + (0.6 * support) ** 2 + (0.4 * support) ** 2 + (0.6 * 0.001) ** 2)
    assert found.u(1) == pytest.approx(expected)


def test_a_flat_top_widens_the_deflection_at_the_peak(build, plain):
    """The load stays within 0.01 kN while the beam goes from 9 to 12 mm: 3 mm / sqrt(12) = 0.87 mm."""
    record, csv = plain
    rng = np.random.default_rng(5)
    columns = record()
    time = columns["Time"]
    columns["P"] = np.where(time <= 200.0, columns["P"], 100.0) + rng.normal(0.0, 0.05, len(time))
    columns["D"] = np.where(time <= 200.0, columns["D"], 9.0 + 0.15 * (time - 200.0))
    flat = reduce_test(build(logs={"logs/T.csv": csv(columns)}), "T").values["delta_V_max"]
    assert 0.7 < flat.u < 0.95
    assert reduce_test(build(folder="sharp"), "T").values["delta_V_max"].u < 0.1


def test_one_spike_in_a_displacement_is_left_out_and_told(build, plain):
    record, csv = plain
    columns = record()
    columns["D"] = columns["D"].copy()
    columns["D"][150] += 6.4
    result = reduce_test(build(logs={"logs/T.csv": csv(columns)}), "T")
    assert "D: 1 spike reading(s) left out, at 75.0 s" in result.notes
    assert max(result.curves[0].x) < 9.5


def test_noise_of_the_load_enters_the_uncertainty_of_the_peak(build, plain):
    record, csv = plain
    columns = record()
    columns["P"] = columns["P"] + np.random.default_rng(2).normal(0.0, 0.3, len(columns["P"]))
    noisy = reduce_test(build(logs={"logs/T.csv": csv(columns)}), "T").values["V_max"].u
    calm = reduce_test(build(folder="calm"), "T").values["V_max"].u
    assert math.sqrt(noisy**2 - calm**2) > 0.6 * 300.0


def test_a_drifting_gauge_does_not_pass_for_a_sharp_onset():
    """A gauge that leaves its line slowly from 30 kN on before it opens at 60 kN: the crack is where it opens."""
    from cracktie.lab.cracks import first_diagonal_crack

    time = np.arange(0.0, 200.0, 0.2)
    load, rng = 500.0 * time, np.random.default_rng(8)
    found = {}
    for name, drift in (("steady", 0.0), ("drifting", 1e-5)):
        strain = 1e-5 * load / 1e5 + drift * np.clip((load - 3e4) / 3e4, 0.0, 1.0)
        strain = strain + 3e-3 * np.clip(load - 6e4, 0.0, None) / 4e4 + rng.normal(0.0, 1e-6, len(time))
        gauges = {"W1": strain, "W2": strain + rng.normal(0.0, 1e-6, len(time))}
        found[name] = first_diagonal_crack(time, load, gauges)
    assert found["steady"].value == pytest.approx(60e3, abs=2 * found["steady"].u)
    assert found["drifting"].value == pytest.approx(60e3, abs=2 * found["drifting"].u)
    assert found["drifting"].value > 50e3


# events: the gauges of strip 1 let go at 150 s


def _debonding(plain):
    record, csv = plain
    columns = record()
    after = columns["Time"] >= 150.0
    columns["G1"] = np.where(after, 0.4 * columns["G1"], columns["G1"])
    columns["G2"] = np.where(after, columns["G2"] + 400.0, columns["G2"])
    return {"logs/T.csv": csv(columns)}


def _choice(changed, *events):
    return changed("reduction", lambda r: r["tests"]["T"].update(events=list(events)))


def test_an_event_is_proposed_accepted_moved_or_rejected(build, plain, changed):
    def reduced(*events, folder):
        return reduce_test(build(logs=_debonding(plain), folder=folder, **_choice(changed, *events)), "T")

    at = 0.6 * (100e3 * (149.5 - 20) / 180 + 2e3) + 1.5e3  # the reading before the fall
    proposed = reduced(folder="a")
    assert proposed.value("V_deb") == pytest.approx(at, rel=0.01)
    assert "proposed" in proposed.values["V_deb"].status
    accepted = reduced({"event": "first debonding"}, folder="b")
    assert accepted.value("V_deb") == proposed.value("V_deb")
    assert "accepted" in accepted.values["V_deb"].status
    moved = reduced({"event": "first debonding", "status": "moved", "time": "110 s", "reason": "heard"}, folder="c")
    assert moved.value("V_deb") == pytest.approx(0.6 * (50e3 + 2e3) + 1.5e3)
    assert moved.value("delta_V_deb") == pytest.approx(4.5)
    assert any("first debonding moved from" in note and "heard" in note for note in moved.notes)
    rejected = reduced({"event": "first debonding", "status": "rejected", "reason": "knock"}, folder="d")
    assert rejected.value("V_deb") is None
    assert any("first debonding" in note and "rejected: knock" in note for note in rejected.notes)


@pytest.mark.parametrize(
    ("outcome", "bound"), [("shear in studied span", False), ("flexure", True), ("stopped", True), (None, True)]
)
def test_only_shear_in_the_studied_span_is_no_bound(build, changed, outcome, bound):
    result = reduce_test(build(**changed("tests", lambda t: t["tests"]["T"].update(outcome=outcome))), "T")
    assert result.bound is bound
    assert result.values["V_max"].bound is bound
    assert any("no outcome is stated" in note for note in result.notes) is (outcome is None)


def test_a_beam_cracked_before_has_no_first_cracks(build, changed):
    result = reduce_test(build(**changed("tests", lambda t: t["tests"]["T"].update(state="retest"))), "T")
    assert result.value("V_cr") is None
    assert result.value("V_dia") is None
    assert any("cracked before" in note for note in result.notes)


def test_a_thinned_curve_keeps_its_extremes():
    x = np.linspace(0.0, 10.0, 50_001)
    y = np.sin(x)
    y[33_333] = 7.0
    curve = thinned("c", "delta", "V", x, y, points=400)
    assert len(curve.x) <= 800
    assert curve.y.max() == 7.0
    assert (curve.x[0], curve.x[-1]) == (0.0, 10.0)
    assert (np.diff(curve.x) > 0).all()
