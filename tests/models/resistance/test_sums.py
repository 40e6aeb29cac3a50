"""Sums of the documents against closed forms, scans and fixed points written anew here."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from cracktie.clause import evaluate

BEAM = {"b_w": 180.0, "d": 400.0, "h": 450.0, "z": 360.0, "A_s": 942.478, "f_c": 27.0, "d_g": 16.0, "M_V": 740.0}
STIRRUPS = {"A_sw": 56.549, "s_w": 250.0, "f_yw": 400.0, "alpha_w": 90.0, "stirrups_minimum": True}
COMMON: dict[str, Any] = {**BEAM, **STIRRUPS, "beta": 90.0, "form": "test", "edition": "si"}


def value(id: str, **inputs: Any) -> float:
    return float(evaluate(id, {**COMMON, **inputs}).value)


def fixed_point(func: Any, low: float = 0.0, high: float = 2e6) -> float:
    """V with func(V) = V for a falling func, by halving."""
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if func(middle) > middle else (low, middle)
    return low


# ---- CNR-DT 200: stirrups, FRP and struts at one angle


@pytest.mark.parametrize(("V_f_45", "A_sw"), [(150e3, 56.5), (60e3, 300.0), (250e3, 300.0)])
def test_vertical_legs_meet_the_struts_at_the_closed_form(V_f_45: float, A_sw: float) -> None:
    # all pull grows with cot: P = A_sw f_yw z/s_w + V_f_45 at cot 1; struts nu f_c b_w z cot/(1 + cot2)
    # equal where 1 + cot2 = nu f_c b_w z/P (no load of ours; the identity of EN 1992-1-1:2004, 6.2.3, for stirrups)
    pull = A_sw * 400.0 * 360.0 / 250.0 + V_f_45
    strut = 0.6 * (1.0 - 27.0 / 250.0) * 27.0 * 180.0 * 360.0
    cot = min(max(math.sqrt(max(strut / pull - 1.0, 1.0)), 1.0), 2.5)
    expected = min(pull * cot, strut * cot / (1.0 + cot**2))
    assert value("resistance.cnr_dt200_2013", V_c=0.0, V_f_45=V_f_45, A_sw=A_sw) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("beta", "alpha_w"), [(60.0, 90.0), (90.0, 60.0), (50.0, 45.0)])
def test_inclined_legs_against_a_scan_of_angles(beta: float, alpha_w: float) -> None:
    cot = np.linspace(1.0, 2.5, 150_001)
    lean, fibre = math.radians(alpha_w), math.radians(beta)
    steel = 200.0 * 400.0 * math.sin(lean) * 360.0 / 250.0 * (cot + 1.0 / math.tan(lean))
    frp = 120e3 * (math.sin(fibre) * cot + math.cos(fibre)) / (math.sin(fibre) + math.cos(fibre))
    strut = 0.6 * 0.892 * 27.0 * 180.0 * 360.0 * (cot + 1.0 / math.tan(lean)) / (1.0 + cot**2)
    best = np.minimum(steel + frp, strut).max()
    found = value("resistance.cnr_dt200_2013", V_c=0.0, V_f_45=120e3, A_sw=200.0, alpha_w=alpha_w, beta=beta)
    assert found == pytest.approx(best, rel=1e-5)


def test_the_lower_branch_is_never_added() -> None:
    alone = value("resistance.cnr_dt200_2013", V_c=0.0, V_f_45=40e3)
    assert value("resistance.cnr_dt200_2013", V_c=0.5 * alone, V_f_45=40e3) == alone
    assert value("resistance.cnr_dt200_2013", V_c=2.0 * alone, V_f_45=40e3) == 2.0 * alone


# ---- general methods at the strain of the whole force


@pytest.mark.parametrize("V_f", [0.0, 60e3])
@pytest.mark.parametrize("A_sw", [0.0, 56.549])
def test_csa_s6_is_the_fixed_point_of_its_own_shares(V_f: float, A_sw: float) -> None:
    # A23.3 11.3.6.4: beta = 0.4/(1 + 1500 e) 1300/(1000 + s_ze), theta = 29 + 7000 e, e = (M/V/d_v + 1) V/(2 E_s A_s)
    # d_v = 360, s_ze = 300 with the minimum stirrups, else 35 d_v/(15 + 16); the FRP term grows with cot(theta)
    s_ze = 300.0 if A_sw else 35.0 * 360.0 / 31.0

    def total(V: float) -> float:
        e = min((740.0 / 360.0 + 1.0) * V / (2.0 * 200e3 * 942.478), 0.003)
        cot = 1.0 / math.tan(math.radians(29.0 + 7000.0 * e))
        concrete = 0.4 / (1.0 + 1500.0 * e) * 1300.0 / (1000.0 + s_ze) * math.sqrt(27.0) * 180.0 * 360.0
        return concrete + A_sw * 400.0 * 360.0 / 250.0 * cot + V_f * cot

    found = value("resistance.csa_s6_2006", V_f_45=V_f, A_sw=A_sw, stirrups_minimum=A_sw > 0)
    assert found == pytest.approx(min(fixed_point(total), 0.25 * 27.0 * 180.0 * 360.0), rel=1e-9)


def test_without_frp_the_sums_are_the_general_methods() -> None:
    assert value("resistance.csa_s6_2006", V_f_45=0.0) == pytest.approx(value("stirrup_shear.csa_2004"), rel=1e-12)
    for edition in ("si", "inch-pound"):
        found = value("resistance.aashto_nchrp678", V_f=0.0, edition=edition)
        assert found == pytest.approx(value("stirrup_shear.aashto_2020", edition=edition), rel=1e-12)
    bare = {"A_sw": 0.0, "stirrups_minimum": False}
    assert value("resistance.csa_s6_2006", V_f_45=0.0, **bare) == pytest.approx(value("concrete_shear.csa_2004"))
    assert value("resistance.aashto_nchrp678", V_f=0.0, **bare) == pytest.approx(value("concrete_shear.aashto_2020"))


def test_nchrp_is_the_fixed_point_of_its_own_shares() -> None:
    # AASHTO 5.7.3.4.2: beta = 4.8/(1 + 750 e), theta = 29 + 3500 e, e = (M/V/d_v + 1) V/(E_s A_s), 0.083 beta root(f'c)
    def total(V: float) -> float:
        e = min((740.0 / 360.0 + 1.0) * V / (200e3 * 942.478), 0.006)
        cot = 1.0 / math.tan(math.radians(29.0 + 3500.0 * e))
        concrete = 0.083 * 4.8 / (1.0 + 750.0 * e) * math.sqrt(27.0) * 180.0 * 360.0
        return concrete + 56.549 * 400.0 * 360.0 / 250.0 * cot + 55e3

    assert value("resistance.aashto_nchrp678", V_f=55e3) == pytest.approx(fixed_point(total), rel=1e-9)


def test_both_editions_of_nchrp_agree() -> None:
    si, us = (value("resistance.aashto_nchrp678", V_f=55e3, edition=e) for e in ("si", "inch-pound"))
    assert us == pytest.approx(si, rel=0.01)
    assert us != si


@pytest.mark.parametrize("id", ["resistance.csa_s6_2006", "resistance.aashto_nchrp678"])
def test_an_unknown_resistance_factor_leaves_no_design_value(id: str) -> None:
    found = evaluate(id, {**COMMON, "form": "design", "V_f": 50e3, "V_f_45": 50e3})
    assert not found.applicable
    assert "not known to us" in found.reasons[0][0].sentence


# ---- sums with a bound


def test_fib14_is_held_by_the_struts_of_the_standard_method() -> None:
    # ENV 1992-1-1 (4.25): V_Rd2 = 0.5 nu f_c b_w 0.9 d; nu = 0.7 - 27/200 = 0.565: 0.5*0.565*27*180*360 = 494 262 N
    forces = {"V_c": 60e3, "V_s": 40e3, "V_f": 50e3}
    assert value("resistance.fib14_2001", **forces) == 150e3
    assert value("resistance.fib14_2001", **{**forces, "V_f": 900e3}) == pytest.approx(494262.0, abs=1.0)
    # design: f_cd = 27/1.5
    held = value("resistance.fib14_2001", **{**forces, "V_f": 900e3}, form="design")
    assert held == pytest.approx(494262.0 / 1.5, abs=1.0)


def test_jsce_sums_are_held_by_diagonal_crushing() -> None:
    # 1.25 root(27) b_w d = 6.49519*72 000 = 467 654 N
    forces = {"V_c": 60e3, "V_s": 40e3, "V_f": 50e3}
    assert value("resistance.jsce_2007", **forces) == 100e3
    assert value("resistance.jsce_2001", **forces) == 150e3
    assert value("resistance.jsce_2001", **{**forces, "V_f": 900e3}) == pytest.approx(467654.0, abs=1.0)


def test_aashto_takes_its_resistance_factor_in_design() -> None:
    # 5.5.4.2: phi = 0.90 for shear, normal-weight concrete (from memory)
    assert value("resistance.aashto_2020", V_cs=100e3, form="design") == pytest.approx(90e3)
    assert value("resistance.aashto_2020", V_cs=100e3) == 100e3


def test_the_host_puts_its_factor_on_its_own_terms_only() -> None:
    forces = {"V_c": 60e3, "V_s": 40e3, "V_f": 50e3, "phi_host": 0.75}
    assert value("resistance.sum_on_host", **forces) == 150e3
    assert value("resistance.sum_on_host", **forces, form="design") == pytest.approx(0.75 * 100e3 + 50e3)


# ---- terms of ENV 1992-1-1:1991


def test_env_concrete_term_by_hand() -> None:
    # C25/30, d = 400, rho = 1 %: f_ctm = 0.3*25^(2/3) = 2.56496; f_ctk = 1.79548; tau_Rd = 0.25*1.79548/1.5 = 0.299246
    # k = 1.2; 1.2 + 0.4 = 1.6; V_Rd1 = 0.299246*1.2*1.6*180*400 = 41 367.8 N
    found = value("concrete_shear.env1992_1991", f_c=25.0, rho_l=0.01, form="design")
    assert found == pytest.approx(41367.8, abs=0.5)


@pytest.mark.parametrize(("f_ck", "printed"), [(20.0, 0.26), (25.0, 0.30), (30.0, 0.34), (40.0, 0.41), (50.0, 0.48)])
def test_env_basic_shear_strengths(f_ck: float, printed: float) -> None:
    """Table 4.8 of ENV 1992-1-1:1991, gamma_c = 1.5, from memory; two decimals, hence 4 %."""
    V = value("concrete_shear.env1992_1991", f_c=f_ck, rho_l=0.0, form="design")
    assert pytest.approx(printed, rel=0.04) == V / (1.2 * 1.2 * 180.0 * 400.0)


def test_env_stirrups_by_hand() -> None:
    # 56.549/250*0.9*400*400 = 32 572 N; leaning at 45 degrees root(2) times that; design over 1.15
    assert value("stirrup_shear.env1992_1991") == pytest.approx(32572.2, abs=0.5)
    assert value("stirrup_shear.env1992_1991", alpha_w=45.0) == pytest.approx(32572.2 * math.sqrt(2.0), abs=0.8)
    assert value("stirrup_shear.env1992_1991", form="design") == pytest.approx(32572.2 / 1.15, abs=0.5)
