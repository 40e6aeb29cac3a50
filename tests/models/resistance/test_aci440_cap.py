"""ACI 440.2R: the cap binds V_s + V_f as the terms stand; psi_f acts on what the cap leaves of V_f."""

from __future__ import annotations

import math

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
