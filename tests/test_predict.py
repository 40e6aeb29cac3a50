"""Prediction of whole guideline sets against a hand calculation, and the rules on what may be added to what."""

from __future__ import annotations

import dataclasses
import math

import pytest

import cracktie
from cracktie.actions import single_beam
from cracktie.errors import UnknownName
from cracktie.guidelines import all_sets, guideline_set
from cracktie.member import measured_strength, member
from cracktie.prediction import predict_set
from cracktie.units import Quantity


@pytest.fixture(scope="module")
def prediction(t_beam, materials):
    return cracktie.predict(t_beam, materials=materials)


def row(prediction, span, name):
    return next(r for r in prediction.rows if (r.span, r.set) == (span, name))


def test_aci_sum_by_hand(prediction):
    # by hand with f_c = 27, b_w = 180, d = 400:
    #   V_c = 0.17*5.19615*180*400 = 63 601 N
    #   V_s = 2*28.2743*400*400/250 = 36 191 N
    #   t E = 0.167*230000 = 38 410; L_e = 23300/38410^0.58 = 23300/456.013 = 51.095; d_fv = 400 - 100 = 300
    #   k_1 = 1; k_2 = 248.905/300 = 0.829683; eps = 0.829683*51.095/11900 = 0.00356241
    #   V_f = 2*0.167*0.5*230000*0.00356241*300 = 41 050 N; sum 140 842 N
    found = row(prediction, "A", "aci14_440")
    for name, by_hand in (("V_c", 63601), ("V_s", 36191), ("V_f", 41050), ("V_R", 140842)):
        assert getattr(found, name) == pytest.approx(by_hand, abs=1.5), name
    assert found.status == "memory"


def test_eurocode_does_not_add_the_concrete_term(prediction):
    # cot theta = sqrt(0.6(1-27/250)*27/(56.549/(180*250)*400) - 1) = 5.27 -> 2.5; V_s = 81 430 N in span A
    # V_c = 0.18*(1+sqrt(0.5))*(100*942.478/72000*27)^(1/3)*72000 = 72 605 N
    found = row(prediction, "B", "ec2_04")
    assert found.V_c == pytest.approx(72605, abs=2)
    assert found.V_c == found.V_R
    assert not found.adds_concrete


def test_strengthened_span_gets_no_value_without_an_frp_term(prediction):
    found = row(prediction, "A", "ec2_04")
    assert found.V_R is None
    assert "no FRP term" in found.reasons[0]
    rows = [q for q in found.quantities() if q.name == "V_R"]
    assert rows[0].to_dict()["value"] is None
    assert "no FRP term" in rows[0].to_dict()["reason"]


def test_research_term_names_its_host(prediction):
    found = row(prediction, "A", "chen_teng")
    assert "host chosen by us" in found.title
    assert pytest.approx(found.V_c + found.V_s + found.V_f) == found.V_R


def test_a_host_that_does_not_add_its_concrete_term_is_refused():
    with pytest.raises(UnknownName, match="cannot host"):
        guideline_set("chen_teng", host="ec2_04")


def test_unknown_set_gets_a_hint():
    with pytest.raises(UnknownName, match="aci14_440"):
        guideline_set("aci14_44")


def test_u_of_the_resistance_is_the_propagated_input(prediction, materials):
    # f_c = 27 +- 0.7 MPa: dV_R/df_c of V_c alone in span B is V_c/(2 f_c)
    found = row(prediction, "B", "aci14_440")
    assert found.u_V_R == pytest.approx(found.V_c / (2 * 27) * 0.7, rel=0.02)


def outdoors(t_beam, materials, **keys):
    """The beam in a campaign that states its surroundings, as the design form asks."""
    alone = single_beam(t_beam, materials)
    head = alone.head.model_copy(update={"exposure": "exterior", "confidence_factor": Quantity(1.0), **keys})
    return dataclasses.replace(alone, head=head)


def test_design_form_uses_guaranteed_strength_and_factors(t_beam, materials):
    design = cracktie.predict(outdoors(t_beam, materials), form="design", sets=["aci14_440"])
    found = next(r for r in design.rows if r.span == "A")
    member = design.members[("X1", "A", None)]
    assert member.values["f_fu"] == 3400.0
    assert member.values["f_c"] == 25.0
    # phi (V_c + V_s + psi_f V_f) with phi 0.75 and psi_f 0.85 (ACI 440.2R-17, 11.4; from memory)
    assert pytest.approx(0.75 * (found.V_c + found.V_s + 0.85 * found.V_f)) == found.V_R


def test_both_unit_editions_agree_within_three_per_cent(t_beam, materials):
    made = member(single_beam(t_beam, materials), "X1", "A")
    si, us = (predict_set(made, guideline_set("aci14_440"), edition=e) for e in ("si", "inch-pound"))
    for name in ("V_c", "V_s", "V_f", "V_R"):
        assert getattr(us, name) == pytest.approx(getattr(si, name), rel=0.03), name
    assert us.V_R != si.V_R


def test_sheets_of_a_row_end_with_its_resistance(prediction):
    found = row(prediction, "A", "aci14_440")
    sheets = prediction.sheets(found)
    assert [s.rows[-1].name for s in sheets] == ["V_c", "V_s", "V_f", "V_R"]
    assert sheets[-1].rows[-1].value == found.V_R


def test_wide_table_has_one_row_an_item(prediction):
    table = prediction.to_frame(wide=True)
    assert list(table.index) == ["X1/A", "X1/B"]
    assert table.loc["X1/A", "V_R [N] aci14_440"] == pytest.approx(row(prediction, "A", "aci14_440").V_R)


def test_strength_is_interpolated_over_the_logarithm_of_age(materials):
    batch = materials.concretes["B1"]
    value, u, how = measured_strength(batch, 41.0)
    share = math.log(41 / 28) / math.log(60 / 28)  # 0.5004
    assert value == pytest.approx(24 + 3 * share)
    assert u == pytest.approx(math.hypot((1 - share) * 0.8, share * 0.7))
    assert "interpolated to 41 d" in how
    assert measured_strength(batch, 90.0)[0] == 27.0


def test_a_missing_value_is_said_not_guessed(t_beam, materials):
    bare = materials.model_copy(update={"bars": {}})
    found = cracktie.predict(t_beam, materials=bare)
    assert found.skipped["X1/A"] == "materials.yaml: bars has no 'D20'; it has nothing"


def test_specimen_without_batch_is_skipped_with_the_reason(t_beam, materials):
    found = cracktie.predict(t_beam.model_copy(update={"batch": None}), materials=materials)
    assert not found.rows
    assert "has no batch" in found.skipped["X1/A"]


@pytest.mark.parametrize("chosen", all_sets(), ids=lambda s: s.id)
def test_every_model_of_every_set_exists(chosen):
    from cracktie.clause import get

    for id in chosen.models:
        assert get(id).id == id


def test_the_command_line_shows_sets_side_by_side_and_each_reason_once(t_beam, materials, capsys):
    from cracktie.console import show_prediction

    show_prediction(cracktie.predict(t_beam, materials=materials, sets=["aci14_440", "ec2_04", "csa"]), "si")
    shown = capsys.readouterr().out
    head, rule, aci, *_ = shown.splitlines()
    assert head.split() == ["V_R", "[kN]", "X1/A", "X1/B"]
    assert set(rule) == {"-", " "}
    assert aci.split() == ["aci14_440", "140.8", "63.6"]
    assert shown.count("the document has no FRP term here") == 1
    assert "not applicable: ec2_04, csa: " in shown
    assert "studied span first" in shown or "another failure first" in shown


def test_the_report_shows_sets_side_by_side_and_each_reason_once(t_beam, materials):
    from cracktie.report.blocks import Table
    from cracktie.report.predictions import PredictionChapter

    made = cracktie.predict(t_beam, materials=materials, sets=["aci14_440", "ec2_04", "csa"])
    tables = [b for b in PredictionChapter(made, "si").blocks() if isinstance(b, Table)]
    first = tables[0]
    assert [c.title for c in first.columns] == ["item", "span", "aci14_440", "ec2_04", "csa"]
    assert first.rows[0][:4] == ("X1/A", "A", "140.8", "–")
    reasons = tables[1]
    assert [row[0] for row in reasons.rows] == ["ec2_04, csa"]
    assert any(t.caption.startswith("What fails first") for t in tables)


def test_an_input_that_leaves_the_scope_above_is_moved_down(t_beam, materials):
    # just the minimum stirrups of Model Code 2010 at f_c = 27: a stronger concrete would need more of them
    from cracktie.campaign.specimen import Span

    spacing = 2 * math.pi * 9 * 400 / (0.0801 * math.sqrt(27) * 180)
    span = Span.model_validate({"length": 1900, "stirrups": {"material": "D6", "spacing": spacing}})
    beam = t_beam.model_copy(update={"spans": {**t_beam.spans, "B": span}})
    found = row(cracktie.predict(beam, materials=materials, sets=["mc2010"]), "B", "mc2010")
    assert found.rule.startswith("level III")
    # V_c grows with the root of f_c; the strain takes a part of it back
    assert 0.3 < found.u_V_R / (found.V_c / (2 * 27) * 0.7) < 1.2


def test_measured_depths_of_all_layers_or_of_the_tension_layers(t_beam, materials):
    from cracktie.campaign.specimen import Layer
    from cracktie.campaign.testing import Observation

    top = Layer.model_validate({"bars": "2 x 20 mm", "depth": 50, "material": "D20"})
    beam = t_beam.model_copy(update={"bars": (*t_beam.bars, top)})
    for depths, expected in (("396, 47 mm", 396.0), ("396 mm", 396.0), ("396, 390, 47 mm", 400.0)):
        alone = single_beam(beam, materials)
        seen = Observation.model_validate({"as_built": {"bar_depth": depths}})
        observed = alone.observations.model_copy(update={"specimens": {"X1": seen}})
        made = member(dataclasses.replace(alone, observations=observed), "X1", "A")
        assert made.values["d"] == expected
        assert any("bar_depth has 3 values" in n for n in made.notes) == (expected == 400.0)


def test_plates_of_the_rig_give_the_clear_span(t_beam, materials):
    from cracktie.campaign.testing import Rig, Test

    supports = [{"x": 0, "plate": 100}, {"x": 3000, "plate": 120}]
    rig = Rig.model_validate({"setups": {"S": {"supports": supports, "loads": [{"x": 1100, "plate": 150}]}}})
    test = Test.model_validate({"specimen": "X1", "setup": "S"})
    campaign = dataclasses.replace(single_beam(t_beam, materials), rig=rig, tests={"T": test})
    near, far = (member(campaign, "X1", span, test=test).values for span in ("A", "B"))
    assert near["a_clear"] == 1100 - 50 - 75
    assert far["a_clear"] == 1900 - 60 - 75
    assert near["l_load"] == pytest.approx(150 * 1900 / 3000)
    turned = member(campaign, "X1", "A", test=test.model_copy(update={"mirrored": True})).values
    assert turned["l_support"] == 120.0
    assert "a_clear" not in member(campaign, "X1", "A").values


def test_a_single_beam_in_design_form_states_its_exposure(t_beam, materials):
    without = cracktie.predict(t_beam, materials=materials, form="design", sets=["aci14_440"])
    outside = cracktie.predict(
        t_beam, materials=materials, form="design", sets=["aci14_440"], settings={"exposure": "exterior"}
    )
    assert next(r for r in without.rows if r.span == "A").V_R is None
    found = next(r for r in outside.rows if r.span == "A")
    # C_E of carbon outdoors is 0.85 (ACI 440.2R-17, Table 9.4; from memory)
    assert outside.members[("X1", "A", None)].values["C_E"] == 0.85
    assert found.V_R is not None
