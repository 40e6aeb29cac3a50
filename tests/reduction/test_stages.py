"""Stiffness by stage, unloading, twist, residual deflection, work and ductility of planted records."""

from __future__ import annotations

import copy

import numpy as np
import pytest

from cracktie import actions
from cracktie.reduction.deflection import deflection
from cracktie.reduction.shear import setup_of
from cracktie.reduction.signals import read_signals
from cracktie.reduction.stages import stage_values

from .conftest import RIG, csv, record


@pytest.fixture(scope="module")
def cycled():
    """Up to 40 kN at 10 kN/mm, down to 5 at 14, up to 100 at 10; then slowly down to 60 and off: 3 mm are left."""
    time = np.arange(0.0, 400.0, 0.5)
    at = [0, 20, 100, 140, 180, 300, 340, 360, 400]
    load = np.interp(time, at, [0, 0, 40, 5, 40, 100, 60, 0.2, 0.2])
    deflection = np.interp(time, at, [0, 0, 4, 1.5, 4, 10, 12, 3, 3])
    return {"Time": time, "P": load, "D": deflection, "G1": 10.0 * load, "G2": 5.0 * load}


def reduced(build, columns, **more):
    return actions.reduce(build(logs={"logs/T.csv": csv(columns, {"D2": "mm"})}, **more)).test("T")


def test_unloading_residual_and_work(build, cycled):
    test = reduced(build, cycled)
    assert test.value("K_unload") == pytest.approx(35.0e3 / 2.5, rel=1e-3)
    assert "last of 1 unloading(s)" in test.values["K_unload"].status
    assert "40 to 5 kN: 14.00 kN/mm, 1.50 mm left" in test.values["K_unload"].status
    assert test.value("K_cracked") == pytest.approx(10e3, rel=2e-3)
    assert test.value("delta_res") == pytest.approx(3.0, abs=1e-3)
    # by hand: 0.5 * 40 * 4 up, as much down and up again between 5 and 40 cancels, then 70 * 6
    assert test.value("W_V_max") == pytest.approx((0.5 * 40 * 4 + 70 * 6) * 1e3, rel=1e-3)
    fall = 10.0 + 2.0 * 15.0 / 40.0
    assert test.value("W_85") == pytest.approx((500 + 92.5 * 0.75) * 1e3, rel=1e-3)
    assert test.value("mu_peak") == pytest.approx(fall / 10.0, rel=1e-3)
    assert test.value("mu_delta") == pytest.approx(
        fall / 10.0, rel=1e-3
    )  # straight up: the secant meets the peak there
    equal = 2.0 * (fall - (500 + 92.5 * 0.75) / 100.0)
    assert test.value("mu_energy") == pytest.approx(fall / equal, rel=2e-3)


def test_budgets_name_their_causes(build, cycled):
    """0.4 % of the cell, 0.02 mm of the transducer, both rectangular (setup and layout); settlement is not measured."""
    test = reduced(build, cycled)
    for name in ("K_cracked", "K_unload", "W_V_max", "W_85", "mu_delta", "mu_energy", "mu_peak", "delta_res"):
        assert test.budgets[name].u == pytest.approx(test.values[name].u), name
        assert test.values[name].u > 0.0
    parts = {c.name: c.u for c in test.budgets["W_V_max"].components}
    W = test.value("W_V_max")
    assert parts["load cell"] == pytest.approx(0.004 / np.sqrt(3) * W, rel=1e-6)
    assert parts["deflection"] == pytest.approx(0.02 / np.sqrt(3) / 10.0 * W, rel=0.01)


def test_stages_end_at_their_events(build):
    """The slope falls from 10 to 6 kN/mm at 50 kN (diagonal crack) and to 3 at 80 kN (debonding)."""
    time = np.arange(0.0, 320.0, 0.5)
    P = np.interp(time, [0, 20, 300, 310], [0, 0, 100, 50])
    bent = np.maximum.accumulate(np.interp(P, [0, 50, 80, 100], [0, 5, 10, 10 + 20 / 3]))
    made = build(logs={"logs/T.csv": csv({"Time": time, "P": P, "D": bent, "G1": 10 * P, "G2": 5 * P})})
    test = made.tests["T"]
    signals = read_signals(made, "T", test, "A")
    found = deflection(signals, setup_of(made, test))
    load = signals.of("load")[0].values
    rows = {kind: int(np.argmax(load >= at * 1e3)) for kind, at in
            (("first diagonal crack", 50.0), ("first debonding", 80.0), ("V_max", 100.0 - 1e-6))}  # fmt: skip
    top = rows["V_max"]
    got = {f.name: f for f in stage_values(load, found, top, rows, P_cr=20e3, u_cell=0.0)}
    assert got["K_uncracked"].value == pytest.approx(10e3, rel=1e-3)
    assert got["K_dia"].value == pytest.approx(6e3, rel=1e-3)
    assert got["K_deb"].value == pytest.approx(3e3, rel=1e-3)
    assert got["K_dia"].how.startswith("after the first diagonal crack: regression of P over delta in the middle 60%")
    assert "up to first debonding" in got["K_dia"].how
    del rows["first debonding"]
    without = {f.name: f for f in stage_values(load, found, top, rows, P_cr=None, u_cell=0.0)}
    assert "up to V_max" in without["K_dia"].how
    assert "K_deb" not in without
    assert "K_uncracked" not in without


def test_the_seating_is_no_stiffness_of_the_beam(build):
    """To 9 kN at 4 kN/mm and off, then straight up at 10 kN/mm: 0.3 to 0.6 of 20 kN lie in both passes."""
    time = np.arange(0.0, 320.0, 0.5)
    P = np.interp(time, [0, 20, 60, 100, 300, 310], [0, 0, 9, 0, 100, 50])
    D = np.interp(time, [0, 20, 60, 100, 300, 310], [0, 0, 2.25, 1, 11, 12])
    made = build(logs={"logs/T.csv": csv({"Time": time, "P": P, "D": D, "G1": 10 * P, "G2": 5 * P})})
    signals = read_signals(made, "T", made.tests["T"], "A")
    found = deflection(signals, setup_of(made, made.tests["T"]))
    load = signals.of("load")[0].values
    top = int(np.argmax(load))
    got = {f.name: f for f in stage_values(load, found, top, {"V_max": top}, P_cr=20e3, u_cell=0.002)}
    assert got["K_uncracked"].value == pytest.approx(10e3, rel=2e-3)
    assert "none before it" in got["K_uncracked"].how
    assert "lower and upper half 10.0 and 10.0 kN/mm" in got["K_uncracked"].how


def test_a_curve_has_what_its_rows_weigh_in_its_budget(build):
    """P = 100 sin(delta pi/20) kN over 10 mm, rows ten times as dense up to 50 kN as above: the slope of all rows leans
    to the lower half, which a reader cannot know; both halves alike would give their mean."""
    D = np.concatenate([np.zeros(40), np.linspace(0.0, 10.0 / 3.0, 600), np.linspace(10.0 / 3.0, 10.0, 120)[1:]])
    P = 100.0 * np.sin(D * np.pi / 20.0)
    time = 0.5 * np.arange(D.size)
    made = build(logs={"logs/T.csv": csv({"Time": time, "P": P, "D": D, "G1": 10 * P, "G2": 5 * P})})
    signals = read_signals(made, "T", made.tests["T"], "A")
    found = deflection(signals, setup_of(made, made.tests["T"]))
    load = signals.of("load")[0].values
    top = int(np.argmax(load))
    got = {f.name: f for f in stage_values(load, found, top, {"V_max": top}, P_cr=None, u_cell=0.0)}
    parts = {c.name: c.u for c in got["K_cracked"].budget.components}
    # slopes of a sine between 40, 50 and 60 kN, nearly secants; all rows give nearly that of the lower half
    mean = [1e4 / (np.arcsin(b) - np.arcsin(a)) * np.pi / 20.0 for a, b in ((0.4, 0.5), (0.5, 0.6))]
    assert mean[1] < got["K_cracked"].value < mean[0]
    expected = abs(got["K_cracked"].value - sum(mean) / 2.0) / np.sqrt(3.0)
    assert parts["rows along the curve"] == pytest.approx(expected, rel=0.05)
    assert got["K_cracked"].budget.u > parts["scatter of the regression"]


@pytest.mark.parametrize(("other", "told"), [(1.04, False), (1.25, True)])
def test_twist_is_a_result(build, cycled, other, told):
    """One face 4 % or 25 % more: the difference over the mean, and a word above 10 %."""
    rig = copy.deepcopy(RIG)
    rig["layouts"]["all"]["channels"].append({**rig["layouts"]["all"]["channels"][1], "name": "D2", "face": "back"})
    test = reduced(build, cycled | {"D2": other * cycled["D"]}, rig=rig)
    assert test.value("twist_V_max") == pytest.approx((other - 1.0) / (0.5 + 0.5 * other), rel=1e-3)
    assert ("the beam twists" in test.values["twist_V_max"].status) is told
    assert any("of the deflection: twist" in n for n in test.notes) is told


def test_a_sheer_failure_has_no_unloading_and_nothing_left(build):
    test = reduced(build, record())
    assert "K_unload" not in test.values
    assert "delta_res" not in test.values  # the load is never off
    assert "twist_V_max" not in test.values  # one face only


def test_deflections_and_strains_have_budgets(build):
    """Two gauges of 2000 and 1500 um/m, 1 % each where nothing is stated: 20 um/m of the larger, 17.5 of the mean (the
    scale is common, so it does not average out)."""
    test = reduced(build, record())
    for name in ("delta_V_max", "eps_f_max", "eps_f_mean"):
        assert test.budgets[name].u == pytest.approx(test.values[name].u), name
    assert test.values["delta_V_max"].u == pytest.approx(0.02 / np.sqrt(3), rel=0.05)
    assert test.values["eps_f_max"].u == pytest.approx(20e-6, rel=0.01)
    assert test.values["eps_f_mean"].u == pytest.approx(17.5e-6, rel=0.01)


def test_a_flat_top_widens_the_work_to_the_peak(build):
    """100 kN held from 10 to 13 mm: the row of the peak may be any of them, 3 mm/sqrt(12) of deflection at 100 kN."""
    time = np.arange(0.0, 400.0, 0.5)
    P = np.interp(time, [0, 20, 300, 360, 370], [0, 0, 100, 100, 60])
    D = np.interp(time, [0, 20, 300, 360, 370], [0, 0, 10, 13, 13.2])
    test = reduced(build, {"Time": time, "P": P, "D": D, "G1": 10 * P, "G2": 5 * P})
    parts = {c.name: c.u for c in test.budgets["W_V_max"].components}
    assert parts["row of the event"] == pytest.approx(100e3 * 3.0 / np.sqrt(12.0), rel=0.01)
