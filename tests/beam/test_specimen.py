"""From a campaign to strips, gauges, events and the band of anchored wraps; numbers of our own."""

from __future__ import annotations

import json
import re
from typing import Any

import numpy as np
import pytest

from cracktie.beam.coefficients import COEFFICIENTS
from cracktie.beam.detail import Gauge, fibre_at, gauges, strips
from cracktie.beam.response import respond
from cracktie.beam.specimen import wrapped_span
from cracktie.campaign.materials import ConcreteValues, Materials
from cracktie.campaign.schema import Campaign
from cracktie.errors import ModelInputError
from cracktie.prediction.mechanics import BASE, NOTICE, SLOW, predict_mechanics, uncertain
from cracktie.units import Quantity

from .campaign import ANCHORS, beam


@pytest.fixture(scope="module")
def anchored(materials: Any) -> Any:
    campaign = beam(materials)
    return campaign, predict_mechanics(campaign)


def test_inputs_come_from_the_campaign(materials: Any) -> None:
    made = wrapped_span(beam(materials), "X1", "A")
    assert made.inputs["z_t"] == 100.0
    assert made.inputs["V_c0"] == pytest.approx(0.17 * np.sqrt(27.0) * 180.0 * 400.0, rel=0.01)
    assert made.centres == pytest.approx(100.0 + 150.0 * np.arange(7))
    assert made.inputs["F_leg"] == pytest.approx(made.anchors["default"].F_u)
    assert "our own 37.5 deg" in made.theta_from
    assert wrapped_span(beam(materials, beta=60.0), "X1", "A").centres[0] == pytest.approx(
        100.0 + 225.0 / np.tan(np.radians(60.0))
    )


def test_both_spans_give_the_same(materials: Any) -> None:
    """The same span at the other end of the beam: strips lie mirrored."""
    left = predict_mechanics(beam(materials)).beams[0]
    mirrored = {
        "first": None,
        "spacing": None,
        "count": None,
        "positions": [3000.0 - 100.0 - 150.0 * i for i in range(7)],
    }
    right = predict_mechanics(beam(materials, span="B", **mirrored)).beams[0]
    assert left.base is not None
    assert right.base is not None
    assert right.base.peaks["V_max"] == pytest.approx(left.base.peaks["V_max"], rel=1e-9)
    assert {s.number for s in left.strips} == {8 - s.number for s in right.strips}


def test_strips_add_up_to_v_f(materials: Any) -> None:
    """Force of both legs of the crossed strips at one crack position: the V_f of that position."""
    made = wrapped_span(beam(materials, anchors=None), "X1", "A")
    w = np.array([0.1, 0.4, 0.8])
    found = respond(made.inputs, w=w, offsets=np.zeros(1), centres=made.centres)
    legs = strips(found.prepared, made.centres, made.numbers, w)
    assert 2.0 * sum(s.force for s in legs) == pytest.approx(found.V_f[0], rel=0.03)


def test_gauge_at_the_crack_reads_the_force_and_far_from_it_little(materials: Any) -> None:
    made = wrapped_span(beam(materials, anchors=None), "X1", "A")
    w = np.array([0.05, 0.1])
    found = respond(made.inputs, w=w, centres=made.centres)
    fibre = fibre_at(found.prepared, 180.0, w)
    at = fibre.strain(180.5, 1.0, 1.0)
    assert at == pytest.approx(fibre.force / (230e3 * 0.167), rel=0.03)
    assert (fibre.strain(345.0, 5.0, 1.0) < 0.05 * at).all()
    wide = fibre.strain(200.0, 40.0, 1.0)
    z = np.linspace(180.5, 219.5, 40)
    assert wide == pytest.approx(np.mean([fibre.strain(v, 1.0, 1.0) for v in z], axis=0), rel=0.02)


def test_a_gauge_off_the_crack_reads_nothing(materials: Any) -> None:
    made = wrapped_span(beam(materials, anchors=None), "X1", "A")
    found = respond(made.inputs, centres=made.centres)
    (far,) = gauges(found.prepared, [Gauge("far", 1000.0, 200.0, 10.0)], found.w[0], 8)
    assert far.crossed == 0.0
    assert not far.high.any()


def test_band_strain_and_notice(anchored: Any) -> None:
    _, found = anchored
    (one,) = found.beams
    assert [c.name for c in one.cases] == [BASE, SLOW]
    base, slow = (c.peaks for c in one.cases)
    assert base["V_max"] <= slow["V_max"]
    assert one.anchor_ends["low"] <= base["V_max"] * 1.001
    assert slow["V_max"] <= one.anchor_ends["high"] * 1.001
    assert 0.001 < base["strain_mean"] <= base["strain_most"] < 0.0166
    data = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert data["beams"][0]["notice"] == NOTICE
    assert data["beams"][0]["published_strain"]["value"] == 0.005
    assert data["coefficients"]["k_tau"]["status"] == "own"


def test_intervals_in_two_parts(anchored: Any) -> None:
    _, found = anchored
    for case in found.beams[0].cases:
        inner, outer = case.inputs_only["V_max"], case.with_model["V_max"]
        assert outer.low < inner.low < case.peaks["V_max"] < inner.high < outer.high
        assert outer.fractile_5 < inner.fractile_5


def test_every_gauge_of_the_layout_has_a_history(anchored: Any) -> None:
    _, found = anchored
    (one,) = found.beams
    names = [g.gauge.name for g in one.gauges]
    assert [n for n in names if n.startswith("S")] == [f"S{s}F{r}" for s in range(1, 8) for r in (1, 2, 3)]
    assert "W1" in names
    assert all(len(g.mean) == len(one.base.w) for g in one.gauges)
    assert all((g.low <= g.mean + 1e-12).all() and (g.mean <= g.high + 1e-12).all() for g in one.gauges)
    assert max(g.high.max() for g in one.gauges if g.gauge.strip) > 0.002


def test_events_stand_in_order_and_name_strips(anchored: Any) -> None:
    _, found = anchored
    (one,) = found.beams
    w = [e.w for e, _ in one.events]
    assert w == sorted(w)
    whats = {e.what for e, _ in one.events}
    assert {"largest shear", "aggregate interlock starts to fall", "debonding starts at the crack"} <= whats
    for number in {e.strip for e, _ in one.events if e.strip}:
        of = {e.what: e.w for e, _ in one.events if e.strip == number}
        if "debonded to its upper end" in of:
            assert of["debonding starts at the crack"] <= of["debonded to its upper end"]


def test_json_keeps_to_its_schema(anchored: Any, materials: Any) -> None:
    import jsonschema

    from cracktie.result_schemas import result_schema

    _, found = anchored
    short = predict_mechanics(beam(materials, a=700.0))
    for made in (found, short):
        data = json.loads(json.dumps(made.to_dict(), allow_nan=False))
        jsonschema.validate(data, result_schema("mechanics"), jsonschema.Draft202012Validator)


def test_tidy_rows(anchored: Any) -> None:
    _, found = anchored
    table = found.to_frame()
    assert set(table["source"]) == {"mechanics", f"mechanics, {SLOW}"}
    row = table[(table["quantity"] == "V_max") & (table["source"] == "mechanics")]
    assert float(row["value"].iloc[0]) == found.beams[0].base.peaks["V_max"]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"a": 700.0}, r"not predicted below a/d = 2; here 1\.75"),
        ({"layout": "continuous"}, "anchors of a continuous sheet are not covered"),
        ({"anchors": {**ANCHORS, "strips": [1, 2]}}, "some of the strips only"),
    ],
)
def test_what_is_not_covered_says_so(materials: Any, change: dict[str, Any], why: str) -> None:
    (one,) = predict_mechanics(beam(materials, **change)).beams
    assert re.search(why, one.why)
    assert not one.cases


def test_an_anchor_in_the_flange_holds_the_upper_end(materials: Any) -> None:
    made = wrapped_span(beam(materials, anchors={**ANCHORS, "host": "flange", "z": 365.0}), "X1", "A")
    assert made.why == ""
    assert made.inputs["z_anchor"] == 350.0
    (one,) = predict_mechanics(beam(materials, anchors={**ANCHORS, "z": 365.0})).skipped.values()
    assert "outside the strip" in one


def test_short_spans_are_warned_about(materials: Any) -> None:
    (one,) = predict_mechanics(beam(materials, a=900.0)).beams
    assert one.warnings == ("a/d = 2.25: little is published on anchored wraps below 2.5",)


def test_too_few_crack_positions(materials: Any) -> None:
    with pytest.raises(ModelInputError, match="at least 7"):
        predict_mechanics(beam(materials), offsets=3)


def test_measured_angle_needs_a_crack_line(materials: Any) -> None:
    found = predict_mechanics(beam(materials), angle="measured")
    assert "no critical crack line" in found.skipped["X1"]


def test_full_wraps_show_the_bending_limit(materials: Any) -> None:
    """By hand: bars 942 mm2 at 500 MPa with a lever arm near 376 mm, over a span of 1.1 m, less self-weight."""
    (one,) = predict_mechanics(beam(materials, anchors=None, scheme="full", top_edge=450.0)).beams
    assert one.V_flex == pytest.approx(942.5 * 500.0 * 376.0 / 1100.0, rel=0.03)
    assert one.base.peaks["V_max"] > one.V_flex


def with_test(materials: Any, test: dict[str, Any]) -> Campaign:
    """The anchored beam with its anchor tested."""
    made = materials.model_copy(update={"anchors_tested": Materials.model_validate(
        {"anchors_tested": {"AT": test}}).anchors_tested})  # fmt: skip
    return beam(made, anchors={**ANCHORS, "tested": "AT"})


def test_the_uncertainty_of_a_test_makes_the_band(materials: Any) -> None:
    """20 +- 1 kN: 18 to 22 kN; in the samples k_F varies by 5 %, not over the range of the anchor models."""
    made = wrapped_span(with_test(materials, {"resistance": "20 +- 1 kN", "mode": "fan debonding"}), "X1", "A")
    assert [float(made.anchors[end].F_u) for end in ("low", "default", "high")] == pytest.approx([18e3, 20e3, 22e3])
    assert made.inputs["F_leg"] == pytest.approx(20e3)
    assert made.with_anchor("low")["F_leg"] == pytest.approx(18e3)
    assert (made.inputs["soft_slip"], made.inputs["residual"]) == (0.5, 0.0)  # of the fan, not the most brittle 0.1
    assert any("2 standard uncertainties" in n for n in made.anchors["low"].notes)
    values = {n: c.value for n, c in COEFFICIENTS.items()}
    (varied,) = [v for v in uncertain(made, values, ()) if v.name == "k_F"]
    assert (varied.kind, varied.mean, varied.sd) == ("lognormal", 1.0, pytest.approx(0.05))


def test_a_test_without_uncertainty_leaves_no_band_and_says_so(materials: Any) -> None:
    made = wrapped_span(with_test(materials, {"resistance": "20 kN"}), "X1", "A")
    assert {float(one.F_u) for one in made.anchors.values()} == {20e3}
    assert made.anchors["default"].mechanism == "measured"
    assert any("states no uncertainty" in n for n in made.anchors["default"].notes)
    values = {n: c.value for n, c in COEFFICIENTS.items()}
    assert "k_F" not in {v.name for v in uncertain(made, values, ())}


def test_a_surer_test_narrows_the_prediction(materials: Any) -> None:
    ends = []
    for u in ("0.5", "3"):
        (one,) = predict_mechanics(with_test(materials, {"resistance": f"14 +- {u} kN"}), samples=0).beams
        ends.append(one.anchor_ends["high"] - one.anchor_ends["low"])
    assert 0.0 < ends[0] < ends[1]


def test_a_bond_law_takes_the_measured_tensile_strength(materials: Any) -> None:
    """bond.lu_2005.bilinear asks for f_ctm: 0.9 times a splitting strength of 4 MPa is 3.6 MPa, 27 MPa give 2.1 MPa."""
    batch = materials.concretes["B1"].model_copy(update={"measured": ConcreteValues(f_ct_split=Quantity(4.0, 0.2))})
    split = materials.model_copy(update={"concretes": {"B1": batch}})
    plain, made = (wrapped_span(beam(m, anchors=None), "X1", "A") for m in (materials, split))
    assert plain.inputs["f_ctm"] == pytest.approx(0.3 * 19.0 ** (2 / 3))
    assert made.inputs["f_ctm"] == pytest.approx(3.6)
    assert made.member.u["f_ctm"] == pytest.approx(0.18)
    weak, strong = (
        respond(m.inputs, law="bond.lu_2005.bilinear", centres=m.centres).peaks.V_f_max[0] for m in (plain, made)
    )
    assert strong > 1.05 * weak
