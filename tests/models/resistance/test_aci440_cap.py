"""ACI 440.2R: the cap binds V_s + V_f as the terms stand; psi_f acts on what the cap leaves of V_f."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.clause import evaluate

BEAM = {"V_c": 60e3, "f_c": 36.0, "b_w": 200.0, "d": 400.0, "edition": "si"}
MOST = 0.66 * math.sqrt(36.0) * 200.0 * 400.0
"""316.8 kN, ACI 318-14 22.5.1.2."""


def v_r(V_s: float, V_f: float, form: str, scheme: str = "u") -> float:
    found = evaluate("resistance.aci440", {**BEAM, "V_s": V_s, "V_f": V_f, "form": form, "scheme": scheme})
    return float(found.value)


@pytest.mark.parametrize(("scheme", "psi_f"), [("u", 0.85), ("side", 0.85), ("full", 0.95)])
def test_cap_comes_before_the_reduction_of_the_frp_term(scheme: str, psi_f: float) -> None:
    """V_s + V_f exceeds the cap although V_s + psi_f V_f does not: the cap binds all the same."""
    V_s = MOST - 100e3
    V_f = 102e3
    assert V_s + V_f > MOST > V_s + psi_f * V_f
    assert v_r(V_s, V_f, "design", scheme) == pytest.approx(0.75 * (60e3 + V_s + psi_f * 100e3), rel=1e-12)


def test_more_frp_than_the_cap_lets_in_adds_nothing() -> None:
    at_cap = v_r(200e3, MOST - 200e3, "design")
    assert v_r(200e3, MOST, "design") == pytest.approx(at_cap, rel=1e-12)
    assert v_r(200e3, 2.0 * MOST, "design") == pytest.approx(at_cap, rel=1e-12)


def test_stirrups_alone_are_held_too_and_leave_nothing_for_frp() -> None:
    assert v_r(MOST + 50e3, 80e3, "design") == pytest.approx(0.75 * (60e3 + MOST), rel=1e-12)


def test_without_factors_the_sum_is_capped_once() -> None:
    assert v_r(150e3, 100e3, "test") == pytest.approx(310e3, rel=1e-12)
    assert v_r(250e3, 100e3, "test") == pytest.approx(60e3 + MOST, rel=1e-12)


def test_free_of_the_cap_psi_f_acts_on_the_whole_frp_term() -> None:
    assert v_r(100e3, 100e3, "design") == pytest.approx(0.75 * (60e3 + 100e3 + 85e3), rel=1e-12)


@pytest.mark.parametrize("edition", ["si", "inch-pound"])
def test_the_root_of_the_cap_is_held(edition: str) -> None:
    """Above 8.3 MPa (100 psi) the root no longer grows: 80 and 100 MPa have one cap, that of 68.95 MPa (10 000 psi)."""
    words = {**BEAM, "V_s": 900e3, "V_f": 900e3, "form": "test", "scheme": "u", "edition": edition}
    found = evaluate("resistance.aci440", {**words, "f_c": np.array([60.0, 68.95, 80.0, 100.0])}).value
    capped = found - 60e3
    assert capped[2] == capped[3]
    assert capped[1] == pytest.approx(capped[3], rel=1e-3)
    assert capped[3] == pytest.approx(0.66 * 8.3 * 200.0 * 400.0, rel=0.01)
    assert capped[0] / capped[3] == pytest.approx(math.sqrt(60.0) / 8.3, rel=1e-3)


def test_the_cap_of_the_sum_equals_that_of_the_stirrups_alone() -> None:
    """One bound in both documents: stirrups beyond it leave the sum where the stirrup term already stands."""
    stirrups = {"A_sw": 2000.0, "s_w": 100.0, "f_yw": 500.0, "alpha_w": 90.0, "form": "test"}
    for f_c in (30.0, 68.0, 90.0):
        alone = float(evaluate("stirrup_shear.aci318_2014", {**BEAM, **stirrups, "f_c": f_c}).value)
        words = {**BEAM, "f_c": f_c, "V_s": 2.0 * alone, "V_f": 50e3, "form": "test", "scheme": "u"}
        assert float(evaluate("resistance.aci440", words).value) - 60e3 == pytest.approx(alone, rel=1e-12)
