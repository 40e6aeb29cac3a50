"""Measured tensile and cube strengths: which one counts, with its factor, and what they change in predictions."""

from __future__ import annotations

import math
from typing import Any

import pytest

from cracktie.campaign.materials import Concrete
from cracktie.clause import Keep, evaluate
from cracktie.member import measured_strength, member
from cracktie.member.strength import measured_tension

from .beam.campaign import beam


def batch(**measured: Any) -> Concrete:
    return Concrete.model_validate({"measured": measured}) if measured else Concrete()


def test_best_first():
    """0.9 f_ct,sp (EN 1992-1-1:2004, (3.3)); f_ct,fl/(1.6 - h/1000) ((3.23)): 100 mm prisms 4.5/1.5 = 3.0 MPa."""
    assert measured_tension(batch()) is None
    all_of = {
        "f_ct": "2.4 +- 0.1 MPa", "f_ct_split": "3.0 +- 0.2 MPa", "f_ct_fl": "4.5 MPa", "h_prism": "100 mm",
        "pull_off": "2.9 MPa",
    }  # fmt: skip
    expected = {"f_ct": (2.4, 0.1), "f_ct_split": (2.7, 0.18), "f_ct_fl": (3.0, None), "pull_off": (2.9, None)}
    for name, (value, u) in expected.items():
        found = measured_tension(batch(**all_of))
        assert found is not None
        assert found[0] == pytest.approx(value)
        assert found[1] == (None if u is None else pytest.approx(u))
        del all_of[name]
    deep = measured_tension(batch(f_ct_fl="4.5 MPa", h_prism="700 mm"))
    assert deep is not None
    assert deep[0] == pytest.approx(4.5)


def test_the_others_stand_beside_it():
    told = measured_tension(batch(f_ct_split="3 MPa", pull_off="2.2 MPa"))[2]
    assert "0.9 times the splitting strength" in told
    assert "beside it 2.20 MPa by pull-off strength" in told


def with_split(materials: Any) -> Any:
    made = materials.concretes["B1"].model_copy(update={"measured": batch(f_ct_split="4 +- 0.2 MPa").measured})
    return materials.model_copy(update={"concretes": {"B1": made}})


def test_only_the_measured_choice_takes_it(materials):
    plain, split = beam(materials, anchors=None), beam(with_split(materials), anchors=None)
    for choice in ("nominal", "characteristic"):
        one = member(split, "X1", "A", choice=choice)
        assert one.values["f_ctm"] == member(plain, "X1", "A", choice=choice).values["f_ctm"]
    made = member(split, "X1", "A")
    assert made.values["f_ctm"] == pytest.approx(3.6)
    assert made.u["f_ctm"] == pytest.approx(0.18)
    assert "measured, 0.9 times the splitting strength" in made.sources["f_ctm"]
    assert "f_ctm" not in made.rules
    assert member(split, "X1", "A", form="design").values["f_ctm"] != pytest.approx(3.6)


def test_bond_energy_follows_its_root(materials):
    """CNR-DT 200 R1/2013: G_F = k_b k_G sqrt(f_cm f_ctm)."""
    plain, split = (member(beam(m, anchors=None), "X1", "A") for m in (materials, with_split(materials)))
    energy = []
    for one in (plain, split):
        keep = Keep("Gamma_F")
        evaluate("frp_shear.cnr_dt200_2013", {**one.values, "theta": 45.0, "form": "test"}, step=keep)
        energy.append(float(keep.values["Gamma_F"]))
    assert energy[1] / energy[0] == pytest.approx(math.sqrt(3.6 / plain.values["f_ctm"]))


CUBES = [{"age": "28 d", "f_c": "40 +- 0.8 MPa", "shape": "cube 150"}]


def test_cubes_count_with_a_stated_ratio_only():
    assert measured_strength(Concrete.model_validate({"strength": CUBES}), 28.0) is None
    stated = Concrete.model_validate({"strength": CUBES, "cylinder_over_cube": "0.80 +- 0.02"})
    value, u, how = measured_strength(stated, 28.0)
    assert value == pytest.approx(32.0)
    assert u == pytest.approx(32.0 * math.hypot(0.02, 0.025))
    assert "cubes times 0.8" in how
    both = [*CUBES, {"age": "28 d", "f_c": "30 MPa"}]
    assert measured_strength(Concrete.model_validate({"strength": both, "cylinder_over_cube": 0.8}), 28.0)[0] == 30.0
    with pytest.raises(ValueError, match="is not between"):
        Concrete.model_validate({"cylinder_over_cube": 1.25})


def test_cubes_alone_are_told(materials):
    made = Concrete.model_validate({"nominal": {"f_c": "30 MPa"}, "strength": CUBES})
    campaign = beam(materials.model_copy(update={"concretes": {"B1": made}}), anchors=None)
    assert any("cubes do not count" in note for note in member(campaign, "X1", "A").notes)


@pytest.mark.parametrize("age", [28.0, 40.0, 90.0])
def test_of_one_age_the_larger_cylinders_count(age):
    small = {"age": "28 d", "f_c": "33 MPa", "shape": "cylinder 100x200"}
    tests = [small, {"age": "28 d", "f_c": "30 MPa"}]
    for order in (tests, tests[::-1]):
        assert measured_strength(Concrete.model_validate({"strength": order}), age)[0] == 30.0


def test_an_age_outside_is_told(materials):
    campaign = beam(materials, anchors=None)
    inside = member(campaign, "X1", "A")
    assert not any("outside" in note for note in inside.notes)
    older = campaign.specimen("X1").model_copy(update={"age_at_test": 200.0})
    campaign.specimens["X1"] = older
    late = member(campaign, "X1", "A")
    assert late.values["f_c"] == 27.0
    assert any("OUTSIDE the tested ages" in note for note in late.notes)
