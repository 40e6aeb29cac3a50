"""V_s: ends of stirrups, stated accuracies, modulus, and the nominal value; by hand."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from cracktie import actions
from cracktie.errors import ModelInputError
from cracktie.reduction.crossing import CriticalCrack, assumed_crack, crossed_stirrups, stirrup_ends

from .conftest import CHANNELS, MATERIALS, REDUCTION, csv, record

AREA = 2 * math.pi * 16
"""mm2 of two 8 mm legs."""
COT = 1 / np.tan(np.radians(25.0 + 25.0 * (np.arange(100_000) + 0.5) / 100_000))
"""Of angles spread evenly from 25 to 50 degrees."""
FRONT = {"test": "T", "face": "front", "x": "100, 500 mm", "z": "0, 400 mm", "critical": True}


@pytest.fixture
def beam(build, changed, monkeypatch):
    """reduced(positions, accuracy, strain, line): two 8 mm legs, the stirrup at 250 mm gauged where strain is given."""

    def make(positions, *, accuracy=None, strain=None, line=FRONT, spans=None, E_s="200 +- 4 GPa"):
        bar = {"diameter": "8 mm", "measured": {"f_y": "500 +- 10 MPa", "E_s": E_s}}
        monkeypatch.setitem(MATERIALS["bars"], "w8", bar)
        stirrups = {"material": "w8", "legs": 2, **positions}
        specimen = changed("specimens", lambda s: s["S"]["spans"]["A"].update(stirrups=stirrups))
        columns, channels = record(), list(CHANNELS)
        if strain is not None:
            gauge = {"name": "W1", "quantity": "bar strain", "stirrup": 1, "x": "250 mm", "z": "150 mm"}
            channels.append(gauge | ({"uncertainty": accuracy} if accuracy else {}))
            columns["W1"] = columns["G1"] / 2000.0 * strain
        rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=channels))
        campaign = build(**specimen, **rig, logs={"logs/T.csv": csv(columns, {"W1": "um/m"})}, reduction=REDUCTION)
        if line:
            (campaign.folder / "observations.yaml").write_text(
                json.dumps({"specimens": {"S": {"crack_lines": [line]}}})
            )
        campaign = actions.open_campaign(campaign.folder)
        return campaign, actions.reduce(campaign).test("T")

    return make


def test_covers_are_no_part_of_a_stirrup(beam):
    """h = 400, bars 350 deep: z = 50 to 350 (no top bars). A 45 degree crack from x = 100 meets x = 130 at z = 30."""
    campaign, _ = beam({"positions": "130, 300, 470 mm"})
    specimen = campaign.specimen("S")
    assert stirrup_ends(specimen) == pytest.approx((50.0, 350.0))
    line = CriticalCrack({"front": ((100.0, 500.0), (0.0, 400.0))}, False, 45.0, 3.0, "by hand")
    assert {c.number: c.z for c in crossed_stirrups(specimen, "A", line)} == pytest.approx({2: 200.0})


def test_a_crossing_near_an_end_is_told_and_uncertain(beam):
    """x = 160 is met at z = 60, 10 mm above the bars: less than 80 mm. Whole or not at all, as likely
    as not: a standard deviation of half its force."""
    _, test = beam({"positions": "160, 300 mm"})
    V_s = test.values["V_s_meas"]
    assert V_s.value == pytest.approx(2 * AREA * 500)
    assert "between z = 50 and 350 mm, 1 of them near an end" in V_s.status
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].components}
    assert parts["stirrups crossed near their ends"] == pytest.approx(AREA * 500 / 2)


def test_an_accuracy_in_strain_and_the_modulus_are_in_the_budget(beam):
    """1000 um/m read to 30 um/m and E_s = 200 +- 4 GPa: 3 %/sqrt(3) and 2 % of the force of one elastic stirrup."""
    _, test = beam({"positions": "250 mm"}, accuracy="30 um/m", strain=1000.0)
    V_s = AREA * 200
    bond = 4 * 2.5 * math.sqrt(30) / 8 * math.sqrt(3) * 6 / 2  # MPa on 5.2 mm, for the line is known to 6 mm
    assert test.value("V_s_meas") == pytest.approx(V_s + AREA * bond / 2, rel=1e-3)
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].components}
    assert parts["gauge factor and amplifier"] == pytest.approx(0.03 / math.sqrt(3) * V_s, rel=1e-3)
    assert parts["modulus of the bars"] == pytest.approx(0.02 * V_s, rel=1e-3)


def test_a_bar_that_yielded_in_an_earlier_test_unloads_from_there(build, changed, monkeypatch):
    """6000 um/m in the first test, 2500 left in it; 2000 more at V_max of the second make 4500: with f_y = 500 MPa and
    E_s = 200 GPa the bar carries 500 - 200 000 x 0.0015 = 200 MPa, although no strain of the second test yields it."""
    bar = {"diameter": "8 mm", "measured": {"f_y": "500 +- 10 MPa", "E_s": "200 GPa"}}
    monkeypatch.setitem(MATERIALS["bars"], "w8", bar)
    stirrups = {"material": "w8", "legs": 2, "positions": "250 mm"}
    changes = changed("specimens", lambda s: s["S"]["spans"]["A"].update(stirrups=stirrups))
    gauge = {"name": "W1", "quantity": "bar strain", "stirrup": 1, "x": "250 mm", "z": "150 mm"}
    changes |= changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS, gauge]))
    columns = record()
    time, up = columns["Time"], columns["G1"] / 2000.0
    wave = 0.5 * np.sin(7.0 * time)  # no gauge stands still
    first = columns | {"W1": np.interp(time, [20.0, 160.0, 165.0, 180.0], [0.0, 6000.0, 6000.0, 2500.0]) + wave}
    first["P"] = np.interp(time, [20.0, 160.0, 165.0, 180.0], [0.0, 80.0, 80.0, 0.0])
    early = {"specimen": "S", "order": 1, "setup": "one", "layout": "all", "logs": ["logs/T0.csv"],
             "outcome": "stopped"}  # fmt: skip

    def alter(t):
        t["tests"]["T"].update(order=2, state="precracked")
        t["tests"]["T0"] = early

    def carry(r):
        zeros = {"start": "0 s", "end": "18 s", "quantities": ["bar strain"], "carry": {"test": "T0"}}
        r["tests"]["T"]["zeros"].append(zeros)

    changes |= changed("tests", alter) | changed("reduction", carry)
    logs = {"logs/T.csv": csv(columns | {"W1": 2000.0 * up + wave}, {"W1": "um/m"}),
            "logs/T0.csv": csv(first, {"W1": "um/m"})}  # fmt: skip
    campaign = build(**changes, logs=logs)
    lines = {"specimens": {"S": {"crack_lines": [FRONT]}}}
    (campaign.folder / "observations.yaml").write_text(json.dumps(lines))
    test = actions.reduce(actions.open_campaign(campaign.folder)).test("T")
    bond = 4 * 2.5 * math.sqrt(30) / 8 * math.sqrt(3) * 6 / 2 / 2
    assert test.value("V_s_meas") == pytest.approx(AREA * (200 + bond), rel=0.01)


def test_what_gauges_share_adds_up_over_bars(build, changed, monkeypatch):
    """Two gauged elastic stirrups, thermal output of 10 um/m/K x 6 K not taken off and a gauge factor known to 3 %:
    both errors are those of both bars at once, so they add; E_s 60e-6/sqrt(3) and 0.03/sqrt(3) of 200 MPa in either."""
    bar = {"diameter": "8 mm", "measured": {"f_y": "500 +- 10 MPa", "E_s": "200 GPa"}}
    monkeypatch.setitem(MATERIALS["bars"], "w8", bar)
    stirrups = {"material": "w8", "legs": 2, "positions": "250, 350 mm"}
    changes = changed("specimens", lambda s: s["S"]["spans"]["A"].update(stirrups=stirrups))
    block = {"gauge_factor": 2.0, "gauge_factor_tolerance": "3 %", "linearised": True, "alpha_gauge": "1 um/m/K",
             "alpha_substrate": "11 um/m/K", "temperature_change": "6 K"}  # fmt: skip
    gauges = [{"name": f"W{n}", "quantity": "bar strain", "stirrup": n, "x": f"{x} mm", "z": f"{x - 100} mm",
               "gauge": block} for n, x in ((1, 250), (2, 350))]  # fmt: skip
    changes |= changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS, *gauges]))
    columns = record()
    up = columns["G1"] / 2000.0
    text = csv(columns | {"W1": 1000.0 * up, "W2": 1000.0 * up}, {"W1": "um/m", "W2": "um/m"})
    campaign = build(**changes, logs={"logs/T.csv": text})
    lines = {"specimens": {"S": {"crack_lines": [FRONT]}}}
    (campaign.folder / "observations.yaml").write_text(json.dumps(lines))
    test = actions.reduce(actions.open_campaign(campaign.folder)).test("T")
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].by_name()}
    assert parts["thermal output"] == pytest.approx(2 * AREA * 200e3 * 60e-6 / math.sqrt(3), rel=2e-3)
    assert parts["gauge factor and amplifier"] == pytest.approx(2 * AREA * 200 * 0.03 / math.sqrt(3), rel=2e-3)


def test_a_yielding_bar_does_not_feel_gauge_and_modulus(beam):
    _, test = beam({"positions": "250 mm"}, accuracy="30 um/m", strain=4000.0)
    names = {c.name for c in test.budgets["V_s_meas"].components}
    assert not names & {"gauge factor and amplifier", "modulus of the bars"}


def test_an_accuracy_in_strain_counts_for_strips_too(build, changed):
    """2000 um/m at V_max on strip 1 and 1500 on strip 2, both to 60 um/m: the worse is 4 %/sqrt(3)."""
    channels = [c | ({"uncertainty": "60 um/m"} if c["quantity"] == "FRP strain" else {}) for c in CHANNELS]
    rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=channels))
    campaign = build(**rig)
    (campaign.folder / "observations.yaml").write_text(json.dumps({"specimens": {"S": {"crack_lines": [FRONT]}}}))
    test = actions.reduce(actions.open_campaign(campaign.folder)).test("T")
    parts = {c.name: c.u for c in test.budgets["V_f_strain"].components}
    # both strains at the crack are the middle of a reading and the cap of the leg, so half of the readings counts
    readings = 4 * 0.2 * 60 * 230e3 * (0.002 + 0.0015) / 2 / 2
    assert parts["gauge factor and amplifier"] == pytest.approx(0.04 / math.sqrt(3) * readings, rel=2e-3)


def test_nominal_where_nothing_tells(beam):
    """No gauge, no line: A f_y d/s = 100.53 x 500 x 350/150 = 117.3 kN, in a strengthened beam, and named so."""
    _, test = beam({"spacing": "150 mm", "first": "100 mm"}, line=None)
    V_s = test.values["V_s_nom"]
    assert f"{V_s.value / 1000:.1f}" == "117.3"
    assert V_s.status.startswith("NOMINAL, not measured")
    assert "V_s_meas" not in test.values
    assert test.value("V_c_eq") == pytest.approx(test.value("V_max") - test.value("V_f_strain") - V_s.value)
    assert "V_s_nom" in test.values["V_c_eq"].status
    assert V_s.u > 0.2 * V_s.value


def test_draws_agree_with_first_order(build):
    campaign = build()
    told = actions.explain(campaign, "T", "V_max", samples=20_000).lines()
    (line,) = [t for t in told if "Monte Carlo, 20000 draws" in t]
    test = actions.reduce(campaign).test("T")
    low, high = (float(v) for v in line.split("seed 1: ")[1].split(" kN")[0].split(" to "))
    V = test.values["V_max"]
    assert (low + high) / 2 == pytest.approx(V.value / 1000, rel=1e-3)
    assert (high - low) / 2 == pytest.approx(1.9 * V.u / 1000, rel=0.06)  # 1.65 (rectangular) to 1.96 (normal)
    assert "Monte Carlo" not in "\n".join(actions.explain(campaign, "T", "V_max", samples=0).lines())
    with pytest.raises(ModelInputError, match="10 draws"):
        actions.explain(campaign, "T", "V_max", samples=10)


def test_inclined_stirrups_count_with_their_vertical_part(beam):
    """60 degrees, yielding: A f_y sin 60 by gauges and by count."""
    _, gauged = beam({"positions": "250 mm", "angle": "60 deg"}, strain=4000.0)
    assert gauged.value("V_s_meas") == pytest.approx(AREA * 500 * math.sin(math.radians(60)), rel=1e-6)
    _, counted = beam({"positions": "250, 350 mm", "angle": "60 deg"})
    assert counted.value("V_s_meas") == pytest.approx(2 * AREA * 500 * math.sin(math.radians(60)), rel=1e-6)


def test_inclined_stirrups_are_nominally_crossed_more_often(beam):
    """A f_y (sin 60 + cos 60) d/s on a crack at 45 degrees."""
    _, nominal = beam({"spacing": "150 mm", "first": "100 mm", "angle": "60 deg"}, line=None)
    assert nominal.value("V_s_nom") == pytest.approx(AREA * 500 * (math.sqrt(3) + 1) / 2 * 350 / 150, rel=1e-6)


def test_a_flatter_crack_than_assumed_crosses_more_stirrups(beam):
    """d/s (cot theta - 1) stirrups more: a flatter angle raises V_s and V_f, so their errors add up in V_c."""
    campaign, test = beam({"spacing": "150 mm", "first": "100 mm"}, line=None)
    u = math.radians(assumed_crack(campaign.specimen("S"), "A", 45.0).u_angle)
    (steel,) = [c for c in test.budgets["V_s_nom"].components if c.name == "angle of the crack"]
    rms = math.sqrt(np.mean((COT - 1.0) ** 2))  # cracks lie at 25 to 50 degrees, not at 45
    assert steel.u == pytest.approx(AREA * 500 * 350 / 150 * rms, rel=1e-5)
    assert steel.sign == -1
    (fibres,) = [c for c in test.budgets["V_f_strain"].components if c.name == "angle of the crack"]
    assert fibres.sign == -1
    assert fibres.u == pytest.approx(test.value("V_f_strain") * 2 * u, rel=1e-3)  # d(cot)/cot = 2 d(theta) at 45 deg
    (rest,) = [c for c in test.budgets["V_c_eq"].components if c.name == "angle of the crack"]
    assert rest.u == pytest.approx(steel.u + fibres.u, rel=1e-6)


def test_an_unseen_crack_crosses_as_many_stirrups_as_its_angles_allow(beam):
    """z = 50 to 350 mm, every 150 mm: 2 cot(theta) stirrups, 2.73 in the mean; the one gauge yields, 3 - 1 lack one."""
    _, test = beam({"positions": "250, 400, 550, 700 mm"}, strain=4000.0, line=None)
    V_s, one = test.values["V_s_meas"], AREA * 500
    assert V_s.value == pytest.approx(2 * COT.mean() * one, rel=1e-6)
    assert "crosses about 2.7" in V_s.status
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].by_name()}
    assert parts["angle of the crack"] == pytest.approx(2 * COT.std() * one, rel=1e-5)
    assert parts["number of stirrups crossed"] == pytest.approx(one / math.sqrt(6), rel=1e-6)
    assert parts["stirrups without gauges"] == pytest.approx(0.25 * 2 * one, rel=1e-6)
    assert "bars between gauge and crack" not in parts  # they bear no more than f_y
    (angle,) = [c for c in test.budgets["V_c_eq"].components if c.name == "angle of the crack"]
    (fibres,) = [c for c in test.budgets["V_f_strain"].components if c.name == "angle of the crack"]
    assert angle.u == pytest.approx(parts["angle of the crack"] + fibres.u, rel=1e-6)


def test_a_gauge_that_reads_nothing_bounds_its_stirrup_from_below_only(beam):
    """10 um/m, 200 mm from where an unseen crack may cross: bond of 13.7 MPa brings a bar of 8 mm from 2 MPa to f_y, so
    it carries anything between."""
    _, test = beam({"positions": "250, 400, 550, 700 mm"}, strain=10.0, line=None)
    number = 2 * COT.mean()
    assert test.value("V_s_meas") == pytest.approx(number * AREA * (2 + 500) / 2, rel=1e-3)
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].by_name()}
    width = number * AREA * (500 - 2) / 2 / math.sqrt(3)
    assert parts["bars between gauge and crack"] == pytest.approx(width, rel=1e-3)


def test_plain_bars_are_bound_by_their_bond(beam, monkeypatch):
    """tau_b = 0.3 sqrt(30) on 200 mm of a plain bar: 164 MPa more than the gauge's 2 at most."""
    real = MATERIALS["bars"]

    class Plain(dict):
        def __setitem__(self, key, value):
            super().__setitem__(key, value | {"kind": "plain"})

    monkeypatch.setitem(MATERIALS, "bars", Plain(real))
    _, test = beam({"positions": "250, 400, 550, 700 mm"}, strain=10.0, line=None)
    bond = 4 * 0.3 * math.sqrt(30) / 8 * 200
    assert test.value("V_s_meas") == pytest.approx(2 * COT.mean() * AREA * (2 + bond / 2), rel=1e-3)
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].by_name()}
    assert parts["bond of the bars"] == pytest.approx(2 * COT.mean() * AREA * bond / 2 * math.sinh(0.3), rel=1e-3)


def test_stirrups_without_gauges_scatter_like_the_gauged_ones(build, changed, monkeypatch):
    """Three of five gauged, 1000, 1200 and 1400 um/m (40 MPa of scatter): two more at their mean are off by
    s sqrt(2 + 2^2/3) = s sqrt(2 x 5/3)."""
    bar = {"diameter": "8 mm", "measured": {"f_y": "500 +- 10 MPa", "E_s": "200 GPa"}}
    monkeypatch.setitem(MATERIALS["bars"], "w8", bar)
    stirrups = {"material": "w8", "legs": 2, "positions": "200, 250, 300, 350, 400 mm"}
    changes = changed("specimens", lambda s: s["S"]["spans"]["A"].update(stirrups=stirrups))
    gauges = [{"name": f"W{n}", "quantity": "bar strain", "stirrup": n, "x": f"{150 + 50 * n} mm",
               "z": f"{50 + 50 * n} mm"} for n in (1, 3, 5)]  # fmt: skip
    changes |= changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS, *gauges]))
    columns = record()
    up = columns["G1"] / 2000.0
    read = {"W1": 1000.0 * up, "W3": 1200.0 * up, "W5": 1400.0 * up}
    campaign = build(**changes, logs={"logs/T.csv": csv(columns | read, dict.fromkeys(read, "um/m"))})
    lines = {"specimens": {"S": {"crack_lines": [FRONT]}}}
    (campaign.folder / "observations.yaml").write_text(json.dumps(lines))
    test = actions.reduce(actions.open_campaign(campaign.folder)).test("T")
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].by_name()}
    assert parts["stirrups without gauges"] == pytest.approx(AREA * 40 * math.sqrt(2 * 5 / 3), rel=1e-3)
