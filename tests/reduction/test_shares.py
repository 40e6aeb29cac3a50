"""Shares by strains, derived values and budgets of a small test whose readings are known by hand."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from scipy.integrate import quad

from cracktie import actions
from cracktie.lab.budget import monte_carlo
from cracktie.reduction.store import _read, _written

from .conftest import CHANNELS, MATERIALS, SPECIMENS, csv, record

LEG = 0.2 * 60 * 230e3
"""N per unit strain of one leg: t w E."""


@pytest.fixture
def with_cracks(build):
    """reduce(lines, **changes): the usual campaign with these critical crack lines, reduced; gives its one test."""

    def make(lines, **changes):
        campaign = build(**changes)
        if lines:
            seen = {"specimens": {"S": {"crack_lines": lines}}}
            (campaign.folder / "observations.yaml").write_text(json.dumps(seen))
        return actions.reduce(actions.open_campaign(campaign.folder)).test("T")

    return make


FRONT = {"test": "T", "face": "front", "x": "100, 500 mm", "z": "0, 400 mm", "critical": True}


K = 0.2 * 230e3
"""N/mm of a unit width."""


def bond(cover):
    """Geometric means of tau_max and G_f of three published laws at f_c = 30 MPa, areas by quadrature.

    Lu 2005: 1.5 b_w f_ct and 0.308 b_w^2 sqrt(f_ct), f_ct = 0.3 22^(2/3) = 2.355 MPa; Nakaba 2001 and Savoia 2003:
    3.5 f_c^0.19 at 0.065 and 0.051 mm, tau = tau_max z n/(n - 1 + z^n) with n = 3 and 2.86 (all from memory).
    """
    b_w2, peak = (2.25 - cover) / (1.25 + cover), 3.5 * 30**0.19
    area = [quad(lambda z, n=n: z * n / (n - 1 + z**n), 0, np.inf)[0] for n in (3.0, 2.86)]
    energies = 0.308 * b_w2 * math.sqrt(2.355), peak * 0.065 * area[0], peak * 0.051 * area[1]
    return (1.5 * math.sqrt(b_w2) * 2.355 * peak**2) ** (1 / 3), math.prod(energies) ** (1 / 3)


def scatter(cover):
    """Relative u of energy: standard deviation of the three logarithms with 30 % of the specimens; see `bond`."""
    b_w2, peak = (2.25 - cover) / (1.25 + cover), 3.5 * 30**0.19
    area = [quad(lambda z, n=n: z * n / (n - 1 + z**n), 0, np.inf)[0] for n in (3.0, 2.86)]
    logs = np.log([0.308 * b_w2 * math.sqrt(2.355), peak * 0.065 * area[0], peak * 0.051 * area[1]])
    return math.hypot(float(np.std(logs, ddof=1)), 0.3)


OFF = math.hypot(6.0, 0.05 * 150.0) * math.sqrt(2)
"""mm along upright fibres by which a 45 degree line may be off: 6 mm across it, 5 % of a chord up to 150 mm."""
TAU, G_F = bond(60 / 200)
CAP = math.sqrt(2 * G_F / K)
"""Largest strain of a leg with a free end. Both gauges lie 100 mm off the crack: tau_max 100/K would add 12 000."""


def test_two_strips_one_face(with_cracks):
    """A 45 degree line crosses the strips at z = 100 and 300; gauges at 200 read 2000 and 1500 um/m.

    So the strain at the crack lies between these and the cap; its middle is the value.
    """
    test = with_cracks([FRONT])
    V_f = test.values["V_f_strain"]
    middles = [(0.002 + CAP) / 2, (0.0015 + CAP) / 2]
    assert V_f.value == pytest.approx(2 * LEG * sum(middles), rel=2e-3)
    assert "4 legs on the digitised line" in V_f.status
    assert "2 legs without a gauge" in V_f.status
    budget = {c.name: c.u for c in test.budgets["V_f_strain"].by_name()}
    spread = [(CAP - 0.002) / 2, (CAP - 0.0015) / 2]  # half-widths; alike on all legs
    assert budget["strain at the crack between its bounds"] == pytest.approx(
        2 * LEG * sum(spread) / math.sqrt(3), rel=2e-3
    )
    # anything between nothing and twice the mean, alike on both
    assert budget["legs without gauges"] == pytest.approx(LEG * sum(middles) / math.sqrt(3), rel=2e-3)
    assert budget["fibre stiffness"] == pytest.approx(0.03 * V_f.value)
    # the crack climbs 30 mm over half of the 60 mm; free ends at 300 and 100 mm above it
    uneven = [math.hypot(0.05, 30 / end / math.sqrt(3)) * m for end, m in zip((300, 100), middles, strict=True)]
    assert budget["strain across the width"] == pytest.approx(2 * LEG * math.hypot(*uneven), rel=2e-3)
    # sqrt(exp(u)) and sqrt(exp(-u)) of the cap, half of their difference, half of that in the middle
    half = scatter(60 / 200) / 2
    low = [max(CAP * math.exp(-half), eps) for eps in (0.002, 0.0015)]
    assert budget["bond law: energy"] == pytest.approx(
        2 * LEG * 0.5 * sum(CAP * math.exp(half) - x for x in low) / 2, rel=5e-3
    )
    assert "angle of the crack" not in budget
    assert V_f.u == pytest.approx(test.budgets["V_f_strain"].u)
    assert test.values["eps_fe"].value == pytest.approx(sum(middles) / 2, rel=2e-3)
    assert test.values["theta"].value == pytest.approx(45.0)
    (profile,) = [c for c in test.curves if c.x_name == "s_cr"]
    assert profile.x == pytest.approx([100 * math.sqrt(2), 300 * math.sqrt(2)])
    assert profile.y == pytest.approx([2000e-6, 1500e-6], rel=1e-4)
    assert test.values["V_f_gauge"].value == pytest.approx(2 * LEG * 3500e-6, rel=1e-4)
    assert test.values["V_f_gauge"].u is None
    assert any("strip 1 front (100 mm), strip 2 front (100 mm)" in n for n in test.notes)


def test_shares_add_up(with_cracks):
    test = with_cracks([FRONT])
    V, V_f, V_s, V_c = (test.values[n] for n in ("V_max", "V_f_strain", "V_s_meas", "V_c_eq"))
    assert V_s.value == 0.0
    assert V_c.value + V_f.value + V_s.value == pytest.approx(V.value)
    assert V_c.u == pytest.approx(math.hypot(V.u, V_f.u))
    assert test.budgets["V_c_eq"].dominant.name == "strain at the crack between its bounds"


def test_a_steeper_line_crosses_one_strip(with_cracks):
    """From (350, 0) to (450, 400) the line meets the strip at 400 mm alone, at z = 200 where its gauge lies.

    So steep a line may be off by far along the fibre, 15 mm at most count: the gauge is taken as 2 sqrt(3) 15 = 52 mm
    long, 13 mm off the crack on average.
    """
    test = with_cracks([{**FRONT, "x": "350, 450 mm"}])
    more = TAU * math.sqrt(3) * 15 / 2 / K
    assert test.values["V_f_strain"].value == pytest.approx(2 * LEG * (0.0015 + more / 2), rel=2e-3)
    assert test.values["theta"].value == pytest.approx(math.degrees(math.atan(4.0)))


def test_without_a_line_half_is_open(with_cracks):
    """Assumed at 45 degrees through the middle of the span (300 to 700 mm): strips at 400 and 600; 600 has no gauge."""
    test = with_cracks([])
    V_f = test.values["V_f_strain"]
    assert "a 45 deg line, none is digitised" in V_f.status
    parts = {c.name: c.u for c in test.budgets["V_f_strain"].by_name()}
    assert parts["crack not digitised"] == pytest.approx(0.5 * V_f.value)
    # cot(theta) crosses more legs where it is flatter: 2 x 5 deg in radians at 45 degrees
    assert parts["angle of the crack"] == pytest.approx(2 * math.radians(5.0) * V_f.value, rel=1e-6)
    assert "theta" not in test.values


def test_no_gauge_on_the_crack_gives_no_share(with_cracks):
    beyond = {**FRONT, "x": "650, 900 mm"}
    test = with_cracks([beyond])
    assert "V_f_strain" not in test.values
    assert "V_c_eq" not in test.values
    assert any("no gauge reads at V_max on a strip that the crack crosses" in n for n in test.notes)


@pytest.fixture
def stirrups(changed):
    """changes(yielding, strain): stirrups of two 8 mm legs at 250 and 450 mm, the first gauged, strain at the peak."""

    def make(strain, **bar):
        specimen = changed("specimens", lambda s: s["S"]["spans"]["A"].update(
            stirrups={"material": "w8", "positions": "250, 450 mm", "legs": 2}))  # fmt: skip
        gauge = {"name": "W1", "quantity": "bar strain", "stirrup": 1, "x": "250 mm", "z": "150 mm"}
        rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS, gauge]))
        columns = record()
        columns["W1"] = columns["G1"] / 2000.0 * strain
        log = csv(columns, {"W1": "um/m"})
        materials = {"diameter": "8 mm", "measured": {"f_y": "500 +- 10 MPa", "E_s": "200 GPa"}, **bar}
        return {**specimen, **rig, "logs": {"logs/T.csv": log}}, materials

    return make


def reduced_with_bar(build, changes, bar):
    MATERIALS["bars"]["w8"] = bar
    try:
        campaign = build(**changes)
    finally:
        del MATERIALS["bars"]["w8"]
    (campaign.folder / "observations.yaml").write_text(json.dumps({"specimens": {"S": {"crack_lines": [FRONT]}}}))
    return actions.reduce(actions.open_campaign(campaign.folder)).test("T")


AREA = 2 * math.pi * 16
BAR_BOND = 4 * 2.5 * math.sqrt(30) / 8 * math.sqrt(3) * 6 / 2 / 2
"""MPa that bond may add on 5.2 mm (a line known to 6 mm), half of it: tau_b = 2.5 sqrt(30) on a bar of 8 mm; 17.8."""


def test_elastic_stirrup_and_one_like_it(build, stirrups):
    """1000 um/m: 200 MPa on two legs; the second stirrup has no gauge and is taken alike."""
    test = reduced_with_bar(build, *stirrups(1000.0))
    V_s = test.values["V_s_meas"]
    assert V_s.value == pytest.approx(2 * AREA * (200 + BAR_BOND), rel=1e-3)
    assert "gauges on 1 of 2 stirrups" in V_s.status
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].components}
    assert parts["stirrups without gauges"] == pytest.approx(0.25 * AREA * (200 + BAR_BOND), rel=1e-3)
    assert parts["bars between gauge and crack"] == pytest.approx(2 * AREA * BAR_BOND / math.sqrt(3), rel=2e-3)
    assert "yield strength" not in parts


def test_plateau_stops_at_yield(build, stirrups):
    test = reduced_with_bar(build, *stirrups(4000.0))
    assert test.values["V_s_meas"].value == pytest.approx(2 * AREA * 500)


def test_rounded_bar_at_f_y_over_E_is_below_f_y(build, stirrups):
    """2500 um/m = f_y/E: s/f_y = 0.863 solves r/400 + 0.002 r^12 = 1/400, so V_s of f_y would be 16 % too high."""
    A_gt = 560 / 200e3 + 0.002 * (560 / 500) ** 12
    values = {"f_y": "500 MPa", "E_s": "200 GPa", "f_u": "560 MPa", "A_gt": f"{100 * A_gt:.8f} %"}
    test = reduced_with_bar(build, *stirrups(2500.0, yielding="rounded", measured=values))
    assert f"{(test.values['V_s_meas'].value / (2 * AREA) - BAR_BOND) / 500:.2f}" == "0.86"
    assert "rounded curve" in test.values["V_s_meas"].status


def test_the_curve_of_the_coupons_goes_before_a_formula(build, stirrups):
    """A bar of three straight pieces, 400 MPa at 2000, 480 at 6000, 600 at 60 000 um/m: 440 MPa at 4000 um/m.

    Its proof stress, strength and A_gt in a power law would give another stress.
    """
    changes, bar = stirrups(4000.0)
    MATERIALS["bars"]["w8"] = bar
    try:
        folder = build(**changes).folder
    finally:
        del MATERIALS["bars"]["w8"]
    (folder / "observations.yaml").write_text(json.dumps({"specimens": {"S": {"crack_lines": [FRONT]}}}))
    (folder / "coupons").mkdir()
    strain = np.concatenate(
        (np.linspace(0, 2000, 101), np.linspace(2000, 6000, 101)[1:], np.linspace(6000, 60000, 200)[1:])
    )
    stress = np.append(np.interp(strain, [0, 2000, 6000, 60000], [0, 400, 480, 600]), 10.0)
    rows = [f"{s * math.pi * 16 / 1000:.6f},{e:.3f}" for s, e in zip(stress, np.append(strain, 60100), strict=True)]
    (folder / "coupons/b.csv").write_text("\n".join(["F [kN],e [um/m]", *rows]) + "\n")
    (folder / "coupons/w8.yaml").write_text(
        "what: bar tension\nforce: F\nstrain: e\ndiameter: 8 mm\nspecimens:\n  b1: {log: b.csv}\n"
    )
    materials = json.loads((folder / "materials.yaml").read_text())
    materials["bars"]["w8"] = {"diameter": "8 mm", "from": "coupons/w8.yaml"}
    (folder / "materials.yaml").write_text(json.dumps(materials))
    test = actions.reduce(actions.open_campaign(folder)).test("T")
    assert test.values["V_s_meas"].value == pytest.approx(2 * AREA * (440 + BAR_BOND), rel=2e-3)
    assert "as its coupons show it (1)" in test.values["V_s_meas"].status
    parts = {c.name: c.u for c in test.budgets["V_s_meas"].components}
    slope = 80 / 4000 * 4000  # MPa of stress for a strain of all 4000 um/m
    assert parts["modulus of the bars"] == pytest.approx(2 * AREA * slope * math.hypot(0.01, 0.01), rel=0.02)


def test_rounded_bar_without_coupons_stays_undivided(build, stirrups):
    test = reduced_with_bar(build, *stirrups(2500.0, yielding="rounded"))
    assert "V_s_meas" not in test.values
    assert "V_c_eq" not in test.values
    assert test.values["V_cs_eq"].value == pytest.approx(test.value("V_max") - test.value("V_f_strain"))
    assert any("needs f_u and A_gt" in n for n in test.notes)


def test_budgets_total_what_is_printed(with_cracks):
    test = with_cracks([FRONT])
    for name, budget in test.budgets.items():
        assert budget.u == pytest.approx(test.values[name].u), name
    assert {c.name for c in test.budgets["V_max"].components} >= {"load cell", "place of the load", "self-weight"}


def test_first_order_agrees_with_draws(with_cracks, build):
    """V_max once more by random places, cell and weight through the statics of a simple beam written out here."""
    test = with_cracks([FRONT])
    P, w = test.value("P_max"), 0.2 * 0.4 * 25.0  # kN/m = N/mm

    def V(left, right, load, cell, weight):
        l = right - left
        rise = (load + left) / 2  # the section lies midway between support and load and moves with them
        total = weight * 2900.0
        reaction = total * (right - 1250.0) / l
        return (P * cell + 2000.0) * (right - load) / l + reaction - weight * (rise + 200.0)

    values = {"left": 0.0, "right": 2500.0, "load": 1000.0, "cell": 1.0, "weight": w}
    u = {"left": 3, "right": 3, "load": 3, "cell": 0.004, "weight": 0.05 * w}
    drawn = monte_carlo(
        V, values, {k: v / math.sqrt(3) for k, v in u.items()}, shapes=dict.fromkeys(values, "rectangular")
    )
    assert drawn.mean == pytest.approx(test.value("V_max"), rel=2e-4)
    read = ("reading or row of the event", "zero of the load cell")
    others = math.hypot(*(c.u for c in test.budgets["V_max"].components if c.name not in read))
    assert others == pytest.approx(drawn.u, rel=0.02)


def test_stored_results_keep_their_budgets(with_cracks):
    test = with_cracks([FRONT])
    again = _read(json.loads(json.dumps(_written(test))))
    assert again.budgets == test.budgets


def test_stiffness_energy_and_late_deflection(with_cracks):
    """A straight line from 0 to 100 kN and 9 mm: 11.11 kN/mm, 450 kN mm; the fall to 60 kN passes 80 % at 9 mm."""
    test = with_cracks([])
    assert test.value("K_cracked") == pytest.approx(100e3 / 9, rel=1e-3)
    assert test.value("W_V_max") == pytest.approx(450e3, rel=2e-3)
    assert test.value("delta_80") == pytest.approx(9.0, abs=0.02)
    assert "75 % of P_max" in test.values["mu_delta"].status


def test_shear_deflection_from_diagonals(with_cracks, changed):
    """Elongations of +0.70 and -0.35 mm on 350 mm diagonals: gamma = 0.002 + 0.001, 3 mm over a span of 1000 mm."""
    pair = [
        {"name": n, "quantity": "diagonal displacement", "unit": "mm", "x": "500 mm", "z": "200 mm", "face": "back",
         "direction": d, "gauge_length": "350 mm", "uncertainty": "0.01 mm"}
        for n, d in (("X1", "135 deg"), ("X2", "45 deg"))
    ]  # fmt: skip
    rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS, *pair]))
    columns = record()
    columns["X1"], columns["X2"] = 0.70 * columns["P"] / 100.0, -0.35 * columns["P"] / 100.0
    test = with_cracks([], logs={"logs/T.csv": csv(columns, {"X1": "mm", "X2": "mm"})}, **rig)
    assert test.value("gamma_V_max") == pytest.approx(0.003, rel=1e-4)
    assert test.value("delta_shear_V_max") == pytest.approx(3.0, rel=1e-4)
    assert test.values["gamma_V_max"].u == pytest.approx(math.sqrt(2) * 0.01 / math.sqrt(3) / 350, rel=1e-3)
    assert test.values["delta_shear_V_max"].u == pytest.approx(0.2 * 3.0, rel=0.01)  # one panel for the whole span
    assert test.value("delta_flex_V_max") == pytest.approx(test.value("delta_V_max") - 3.0)


def test_a_continuous_sheet_takes_its_profile(build, changed):
    """Three gauges on a 45 degree crack: trapezoids with zero at both ends, both faces alike."""

    def sheet(s):
        s["S"]["spans"]["A"]["wrap"] = {"system": "cf", "scheme": "u", "layout": "continuous"}

    gauges = [
        {"name": f"G{i}", "quantity": "FRP strain", "x": f"{100 + z} mm", "z": f"{z} mm", "face": "front"}
        for i, z in ((1, 100), (2, 200), (3, 300))
    ]
    rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS[:2], *gauges]))
    columns = record()
    columns["G3"] = columns["G1"] / 2
    log = csv(columns, {"G3": "um/m"})
    campaign = build(**changed("specimens", sheet), **rig, logs={"logs/T.csv": log})
    (campaign.folder / "observations.yaml").write_text(json.dumps({"specimens": {"S": {"crack_lines": [FRONT]}}}))
    test = actions.reduce(actions.open_campaign(campaign.folder)).test("T")
    # 11.8 mm off the crack on average, half of tau/K of that
    more = bond(1.0)[0] / K * math.sqrt(3) * OFF / 2 / 2
    one, two, three = 2000e-6 + more, 1500e-6 + more, 1000e-6 + more
    # the sheet goes on around the soffit: at the lower edge half of the lowest strain, anything up to it
    area = 100 * (0.75 * one + (one + two) / 2 + (two + three) / 2 + three / 2)
    assert test.value("V_f_strain") == pytest.approx(2 * 0.2 * 230e3 * area, rel=1e-3)
    parts = {c.name: c.u for c in test.budgets["V_f_strain"].by_name()}
    edge = 2 * 0.2 * 230e3 * 0.5 * one / math.sqrt(3) * 100 / 2
    assert parts["profile below the lowest gauge"] == pytest.approx(edge, rel=2e-3)
    # up to the free end: nothing, or the highest strain all the way
    edge = 2 * 0.2 * 230e3 * three / math.sqrt(3) * 100 / 2
    assert parts["profile above the highest gauge"] == pytest.approx(edge, rel=2e-3)
    plain = 2 * 0.2 * 230e3 * 100e-6 * (2000 + 1500 + 1000)
    assert test.value("V_f_gauge") == pytest.approx(plain, rel=1e-3)
    assert SPECIMENS["S"]["spans"]["A"]["wrap"]["layout"] == "strips"


def test_legs_without_gauges_follow_the_scatter_of_the_others(build, changed):
    """Four strips, gauges on the crack of three front legs: 2000, 1500, 1000 um/m, so s = 500 um/m with 2 degrees.

    Five legs have none. Three take their partner's strain, two the mean, so each gauged one counts 1 + 1 + 2/3 times:
    u = s sqrt(5 + 3 (5/3)^2) = 3.65 s, type A.
    """
    gauges = [
        {"name": f"G{i}", "quantity": "FRP strain", "strip": i, "x": f"{50 + 100 * i} mm", "z": f"{100 * i - 50} mm"}
        for i in (1, 2, 3)
    ]
    rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS[:2], *gauges]))
    strips = changed("specimens", lambda s: s["S"]["spans"]["A"]["wrap"].update(positions="150, 250, 350, 450 mm"))
    columns = record()
    columns["G3"] = columns["G1"] / 2
    campaign = build(**strips, **rig, logs={"logs/T.csv": csv(columns, {"G3": "um/m"})})
    (campaign.folder / "observations.yaml").write_text(json.dumps({"specimens": {"S": {"crack_lines": [FRONT]}}}))
    test = actions.reduce(actions.open_campaign(campaign.folder)).test("T")
    (part,) = [c for c in test.budgets["V_f_strain"].components if c.name == "legs without gauges"]
    assert part.u == pytest.approx(LEG * 500e-6 * math.sqrt(5 + 3 * (5 / 3) ** 2), rel=5e-3)
    assert (part.kind, part.dof) == ("A", 2.0)
    assert "5 legs; scatter of 3 gauged legs" in part.note
    more = 0.5 * bond(60 / 100)[0] / K * math.sqrt(3) * OFF / 2
    assert test.values["V_f_strain"].value == pytest.approx(8 * LEG * (1500e-6 + more), rel=3e-3)
    # strips 1 and 4 are crossed 50 mm from an edge: farther than 12 + 30 mm (line twice, climb) on the front; on the
    # back, where no line is digitised, 30 + 30 mm reach beyond by a third of the climb; a leg counts or not
    (part,) = [c for c in test.budgets["V_f_strain"].components if c.name == "legs crossed near an edge"]
    assert part.u == pytest.approx(LEG * test.value("eps_fe") * 0.5 * math.sqrt(2) / 3, rel=0.01)


def test_a_leg_near_an_edge_may_not_be_crossed(with_cracks):
    """A line from (190, 0) meets strip 1 at z = 10: 12 mm on the front, 30 on the back, both legs or none."""
    test = with_cracks([{**FRONT, "x": "190, 590 mm"}])
    (part,) = [c for c in test.budgets["V_f_strain"].components if c.name == "legs crossed near an edge"]
    assert "1 strips" in part.note
    assert part.u == pytest.approx(LEG * test.value("eps_fe") * 2 * 0.5, rel=0.03)


def test_alike_gauges_are_not_taken_at_their_largest(build, changed):
    """Three gauges of one leg within 10 %: 0.85 times 5 % comes off, the mean of the largest of three normal values."""
    gauges = [
        {"name": f"G{i}", "quantity": "FRP strain", "strip": 1, "x": "200 mm", "z": f"{z} mm"}
        for i, z in ((1, 100), (2, 101), (3, 99))
    ]
    rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS[:2], *gauges]))
    strips = changed("specimens", lambda s: s["S"]["spans"]["A"]["wrap"].update(positions="200, 900 mm"))
    columns = record()
    columns["G2"], columns["G3"] = 0.95 * columns["G1"], 0.97 * columns["G1"]
    found = {}
    for name, kept in (("three", (1, 2, 3)), ("one", (1,))):
        one = {
            "Time": columns["Time"],
            "P": columns["P"],
            "D": columns["D"],
            **{f"G{i}": columns[f"G{i}"] for i in kept},
        }
        campaign = build(**strips, **rig, logs={"logs/T.csv": csv(one, {"G3": "um/m"})}, folder=name)
        (campaign.folder / "observations.yaml").write_text(json.dumps({"specimens": {"S": {"crack_lines": [FRONT]}}}))
        found[name] = actions.reduce(actions.open_campaign(campaign.folder)).test("T").value("eps_fe")
    assert found["three"] / found["one"] == pytest.approx(1 - 0.05 * 0.85, abs=0.03)
    assert found["three"] < found["one"]


def test_errors_that_gauges_share_do_not_average_out():
    """Two gauges of 30 um/m each, shared: 30 of either; apart: each its own."""
    from types import SimpleNamespace

    from cracktie.reduction.crack_legs import causes
    from cracktie.reduction.readings import Part

    def gauge(shared):
        return SimpleNamespace(noise=4e-6, u_zero=0.0, parts=(Part("thermal output", 30e-6, shared=shared),))

    own, shared = causes([gauge("air"), gauge("air")], 0)
    assert own == pytest.approx([4e-6, 4e-6])
    assert shared["thermal output, air"].u == pytest.approx([30e-6, 30e-6])
    own, shared = causes([gauge(""), gauge("")], 0)
    assert own == pytest.approx([math.hypot(30e-6, 4e-6)] * 2)
    assert shared == {}


def test_a_leg_with_a_free_end_proves_its_bond(with_cracks):
    """7000 um/m are more than the cap of 6260: the bond holds 1.2 times that energy at least, on all legs."""
    columns = record()
    columns["G1"] = 3.5 * columns["G1"]
    test = with_cracks([FRONT], logs={"logs/T.csv": csv(columns)})
    assert CAP < 0.007
    proved = 0.007 * math.sqrt(1.2)
    middles = (0.007 + proved) / 2, (0.0015 + proved) / 2
    assert test.value("eps_fe") == pytest.approx(sum(middles) / 2, rel=6e-3)  # what lasted three readings


def test_a_leg_that_let_go_carries_little_more_than_it_reads(with_cracks):
    """Strip 1 held 5000 um/m and reads 1000 at V_max, 100 mm above the crack: its upper end of 300 mm slips.

    Nearer to the crack the bond holds no more a mm than on the 200 mm beyond: 1000 x 300/200 at most. Over half of the
    width the end is up to 30 mm longer, so a tenth of it may be bonded still.
    """
    columns = record()
    time = columns["Time"]
    columns["G1"] = np.interp(time, [20.0, 120.0, 126.0, 200.0, 220.0], [0.0, 5000.0, 1200.0, 1000.0, 900.0])
    test = with_cracks([FRONT], logs={"logs/T.csv": csv(columns)})
    high = 0.0015 + 0.1 * (CAP - 0.0015)
    assert test.value("eps_fe") == pytest.approx(((0.001 + high) / 2 + (0.0015 + CAP) / 2) / 2, rel=3e-3)
