"""Sentences of the shear terms that state how far documents or editions differ, held against seeded cases."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cracktie.clause import evaluate, get

CASES = 5000


def beams() -> dict[str, Any]:
    rng = np.random.default_rng(7)
    d = rng.uniform(150, 1500, CASES)
    made = {
        "d": d,
        "h": d * rng.uniform(1.05, 1.2, CASES),
        "M_V": d * rng.uniform(1, 4, CASES),
        "f_c": rng.uniform(20, 60, CASES),
        "b_w": rng.uniform(120, 400, CASES),
        "d_g": rng.uniform(8, 32, CASES),
        "A_sw": rng.uniform(40, 300, CASES),
        "s_w": rng.uniform(80, 300, CASES),
        "f_yw": rng.uniform(300, 600, CASES),
        "alpha_w": np.full(CASES, 90.0),
    }
    return {**made, "A_s": rng.uniform(0.005, 0.03, CASES) * made["b_w"] * d, "z": 0.9 * d, "rho_l": 0.01}


def value(model: str, **words: Any) -> Any:
    return evaluate(model, {**beams(), "form": "test", "edition": "si", **words}).value


def test_aashto_beside_csa_without_stirrups() -> None:
    ratio = value("concrete_shear.aashto_2020") / value("concrete_shear.csa_2004")
    assert 0.88 <= ratio.min() < 0.95
    assert 1.02 < ratio.max() <= 1.07
    assert "-12 to +7 %" in get("concrete_shear.aashto_2020").weakest.how


def test_aashto_beside_csa_with_stirrups() -> None:
    both = [
        [value(f"stirrup_shear.{m}", stirrups_minimum=s) for m in ("aashto_2020", "csa_2004")] for s in (True, False)
    ]
    many, few = (a / b for a, b in both)
    assert 0.996 <= many.min() <= many.max() <= 1.004
    assert 0.90 <= few.min() < 0.97
    assert 1.01 < few.max() <= 1.05
    how = get("stirrup_shear.aashto_2020").weakest.how
    assert "within 0.4 %" in how
    assert "-10 to +5 %" in how


@pytest.mark.parametrize("model", ["aci318_2014", "aci318_2019"])
def test_editions_of_aci_differ_most_where_the_yield_strength_is_held(model: str) -> None:
    """420 MPa against 60 000 psi = 413.7 MPa."""
    name = f"stirrup_shear.{model}"
    ratio = value(name, form="design") / value(name, form="design", edition="inch-pound")
    assert 1.01 < ratio.max() <= 1.016
    assert ratio.min() >= 0.984
    assert "1.6 %" in get(name).weakest.how


@pytest.mark.parametrize(
    ("model", "most"),
    [
        ("concrete_shear.ec2_2004", 98.0),
        ("stirrup_shear.ec2_2004", 98.0),
        ("concrete_shear.env1992_1991", 58.0),
        ("concrete_shear.mc2010.level1", 78.0),
        ("concrete_shear.ec2_2023", 108.0),
        ("stirrup_shear.ec2_2023", 108.0),
        ("stirrup_shear.ec2_2023.refined", 108.0),
        ("concrete_shear.mc2010.level2", 128.0),
        ("stirrup_shear.mc2010.level1", 128.0),
        ("stirrup_shear.mc2010.level2", 128.0),
        ("stirrup_shear.mc2010.level3", 128.0),
        ("concrete_shear.csa_2004", 80.0),
        ("stirrup_shear.csa_2004", 80.0),
    ],
)
def test_strengths_beyond_the_document_are_marked(model: str, most: float) -> None:
    inputs = {**beams(), "form": "test", "stirrups_minimum": True, "f_y": 500.0}
    one = {n: float(v[0]) if np.ndim(v) else v for n, v in inputs.items()}
    assert not evaluate(model, {**one, "f_c": most}).outside
    assert evaluate(model, {**one, "f_c": most + 1.0}).outside


EUROCODES = {
    "concrete_shear.ec2_2004": 90.0,
    "stirrup_shear.ec2_2004": 90.0,
    "concrete_shear.ec2_2023": 100.0,
    "stirrup_shear.ec2_2023": 100.0,
    "stirrup_shear.ec2_2023.refined": 100.0,
    "concrete_shear.mc2010.level2": 120.0,
    "stirrup_shear.mc2010.level1": 120.0,
    "stirrup_shear.mc2010.level2": 120.0,
    "stirrup_shear.mc2010.level3": 120.0,
    "material.ec2_2004.f_ctm": 90.0,
    "material.ec2_2004.e_c": 90.0,
    "material.ec2_2023.f_ctm": 100.0,
    "material.mc2010.g_f": 120.0,
}
"""Highest f_ck, MPa; the lowest is 12 MPa: Table 3.1 of EN 1992-1-1:2004, 5.1.3 of EN 1992-1-1:2023, 5.1.2 of the Model
Code 2010 (from memory)."""


@pytest.mark.parametrize(("model", "most"), EUROCODES.items())
@pytest.mark.parametrize(("form", "above"), [("design", 0.0), ("test", 8.0)])
def test_strength_classes_hold_for_the_strength_of_the_form(model: str, most: float, form: str, above: float) -> None:
    """f_ck in the design form, f_cm = f_ck + 8 MPa in the test form."""
    inputs = {**beams(), "form": form, "stirrups_minimum": True, "f_y": 500.0}
    one = {n: float(v[0]) if np.ndim(v) else v for n, v in inputs.items()}

    def marked(f_c: float) -> list[str]:
        return [lim.sentence("MPa") for lim, _ in evaluate(model, {**one, "f_c": f_c}).outside]

    assert not marked(12.0 + above)
    assert not marked(most + above)
    for f_c in (11.9 + above, most + above + 0.1):
        (sentence,) = marked(f_c)
        assert f"f_c {12 + above:g} to {most + above:g} MPa (form = {form})" in sentence
