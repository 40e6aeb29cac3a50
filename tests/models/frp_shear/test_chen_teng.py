"""Chen and Teng 2003: intermediates by hand, both failure modes, and what the two forms change."""

from __future__ import annotations

import math

import pytest

from cracktie.clause import evaluate

from .beams import RECTANGULAR, TEE, steps, value

M = "chen_teng_2003"


def test_debonding_intermediates_by_hand() -> None:
    names = ("z_b", "h_fe", "L_e", "L_max", "lambda_L", "beta_L", "beta_w", "sigma_debonding", "D_f")
    got = dict(zip(names, steps(M, {**TEE, "scheme": "side"}, *names), strict=True))
    root = math.sqrt(35.0)
    assert got["z_b"] == pytest.approx(360.0 - 36.0)
    assert got["h_fe"] == pytest.approx(324.0 - 100.0), "0.1 d is taken off once, at the bottom"
    assert got["L_e"] == pytest.approx(math.sqrt(228e3 * 0.165 / root))
    assert got["L_max"] == pytest.approx(112.0), "both ends of a side strip are free"
    assert got["lambda_L"] == pytest.approx(112.0 / got["L_e"])
    assert got["beta_L"] == pytest.approx(1.0)
    assert got["beta_w"] == pytest.approx(math.sqrt((2 - 0.4) / 1.4))
    assert got["sigma_debonding"] == pytest.approx(0.427 * got["beta_w"] * math.sqrt(228e3 * root / 0.165))
    assert got["D_f"] == pytest.approx(1 - (math.pi - 2) / (math.pi * got["lambda_L"]))
    (L_max,) = steps(M, TEE, "L_max")
    assert L_max == pytest.approx(224.0)


def test_short_bond_length() -> None:
    beam = {**TEE, "scheme": "side", "z_t": 224.0}
    lam, beta_L, D_f = steps(M, beam, "lambda_L", "beta_L", "D_f")
    assert lam < 1
    assert beta_L == pytest.approx(math.sin(math.pi * lam / 2))
    assert D_f == pytest.approx(2 / (math.pi * lam) * math.tan(math.pi * lam / 4)), "(1 - cos x)/sin x = tan(x/2)"


def test_both_distribution_factors_meet_at_one_bond_length() -> None:
    """2/pi from both sides."""
    beam = {**TEE, "scheme": "u", "d": 400.0, "h": 400.0, "d_frp": 400.0}
    L_e = steps(M, beam, "L_e")[0]
    for sign in (-1, 1):
        z_t = 360.0 - L_e * (1 + sign * 1e-9)
        assert steps(M, beam, "D_f", z_t=z_t)[0] == pytest.approx(2 / math.pi, rel=1e-6)


def test_rupture_of_a_closed_wrap() -> None:
    """Full depth: half of 0.8 f_fu; lowered upper edge: more of it, since the stress grows from the crack tip."""
    assert steps(M, RECTANGULAR, "f_fe_rupture")[0] == pytest.approx(0.5 * 0.8 * 3400.0)
    assert steps(M, RECTANGULAR, "f_fe_rupture", z_t=81.0)[0] == pytest.approx(0.5 * (1 + 81 / 405) * 0.8 * 3400.0)
    assert value(M, RECTANGULAR) == pytest.approx(2 * 0.17 * 0.5 * 1360.0 * 405.0)


def test_rupture_strain_is_held_at_0_015() -> None:
    assert steps(M, RECTANGULAR, "sigma_rupture", f_fu=5000.0)[0] == pytest.approx(0.8 * 0.015 * 230e3)


def test_open_wrap_takes_the_lesser_of_both_modes() -> None:
    rupture, least = steps(M, TEE, "f_fe_rupture", "f_fe")
    assert least < rupture
    rupture, least = steps(M, TEE, "f_fe_rupture", "f_fe", f_fu=400.0)
    assert least == pytest.approx(rupture)


def test_design_form_changes_every_factor_at_once() -> None:
    ratio = value(M, TEE) / value(M, TEE, form="design")
    assert ratio == pytest.approx(0.427 / 0.315 * 1.25)
    assert value(M, RECTANGULAR) / value(M, RECTANGULAR, form="design") == pytest.approx(1.25)


def test_anchored_u_wrap_ruptures() -> None:
    anchored = value(M, TEE, anchored=True)
    assert anchored == pytest.approx(value(M, TEE, scheme="full"))
    assert anchored > value(M, TEE)
    assert evaluate(f"frp_shear.{M}", {**TEE, "anchored": True}).status.level == "doubtful"


def test_anchored_side_strips_get_no_value() -> None:
    result = evaluate(f"frp_shear.{M}", {**TEE, "scheme": "side", "anchored": True})
    assert math.isnan(result.value)
    assert "side strips with anchored ends" in result.reasons[0][0].sentence


def test_wrap_that_ends_above_the_bars_loses_height() -> None:
    assert steps(M, RECTANGULAR, "z_b", d_frp=450.0)[0] == pytest.approx(450.0 - 50.0 - 45.0)


def test_upper_edge_below_the_effective_height_is_refused() -> None:
    result = evaluate(f"frp_shear.{M}", {**TEE, "z_t": 330.0})
    assert not result.applicable
