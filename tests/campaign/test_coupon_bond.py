"""Pull-off tests with their modes and pull-out tests of anchors: from the file to the values and to the anchor."""

from __future__ import annotations

import math

import pytest

from cracktie.actions import open_campaign
from cracktie.anchorage import anchor_inputs
from cracktie.models.anchor.own_ranges import POST_PEAK

from .beams import SPECIMENS
from .test_coupon_files import C1, campaign_folder, problems

ANCHORS = {
    "adhesives:\n": "anchors_tested:\n  AT: {from: coupons/out.csv}\nadhesives:\n",
}
PULL_OUT = """\
specimen, force [kN], mode, f_c [MPa], excluded
a1, 40 +- 0.4, dowel cone, 31,
a2, 44 +- 0.4, dowel cone, 32,
a3, 42 +- 0.4, fan debonding, 30,
a4, 12, dowel pull-out, 30, hole not cleaned
"""


def anchored(tmp_path, table=PULL_OUT, tested="tested: AT", **more):
    folder = campaign_folder(tmp_path, ANCHORS, out_csv=table, **more)
    text = SPECIMENS.replace("fan: {length", f"{tested}\n          fan: {{length")
    (folder / "specimens.yaml").write_text(text, encoding="utf-8")
    return folder


def test_a_tested_resistance_reaches_the_anchor(tmp_path):
    """40, 44 and 42 kN in blocks of 31, 32 and 30 MPa (mean 31): the cones become 40 and 44 sqrt(31/32) = 43.307 kN,
    the fan stays; mean 41.769, s = 1.6656, u = sqrt(1.6656^2/3 + 0.398^2) kN."""
    campaign = open_campaign(anchored(tmp_path))
    entry = campaign.materials.anchors_tested["AT"]
    assert (entry.n, entry.mode) == (3, "dowel cone")
    found = anchor_inputs(campaign, "S1", "A")
    made = found.evaluate()
    assert made.F_u == pytest.approx(found.resistance)
    assert made.mechanism == "dowel cone"
    assert (made.soft_slip, made.residual) == (POST_PEAK["dowel cone"].soft_slip, POST_PEAK["dowel cone"].residual)
    assert made.F_model != pytest.approx(42e3, rel=0.01)
    assert any("anchors_tested.AT (mean, n = 3, mode dowel cone)" in note for note in found.notes)
    assert campaign.coupons["anchors_tested.AT"].summary("resistance", "dowel cone").n == 2


def test_a_cone_follows_the_concrete_of_the_beam_and_a_fan_does_not(tmp_path):
    """Blocks of 31 MPa, batch C2 of 32 MPa: the cones count sqrt(32/31) times; u goes with them."""
    campaign = open_campaign(anchored(tmp_path))
    entry = campaign.materials.anchors_tested["AT"]
    found = anchor_inputs(campaign, "S1", "A")
    assert found.values["f_c"] == 32.0
    assert found.resistance == pytest.approx(41_769 * math.sqrt(32 / 31), abs=1)
    assert found.u_resistance == pytest.approx(entry.resistance.u * math.sqrt(32 / 31))
    other = tmp_path / "fans"
    other.mkdir()
    fans = open_campaign(anchored(other, PULL_OUT.replace("dowel cone", "fan debonding")))
    assert anchor_inputs(fans, "S1", "A").resistance == pytest.approx(42e3)


def test_a_mode_without_a_fall_of_its_own_takes_the_most_brittle(tmp_path):
    campaign = open_campaign(anchored(tmp_path, PULL_OUT.replace("dowel cone", "fan splitting")))
    made = anchor_inputs(campaign, "S1", "A").evaluate()
    assert made.mechanism == "fan splitting"
    assert made.soft_slip == POST_PEAK["measured"].soft_slip


def test_design_takes_the_fractile_of_the_tests(tmp_path):
    """EN 1990:2002 Table D1 (from memory): k_3 = 3.37 for V_X unknown; V = 0.048 is raised to 0.10.

    At 90 % confidence k_3 = 5.311 (classical tolerance factor, from memory): 42 - 5.311 x 2 = 31.38 kN, so the first
    rule is the lesser one; with a scatter of 8 kN it is the second: 42 - 5.311 x 8 < 0, no value at all, and of 4 kN
    42 - 5.3115 x 4 = 20.75 kN against 42 - 3.37 x 4 = 28.52 kN.
    """
    table = "specimen, force [kN], mode\na1, {}, dowel cone\na2, {}, dowel cone\na3, 42, dowel cone\n"
    for spread, expected in ((2, "27.85"), (4, "20.75"), (8, None)):
        place = tmp_path / str(spread)
        place.mkdir()
        campaign = open_campaign(anchored(place, table.format(42 - spread, 42 + spread)))
        low = campaign.materials.anchors_tested["AT"].characteristic
        assert (None if low is None else f"{low / 1000:.2f}") == expected
    assert any("too large for a characteristic" in n for n in campaign.coupons["anchors_tested.AT"].notes)


def test_two_tests_have_no_fractile_and_the_models_decide(tmp_path):
    from cracktie.anchorage.inputs import _tested

    campaign = open_campaign(anchored(tmp_path, "specimen, force [kN], mode\na1, 40, dowel cone\na2, 44, dowel cone\n"))
    notes: list[str] = []
    anchors = campaign.specimen("S1").spans["A"].anchors
    assert _tested(notes, anchors, campaign.materials, "characteristic", 30.0) == (None, None)
    assert "no characteristic resistance" in notes[0]


@pytest.mark.parametrize(
    ("table", "tested", "said"),
    [
        ("specimen, force [kN], mode\na1, 40, popped out\n", "tested: AT", "the mode 'popped out' is not known"),
        ("specimen, force [kN]\na1, 40\n", "tested: AT", "the mode '' is not known"),
        (PULL_OUT, "tested: AX", "tested = 'AX': there is no such anchor test"),
        (PULL_OUT, "tested: AT\n          resistance: 40 kN", "not both"),
    ],
)
def test_what_is_refused(tmp_path, table, tested, said):
    found = problems(anchored(tmp_path, table, tested))
    assert any(said in text for text in found), found


PULL_OFF = """\
specimen, pull_off_force [kN], diameter [mm], mode
p1, 5.0 +- 0.05, 50, G
p2, 5.4 +- 0.05, 50, G
p3, 4.0 +- 0.05, 50, D
p4, 6.0 +- 0.05, 50, A
"""


def test_pull_off_counts_only_where_it_failed(tmp_path):
    """The concrete failed twice (mean 5.2 kN on 50 mm), the adhesive once (4 kN); the rest are bounds."""
    edits = C1 | {"epoxy: {E_a: 3 GPa}": "epoxy: {from: coupons/off.csv}"}
    edits = {k: v.replace("cyl.csv", "off.csv") for k, v in edits.items()}
    campaign = open_campaign(campaign_folder(tmp_path, edits, off_csv=PULL_OFF))
    disc = math.pi * 50**2 / 4
    concrete, adhesive = campaign.materials.concretes["C1"].measured, campaign.materials.adhesives["epoxy"]
    assert concrete.pull_off == pytest.approx(5200 / disc)
    assert concrete.pull_off.u == pytest.approx(math.hypot(200 / disc, (0.05 / 5.0 * 5000 / disc)), rel=1e-3)
    assert adhesive.pull_off == pytest.approx(4000 / disc)
    notes = campaign.coupons["concretes.C1"].notes
    assert any("p3 (D, >= 2.04 MPa), p4 (A, >= 3.06 MPa)" in note for note in notes)


def test_only_bounds_give_no_mean(tmp_path):
    edits = {"epoxy: {E_a: 3 GPa}": "epoxy: {E_a: 3 GPa, from: coupons/off.csv}"}
    table = "specimen, pull_off [MPa], mode\np1, 2.5, G\np2, 2.7, G\n"
    campaign = open_campaign(campaign_folder(tmp_path, edits, off_csv=table))
    assert campaign.materials.adhesives["epoxy"].pull_off is None
    assert any("no test failed there" in note for note in campaign.coupons["adhesives.epoxy"].notes)


def test_a_mode_is_asked_for(tmp_path):
    edits = {"nominal: {f_c: 30 MPa}}": "nominal: {f_c: 30 MPa}, from: coupons/off.csv}"}
    found = problems(campaign_folder(tmp_path, edits, off_csv="specimen, pull_off [MPa]\np1, 2.5\n"))
    assert any("says nothing without its failure mode" in text for text in found), found


def test_raw_logs_of_anchors_and_discs(tmp_path):
    log = "t [s],F [kN]\n0,0\n1,20\n2,41.5\n3,12\n"
    listed = "what: anchor pull-out\nforce: F\nspecimens:\n  a1: {log: a1.csv, mode: dowel cone}\n"
    edits = ANCHORS | {"epoxy: {E_a: 3 GPa}": "epoxy: {from: coupons/off.yaml}"}
    edits = {k: v.replace("out.csv", "out.yaml") for k, v in edits.items()}
    off = "what: pull-off of adhesive\nforce: F\ndiameter: 150 mm\nspecimens:\n  p1: {log: a1.csv, mode: E}\n"
    campaign = open_campaign(campaign_folder(tmp_path, edits, out_yaml=listed, off_yaml=off, a1_csv=log))
    entry = campaign.materials.anchors_tested["AT"]
    assert entry.resistance == pytest.approx(41.5e3)
    assert entry.resistance.u == pytest.approx(415.0)
    assert campaign.materials.adhesives["epoxy"].pull_off == pytest.approx(4 * 41.5e3 / (math.pi * 150**2))
