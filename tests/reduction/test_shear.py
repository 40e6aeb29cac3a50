"""From load to shear: statics by hand, and the uncertainty of places against drawing them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.plan.statics import Placing, span_statics
from cracktie.reduction.shear import mirrored, place_ratio, setup_of, shear_rule

# beam of all tests: 200 x 400 mm, 25 kN/m3, so w = 2 N/mm; spans 1000 and 1500 mm, 200 mm beyond each support


def _rule(campaign, span="A", **test):
    return shear_rule(campaign, campaign.tests["T"].model_copy(update=test), span)


def test_three_point_with_unequal_spans(build):
    """Reactions 2900 N each; left V(500) = 2900 - 2 (700) = 1500 N, right V(1750) = 2 (1950) - 2900 = 1000 N."""
    campaign = build()
    left, right = _rule(campaign, "A"), _rule(campaign, "B")
    assert (left.x, right.x) == (500.0, 1750.0)
    assert left.influence == pytest.approx(1500 / 2500)
    assert right.influence == pytest.approx(1000 / 2500)
    assert left.own == pytest.approx(1500.0)
    assert right.own == pytest.approx(1000.0)
    assert left.total(100e3) == pytest.approx(0.6 * 102e3 + 1500.0)
    assert left.applied(100e3) == pytest.approx(60e3)


def test_rig_weight_counts_only_where_the_cell_does_not_see_it(build, changed):
    seen = build(**changed("rig", lambda r: r["setups"]["one"].update(weight_in_cell=True)))
    assert _rule(seen).rig == 0.0
    assert _rule(seen).total(100e3) == pytest.approx(0.6 * 100e3 + 1500.0)


def test_unequal_overhangs(build, changed):
    """500 mm left, 100 mm right: W = 6200 N at 1050 mm, left reaction 6200 (1450/2500) = 3596 N, V(500) = 1596 N."""
    campaign = build(**changed("specimens", lambda s: s["S"].update(overhang_left="500 mm", overhang_right="100 mm")))
    assert _rule(campaign).own == pytest.approx(3596.0 - 2 * 1000.0)
    assert _rule(campaign, "B").own == pytest.approx(2 * 2250.0 - 3596.0)


def test_supports_inside_the_nominal_ones_leave_longer_overhangs(build, changed):
    """Supports at 100 and 2400 mm: W = 5800 N at 1250 mm, reactions 2900 N; V at (100 + 1000)/2 = 550 mm is
    2900 - 2 (750) = 1400 N; influence 1400/2300."""
    moved = changed("rig", lambda r: r["setups"]["one"].update(supports=[{"x": "100 mm"}, {"x": "2400 mm"}]))
    rule = _rule(build(**moved))
    assert rule.x == 550.0
    assert rule.influence == pytest.approx(1400 / 2300)
    assert rule.own == pytest.approx(1400.0)


@pytest.mark.parametrize(("shares", "left"), [(None, 0.5), (("70 %", "30 %"), 0.7 * 0.625 + 0.3 * 0.375)])
def test_four_point(build, changed, shares, left):
    """Loads at 900 and 1500 mm of 2400 mm: 0.625 and 0.375 of them go to the left support."""
    loads = [{"x": "900 mm"}, {"x": "1500 mm"}]
    for load, share in zip(loads, shares or (), strict=False):
        load["share"] = share
    setup = {"supports": [{"x": "0 mm"}, {"x": "2400 mm"}], "loads": loads}

    def four(specimens):
        specimens["S"]["spans"]["A"]["length"] = specimens["S"]["spans"]["B"]["length"] = "900 mm"
        specimens["S"]["between_loads"] = "600 mm"

    campaign = build(**changed("rig", lambda r: r["setups"].update(one=setup)), **changed("specimens", four))
    assert _rule(campaign).influence == pytest.approx(left)
    assert _rule(campaign, "B").influence == pytest.approx(1 - left)
    assert (_rule(campaign).x, _rule(campaign, "B").x) == (450.0, 1950.0)
    assert _rule(campaign).own == pytest.approx(2 * 1400 - 2 * 650)  # W/2 = 2800 N less the weight left of 450 mm


def test_a_mirrored_test_turns_the_rig(build):
    campaign = build()
    turned = campaign.tests["T"].model_copy(update={"mirrored": True})
    setup = setup_of(campaign, turned)
    assert [float(s.x) for s in setup.supports] == [0.0, 2500.0]
    assert [float(load.x) for load in setup.loads] == [1500.0]
    assert _rule(campaign, mirrored=True).influence == pytest.approx(0.4)
    assert mirrored(mirrored(setup)) == setup


def test_without_a_rig_file_the_nominal_spans_are_taken(build):
    campaign = build(rig={"layouts": {}}, tests={"tests": {"T": {"specimen": "S", "logs": ["logs/T.csv"]}}})
    rule = _rule(campaign)
    assert rule.influence == pytest.approx(0.6)
    assert rule.u(100e3) == pytest.approx(math.hypot(0.6 * 0.005 * 100e3, 0.05 * 1500.0) / math.sqrt(3))


def test_uncertainty_by_hand(build):
    """m = 0.6, l = 2500, P + rig = 102 kN, p = 3 mm; w/2 = 1 N/mm for the load; dV_own/dL and /dR by hand:
    R = W (R_s - c)/l with W = 5800, c = 1250, so dR/dL = W 1250/l^2 = 1.16, dR/dR_s = 1.16; less w/2 for L."""
    rule = _rule(build())
    load = -102e3 / 2500 - 1.0
    left = 0.6 * 102e3 / 2500 + 1.16 - 1.0
    right = 0.4 * 102e3 / 2500 + 1.16
    places = 3 / math.sqrt(3) * math.hypot(load, left, right)
    cell, own = 0.6 * 0.004 * 100e3 / math.sqrt(3), 0.05 * 1500 / math.sqrt(3)
    assert rule.u(100e3) == pytest.approx(math.hypot(places, cell, own), rel=1e-4)
    assert rule.u(100e3, 50.0) == pytest.approx(math.hypot(places, cell, own, 0.6 * 50.0), rel=1e-4)
    bare = 3 / math.sqrt(3) * 100e3 / 2500 * math.hypot(1.0, 0.6, 0.4)
    assert rule.u_applied(100e3) == pytest.approx(math.hypot(bare, cell), rel=1e-4)


@pytest.mark.parametrize("span", ["A", "B"])
@pytest.mark.parametrize("loads", [["1000 mm"], ["700 mm", "1600 mm"]])
def test_places_and_weight_by_drawing_them(build, changed, span, loads):
    """Against 4000 draws put through the statics of the rehearsal, which shares no code with the reduction.

    The standard deviation of that many draws has a standard error of about 1 %.
    """
    campaign = build(**changed("rig", lambda r: r["setups"]["one"].update(loads=[{"x": x} for x in loads])))
    test = campaign.tests["T"].model_copy(update={"studied": span})
    rule, rng = shear_rule(campaign, test, span), np.random.default_rng(3)
    drawn = rng.uniform(-1.0, 1.0, (4000, 4)) * [3.0, 3.0, 3.0, 0.05]
    shears = [span_statics(campaign, test, Placing(*map(float, row))).shear(150e3) for row in drawn]
    cell = rule.influence * rule.u_cell * 150e3
    assert np.std(shears) == pytest.approx(math.sqrt(rule.u(150e3) ** 2 - cell**2), rel=0.03)
    assert np.mean(shears) == pytest.approx(rule.total(150e3), rel=1e-4)


def test_place_of_the_load_between_the_supports(build):
    campaign = build()
    ratio, u = place_ratio(setup_of(campaign, campaign.tests["T"]))
    assert ratio == pytest.approx(0.4)
    assert u == pytest.approx(3 / math.sqrt(3) / 2500 * math.sqrt(1 + 0.36 + 0.16))
    assert place_ratio(setup_of(campaign, campaign.tests["T"]), "midspan")[0] == 0.5


def test_the_rule_says_what_it_does(build):
    assert _rule(build()).text == (
        "V at x = 500 mm (middle of shear span A) = 0.6000 (P + 2.00 kN rig) + 1.50 kN self-weight; "
        "cell +-0.4 %, positions +-3 mm, self-weight +-5 %, all rectangular"
    )


def test_places_without_uncertainty_are_not_called_exact_to_zero(build, changed):
    text = _rule(build(**changed("rig", lambda r: r["setups"]["one"].pop("position_uncertainty")))).text
    assert "positions taken as exact (no uncertainty stated)" in text
    assert "+-0 mm" not in text


def test_a_beam_without_overhang_has_slopes(build, changed):
    """The supports stand at the very ends: moving one outwards lengthens the beam instead of failing."""

    def flush(s):
        s["S"].pop("overhang_left")
        s["S"].pop("overhang_right")

    campaign = build(**changed("specimens", flush))
    rule = shear_rule(campaign, campaign.tests["T"], "A")
    assert [c for c, _ in rule.slopes] == pytest.approx([0.6 / 2500, 0.4 / 2500, -1 / 2500])
    assert rule.own == pytest.approx(2.0 * (1250 - 500))
