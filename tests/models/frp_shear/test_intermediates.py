"""Intermediates of the other models by hand: units inside empirical laws, angles, branches, anchored ends."""

from __future__ import annotations

import math
from typing import Any

import pytest

from cracktie.clause import Keep, evaluate, get
from cracktie.models.frp_shear import cnr_dt200_2013, fib14_2001

from .beams import RECTANGULAR, TEE, steps, value

TWO_PLIES: dict[str, Any] = {**RECTANGULAR, "n": 2, "layout": "continuous"}


# fib Bulletin 14
def test_fib_counts_the_modulus_in_gpa() -> None:
    X, eps_rupture, eps_peeling = steps("fib14_2001", {**TEE, "scheme": "u"}, "X", "eps_rupture", "eps_peeling")
    assert pytest.approx(35.0 ** (2 / 3) / (228.0 * 2 * 0.165 / 150.0 * 0.4)) == X
    assert eps_rupture == pytest.approx(0.17 * X**0.30 * TEE["eps_fu"])
    assert eps_peeling == pytest.approx(0.65e-3 * X**0.56)
    assert 0.004 < eps_peeling < 0.008, "a modulus in MPa would give a strain of 1e-4"


def test_fib_strain_is_near_its_usual_size_for_closed_aramid() -> None:
    X, eps_fe = steps("fib14_2001", RECTANGULAR, "X", "eps_fe", fibre="aramid", E_f=120e3)
    assert eps_fe == pytest.approx(0.048 * X**0.47 * RECTANGULAR["eps_fu"])


def test_fib_partial_factor_follows_the_mode() -> None:
    """Peeling 1.30, rupture of carbon 1.35 (application B): V_f steps by that ratio where the mode changes."""
    beam = {**TEE, "form": "design"}
    assert steps("fib14_2001", beam, "gamma_f")[0] == pytest.approx(1.30)
    assert steps("fib14_2001", beam, "gamma_f", eps_fu=0.004)[0] == pytest.approx(1.35)
    eps_fe, eps_d = steps("fib14_2001", beam, "eps_fe", "eps_fe_d", eps_fu=0.004)
    assert eps_d == pytest.approx(0.8 * eps_fe / 1.35)


def test_fib_strain_cap_acts_in_design_only() -> None:
    eps_fe, eps_d = steps("fib14_2001", {**RECTANGULAR, "form": "design"}, "eps_fe", "eps_fe_d")
    assert eps_fe > 0.006
    assert eps_d == pytest.approx(0.8 * 0.006 / 1.35)
    (eps_fe,) = steps("fib14_2001", RECTANGULAR, "eps_fe")
    assert eps_fe > 0.006


def test_fib_anchored_u_is_a_closed_wrap() -> None:
    assert value("fib14_2001", TEE, anchored=True) == value("fib14_2001", TEE, scheme="full")


def test_fib_open_aramid_has_no_law() -> None:
    result = evaluate("frp_shear.fib14_2001", {**TEE, "fibre": "aramid"})
    assert not result.applicable
    assert "closed wraps only" in result.reasons[0][0].sentence


def test_fib_spacing_is_centre_to_centre_and_minds_the_flange() -> None:
    assert fib14_2001.spacing_centres_max(d=400.0, h_flange=0.0, w_f=50.0) == pytest.approx(335.0)
    assert fib14_2001.spacing_centres_max(d=400.0, h_flange=100.0, w_f=50.0) == pytest.approx(275.0)


# CNR-DT 200
def test_cnr_bond_quantities_by_hand() -> None:
    beam = {**RECTANGULAR, "scheme": "u"}
    k_b, Gamma, f_fdd, f_bd, l_ed = steps("cnr_dt200_2013", beam, "k_b", "Gamma_F", "f_fdd", "f_bd", "l_ed")
    assert k_b == pytest.approx(1.0)
    assert pytest.approx(0.077 * math.sqrt(30.0 * 2.3)) == Gamma
    assert f_fdd == pytest.approx(math.sqrt(2 * 230e3 * Gamma / 0.17))
    assert f_bd == pytest.approx(2 * Gamma / 0.25)
    assert l_ed == pytest.approx(math.pi / f_bd * math.sqrt(230e3 * 0.17 * Gamma / 2))


def test_cnr_width_factor_has_a_floor_and_a_ceiling() -> None:
    """1.18 for w_f/p_f up to 0.25."""
    (k_b,) = steps("cnr_dt200_2013", {**RECTANGULAR, "scheme": "u"}, "k_b", s_f=800.0)
    assert f"{k_b:.2f}" == "1.18"


def test_cnr_width_factor_counts_across_the_fibres() -> None:
    """Strips of 60 mm at 45 deg every 200 mm of axis: 141.4 mm across the fibres, w_f/p_f = 0.424."""
    cover, k_b = steps("cnr_dt200_2013", {**RECTANGULAR, "scheme": "u"}, "cover", "k_b", beta=45.0, w_f=60.0)
    assert cover == pytest.approx(60.0 / (200.0 * math.sqrt(0.5)))
    assert k_b == pytest.approx(math.sqrt((2 - cover) / (1 + cover)))


def test_cnr_two_gammas_and_the_floor_of_the_bond_length() -> None:
    beam = {**RECTANGULAR, "scheme": "u", "form": "design"}
    assert steps("cnr_dt200_2013", beam, "l_ed")[0] == pytest.approx(200.0)
    thick = {**beam, "t_f": 1.4, "frp_form": "laminate"}
    Gamma, f_bd, l_ed = steps("cnr_dt200_2013", thick, "Gamma_F", "f_bd", "l_ed")
    assert l_ed > 200.0
    assert l_ed == pytest.approx(math.pi / f_bd * math.sqrt(230e3 * 1.4 * Gamma / 2) / 1.25)
    f_fe, ratio = steps("cnr_dt200_2013", thick, "f_fe", "r_f")
    expected = 0.9 * 450.0 * f_fe * 2 * 1.4 * ratio / 1.20
    assert value("cnr_dt200_2013", thick) == pytest.approx(expected)


def test_cnr_inclined_strips_follow_the_truss() -> None:
    """At 45 deg the formula without the sines would give twice this force."""
    beam = {**RECTANGULAR, "scheme": "u", "beta": 45.0}
    (f_fe,) = steps("cnr_dt200_2013", beam, "f_fe")
    p_f = 200.0 * math.sin(math.radians(45.0))
    without_sines = 0.9 * 450.0 * f_fe * 2 * 0.17 * (1 + 1) * 100.0 / p_f
    assert value("cnr_dt200_2013", beam) == pytest.approx(without_sines / 2)


def test_cnr_closed_wrap_adds_half_of_the_rest() -> None:
    f_fdd, part, more, f_fe = steps("cnr_dt200_2013", RECTANGULAR, "f_fdd", "l_H", "more_closed", "f_fe")
    phi_R = 0.2 + 1.6 * 25.0 / 300.0
    assert more == pytest.approx(max(phi_R * 3400.0 - f_fdd, 0) * (1 - part) / 2)
    assert f_fe == pytest.approx(f_fdd * (1 - part / 6) + more)
    (more,) = steps("cnr_dt200_2013", RECTANGULAR, "more_closed", r_corner=150.0)
    assert more == pytest.approx((1.0 * 3400.0 - f_fdd) * (1 - part) / 2)


def test_cnr_web_height_limits_the_bond_length_share() -> None:
    (part,) = steps("cnr_dt200_2013", TEE, "l_H")
    (l_ed,) = steps("cnr_dt200_2013", TEE, "l_ed")
    assert part == pytest.approx(l_ed / 305.0)


def test_cnr_side_bonding_has_no_rule() -> None:
    assert not evaluate("frp_shear.cnr_dt200_2013", {**TEE, "scheme": "side"}).applicable


def test_cnr_spacing_is_across_the_fibres() -> None:
    assert cnr_dt200_2013.spacing_across_max(w_f=100.0, d=1000.0) == pytest.approx(300.0)


# Technical Report 55
def test_tr55_vertical_fibres_lose_bond_length() -> None:
    """The document counts its angle from the perpendicular: 90 deg there would hide the bond length."""
    l_t, h_fe = steps("tr55_2012", TEE, "l_t", "h_fe")
    assert l_t == pytest.approx(0.7 * math.sqrt(228e3 * 0.165 / 1.89))
    assert h_fe == pytest.approx(260.0 - l_t / 3)
    (h_fe,) = steps("tr55_2012", TEE, "h_fe", scheme="side")
    assert h_fe == pytest.approx(260.0 - 2 * l_t / 3)


def test_tr55_second_edition_takes_the_five_percent_strength_once() -> None:
    """0.18 f_cu^(2/3) is 0.21 f_ck^(2/3) with f_ck = 0.8 f_cu."""
    (f_ct,) = steps("tr55_2004", TEE, "f_ct")
    assert f"{f_ct:.2f}" == "2.23"
    assert f_ct == pytest.approx(0.21 * 35.0 ** (2 / 3), rel=0.01)
    (debonding,) = steps("tr55_2004", TEE, "eps_debonding")
    assert debonding == pytest.approx(0.64 * math.sqrt(f_ct / (228e3 * 0.165)))


def test_tr55_factors_of_glass() -> None:
    E_fd, eps = steps("tr55_2012", {**TEE, "fibre": "glass", "form": "design"}, "E_fd", "eps_fu_d")
    assert E_fd == pytest.approx(228e3 / (1.8 * 1.2))
    assert eps == pytest.approx(TEE["eps_fu"] / (1.95 * 1.2))


def test_tr55_claims_nothing_of_anchors() -> None:
    assert not evaluate("frp_shear.tr55_2012", {**TEE, "anchored": True}).applicable
    assert evaluate("frp_shear.tr55_2012", {**TEE, "scheme": "full", "anchored": True}).applicable


# CSA
def test_csa_s6_is_the_metric_aci_law_at_45_degrees_and_grows_with_flatter_cracks() -> None:
    assert value("csa_s6_2006", TEE) == pytest.approx(value("aci440_2017", TEE), rel=1e-12)
    flat = value("csa_s6_2006", TEE, theta=30.0)
    assert flat / value("csa_s6_2006", TEE) == pytest.approx(1 / math.tan(math.radians(30.0)))


def test_csa_s806_strains() -> None:
    side = value("csa_s806_2002", TEE, scheme="side")
    assert side == pytest.approx(2 * 0.165 * 0.4 * 0.002 * 228e3 * 260.0)
    assert value("csa_s806_2002", TEE, anchored=True) == pytest.approx(2 * side)
    assert value("csa_s806_2002", TEE, scheme="side", form="design") == pytest.approx(0.75 * side)
    assert not evaluate("frp_shear.csa_s806_2002", TEE).applicable, "a U-wrap with free ends has no recalled strain"


# JSCE
def test_jsce_counts_the_modulus_in_gpa() -> None:
    """In MPa R would fall to its floor 0.5 and K would always be 0.8."""
    R, K = steps("jsce_2001", TWO_PLIES, "R_sheet", "K_sheet")
    assert pytest.approx(1.647, abs=0.0005) == R
    assert pytest.approx(0.576, abs=0.0005) == K
    expected = K * 4 * 0.17 * 3400.0 * 450.0 / 1.15
    assert value("jsce_2001", TWO_PLIES) == pytest.approx(expected)


def test_jsce_limits_of_both_numbers() -> None:
    R, K = steps("jsce_2001", RECTANGULAR, "R_sheet", "K_sheet", t_f=0.005)
    assert pytest.approx(0.5) == R
    assert pytest.approx(0.8) == K
    R, K = steps("jsce_2001", TWO_PLIES, "R_sheet", "K_sheet", t_f=0.8, f_c=15.0)
    assert pytest.approx(2.0) == R
    assert pytest.approx(0.4) == K


def test_jsce_open_wraps_are_outside_its_scope() -> None:
    assert not evaluate("frp_shear.jsce_2001", TEE).applicable


# Khalifa
def test_khalifa_parabola_counts_in_gpa_and_ends_with_its_tests() -> None:
    rho_E, R = steps("khalifa_1998", TWO_PLIES, "rho_E_f", "R_rupture")
    assert rho_E == pytest.approx(2 * 2 * 0.17 / 300.0 * 230.0)
    assert pytest.approx(0.5622 * rho_E**2 - 1.2188 * rho_E + 0.778) == R
    result = evaluate("frp_shear.khalifa_1998", {**TWO_PLIES, "t_f": 0.4})
    assert not result.applicable
    assert "1.1 GPa" in result.reasons[0][0].sentence


def test_khalifa_bond_coefficient_from_its_parts() -> None:
    """A gradient of 110.2e-6/mm over L_e = exp(6.134 - 0.58 ln tE), referred to 42 MPa, gives 0.0042."""
    assert f"{110.2e-6 * math.exp(6.134) / 42.0 ** (2 / 3):.4f}" == "0.0042"
    L_e, w_fe, R = steps("khalifa_1998", TEE, "L_e", "w_fe", "R_bond")
    assert L_e == pytest.approx(math.exp(6.134) / 37.62**0.58)
    assert w_fe == pytest.approx(260.0 - L_e)
    direct = 110.2e-6 * L_e * (35.0 / 42.0) ** (2 / 3) * w_fe / 260.0 / TEE["eps_fu"]
    assert pytest.approx(direct, rel=0.005) == R


def test_khalifa_bond_ratios_of_both_papers_are_of_one_size() -> None:
    """Within 20 to 90 GPa mm the straight line of 2000 stays within a third of the power law of 1998."""
    for t_f in (0.1, 0.165, 0.3, 0.39):
        beam = {**TEE, "t_f": t_f}
        assert value("khalifa_nanni_2000", beam) == pytest.approx(value("khalifa_1998", beam), rel=1 / 3)


@pytest.mark.parametrize("t_f", [0.08, 0.40])
def test_khalifa_nanni_line_is_refused_outside_its_tests(t_f: float) -> None:
    result = evaluate("frp_shear.khalifa_nanni_2000", {**TEE, "t_f": t_f})
    assert not result.applicable
    assert "20 to 90 GPa mm" in result.reasons[0][0].sentence


@pytest.mark.parametrize("model", ["khalifa_1998", "khalifa_nanni_2000"])
def test_khalifa_interlock_and_anchored_ends(model: str) -> None:
    (R,) = steps(model, RECTANGULAR, "R_closed")
    assert pytest.approx(0.006 / RECTANGULAR["eps_fu"]) == R
    assert value(model, TEE, anchored=True) == value(model, TEE, scheme="full")
    assert value(model, TEE, scheme="side", d_fv=100.0) == 0.0


# NCHRP 678
def test_nchrp_ratio_is_in_ksi() -> None:
    rho_ksi = 2 * 0.165 * 0.4 / 150.0 * 228e3 / 6.894757
    (R,) = steps("nchrp678_2011", TEE, "R_f", edition="inch-pound")
    assert pytest.approx(3.0 * rho_ksi**-0.67, rel=1e-6) == R
    (R,) = steps("nchrp678_2011", TEE, "R_f", edition="inch-pound", anchored=True)
    assert pytest.approx(4.0 * rho_ksi**-0.67, rel=1e-6) == R


@pytest.mark.parametrize(("scheme", "floor"), [("full", "0.088"), ("u", "0.066")])
def test_nchrp_floor_is_the_ratio_at_300_ksi(scheme: str, floor: str) -> None:
    """A wrap of 300 ksi gives the printed floor from the power law, the floor itself switched off."""
    t_f = 300.0 * 6.894757 / 230e3 * 300.0 / 2
    beam = {**RECTANGULAR, "layout": "continuous", "scheme": scheme, "t_f": t_f, "edition": "inch-pound"}
    keep = Keep("R_f")
    off = {"floor_anchored": 0.0, "floor_free": 0.0}
    evaluate("frp_shear.nchrp678_2011", beam, step=keep, coefficients=off)
    assert f"{float(keep.values['R_f']):.3f}" == floor
    assert steps("nchrp678_2011", beam, "R_f", t_f=3 * t_f)[0] == pytest.approx(float(floor))


def test_nchrp_editions_and_the_design_cap() -> None:
    si, us = value("nchrp678_2011", TEE), value("nchrp678_2011", TEE, edition="inch-pound")
    assert us == pytest.approx(si, rel=0.005)
    (f_fe,) = steps("nchrp678_2011", TEE, "f_fe", form="design")
    assert f_fe == pytest.approx(0.004 * 228e3)


# Mofidi and Chaallal, Pellegrino and Modena
def test_mofidi_crack_factor_counts_in_gpa_and_falls_with_stirrups() -> None:
    (beta_c,) = steps("mofidi_chaallal_2011", TEE, "beta_c")
    assert beta_c == pytest.approx(0.6 / math.sqrt(2 * 0.165 * 0.4 / 150.0 * 228.0))
    (with_stirrups,) = steps("mofidi_chaallal_2011", TEE, "beta_c", A_sw=50.0)
    assert with_stirrups == pytest.approx(0.6 / math.sqrt(2 * 0.165 * 0.4 / 150.0 * 228.0 + 50 / 15000 * 200.0))
    (side,) = steps("mofidi_chaallal_2011", TEE, "beta_c", scheme="side")
    assert side == pytest.approx(0.43 / 0.6 * beta_c)


def test_mofidi_short_bond_length() -> None:
    lam, beta_L = steps("mofidi_chaallal_2011", {**TEE, "scheme": "side", "d_fv": 90.0}, "lambda_L", "beta_L")
    assert lam < 1
    assert beta_L == pytest.approx((2 - lam) * lam)


@pytest.mark.parametrize("variant", ["pellegrino_modena_2002", "pellegrino_modena_2002.kn2000"])
def test_pellegrino_reduction(variant: str) -> None:
    """R* = 0.29 at equal stiffness, 1 without stirrups, 0 from 1.73 times the stiffness of the FRP."""
    base = {"pellegrino_modena_2002": "khalifa_1998"}.get(variant, "khalifa_nanni_2000")
    assert value(variant, TEE) == pytest.approx(value(base, TEE), rel=1e-12)
    equal = 2 * 0.165 * 0.4 * 228e3 / 200e3 * 100.0
    assert steps(variant, TEE, "R_star", A_sw=equal)[0] == pytest.approx(0.29)
    assert value(variant, TEE, A_sw=1.74 * equal) == 0.0
    assert value(variant, TEE, A_sw=1.70 * equal) > 0.0


# all
@pytest.mark.parametrize("model", ["mofidi_chaallal_2011", "khalifa_1998", "khalifa_nanni_2000"])
def test_research_models_have_no_design_form(model: str) -> None:
    assert not evaluate(f"frp_shear.{model}", {**TEE, "form": "design"}).applicable


def test_only_cnr_leaves_the_concrete_term_out() -> None:
    assert get("frp_shear.cnr_dt200_2013").adds_concrete is False
    assert get("frp_shear.aci440_2017").adds_concrete is True
