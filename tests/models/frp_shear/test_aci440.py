"""ACI 440.2R: the recalled T-beam example, tables, limits, and the two unit editions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.clause import Keep, evaluate, get
from cracktie.models.frp_shear import aci440
from cracktie.models.inch_pound import INCH, KIP, KSI, PSI

from ..samples import draw
from .beams import ACI_TEE, RECTANGULAR, TEE, steps, value

EDITIONS = ("aci440_2008", "aci440_2017")


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize(
    ("step", "printed", "slack"),
    [
        ("k_1", "0.825", None),
        ("L_e_in", "2.0", None),
        ("k_2", "0.875", 0.0015),  # the hand calculation goes on with L_e = 2.0 in
        ("k_v", "0.193", None),
        ("eps_fe", "0.0031", None),
        ("f_fe_ksi", "102", 0.9),  # the hand calculation goes on with 0.0031
        ("V_f_kip", "17.7", 0.15),  # the hand calculation goes on with 102 ksi
    ],
)
def test_t_beam_example_as_recalled(edition: str, step: str, printed: str, slack: float | None) -> None:
    """ACI 440.2R, U-wrapped T-beam example; its inputs and hand-rounded numbers are from memory."""
    digits = len(printed.partition(".")[2])
    (found,) = steps(edition, ACI_TEE, step)
    assert found == pytest.approx(float(printed), abs=slack or 0.5 * 10**-digits)


def test_result_of_the_inch_pound_edition_is_in_newtons() -> None:
    (kip,) = steps("aci440_2017", ACI_TEE, "V_f_kip")
    assert value("aci440_2017", ACI_TEE) == pytest.approx(kip * KIP, rel=1e-12)


@pytest.mark.parametrize("model", EDITIONS)
@given(
    seed=st.integers(0, 10_000), words=st.sampled_from([("side", "strips"), ("u", "continuous"), ("full", "strips")])
)
def test_editions_differ_by_rounding_of_constants_only(model: str, seed: int, words: tuple[str, str]) -> None:
    """27 MPa against 4000 psi (k_1 1.4 %), 23 300 against 2500 (0.8 %), which k_2 of shallow side bonding magnifies."""
    given_words = {"scheme": words[0], "layout": words[1], "anchored": False, "form": "test", "edition": "si"}
    inputs = draw(get(f"frp_shear.{model}"), given_words, 20, seed)
    keep = Keep("k_2")
    si = evaluate(f"frp_shear.{model}", inputs, step=keep).value
    us = evaluate(f"frp_shear.{model}", {**inputs, "edition": "inch-pound"}).value
    deep = keep.values.get("k_2", np.ones(20)) > 0.4
    np.testing.assert_allclose(us[deep], si[deep], rtol=0.03)


def test_exact_conversions_behind_the_printed_constants() -> None:
    assert pytest.approx(11900.0, rel=0.002) == 468.0 * INCH
    assert pytest.approx(23300.0, rel=0.01) == 2500.0 * (INCH * PSI) ** 0.58 * INCH
    assert pytest.approx(27.0, rel=0.025) == 4000.0 * PSI


def test_glass_is_held_by_three_quarters_of_its_strain() -> None:
    """The smaller of 0.004 and 0.75 eps_fu governs, not a check that one lies below the other."""
    (eps_fe,) = steps("aci440_2017", RECTANGULAR, "eps_fe", eps_fu=0.005)
    assert eps_fe == pytest.approx(0.00375)
    (eps_fe,) = steps("aci440_2017", RECTANGULAR, "eps_fe", eps_fu=0.0168)
    assert eps_fe == pytest.approx(0.004)


def test_open_wrap_never_exceeds_0_004() -> None:
    """A thin sheet on strong concrete: the bond law alone would give more."""
    k_v, eps_fe = steps("aci440_2017", TEE, "k_v", "eps_fe", f_c=60.0)
    assert k_v * TEE["eps_fu"] > 0.004
    assert eps_fe == pytest.approx(0.004)
    assert steps("aci440_2017", TEE, "k_v", f_c=60.0, eps_fu=0.005)[0] == pytest.approx(0.75)


def test_environment_acts_in_design_only() -> None:
    beam = {**RECTANGULAR, "eps_fu": 0.005, "C_E": 0.5}
    assert steps("aci440_2017", beam, "eps_fe")[0] == pytest.approx(0.00375)
    assert steps("aci440_2017", beam, "eps_fe", form="design")[0] == pytest.approx(0.001875)


def test_shallow_side_bonding_is_a_legitimate_zero() -> None:
    beam = {**TEE, "scheme": "side", "d_fv": 100.0}
    result = evaluate("frp_shear.aci440_2017", beam)
    assert result.applicable
    assert result.value == 0.0
    assert value("aci440_2017", beam, scheme="u") > 0


def test_side_bonding_loses_two_lengths_and_a_u_wrap_one() -> None:
    L_e, k_2 = steps("aci440_2017", TEE, "L_e", "k_2")
    assert k_2 == pytest.approx((260.0 - L_e) / 260.0)
    L_e, k_2 = steps("aci440_2017", TEE, "L_e", "k_2", scheme="side")
    assert k_2 == pytest.approx((260.0 - 2 * L_e) / 260.0)


def test_anchored_u_wrap_keeps_the_value_and_shows_the_cap() -> None:
    made = get("frp_shear.aci440_2017")
    beam = {**TEE, "n": 3}
    free, anchored = value("aci440_2017", beam), value("aci440_2017", beam, anchored=True)
    assert anchored == free
    eps_fe, cap = steps("aci440_2017", beam, "eps_fe", "eps_fe_cap", anchored=True)
    assert cap == pytest.approx(0.004)
    assert eps_fe < cap
    assert "no case exceed 0.004" in made.anchored
    assert made.status_of({**TEE, "anchored": True}).level == "doubtful"
    assert made.status_of({**TEE, "scheme": "full", "anchored": True}).level == "memory"


def test_member_factors() -> None:
    assert [aci440.psi_f(s) for s in ("full", "u", "side")] == [0.95, 0.85, 0.85]


def test_environment_table() -> None:
    """Table 9.4: interior, exterior, aggressive; from memory."""
    table = {
        f: [aci440.ENVIRONMENT[f, e] for e in ("interior", "exterior", "aggressive")] for f, _ in aci440.ENVIRONMENT
    }
    assert table == {"carbon": [0.95, 0.85, 0.85], "glass": [0.75, 0.65, 0.5], "aramid": [0.85, 0.75, 0.7]}


def test_cap_on_steel_and_frp_in_both_editions() -> None:
    si = aci440.steel_and_frp_max(f_c=36.0, b_w=300.0, d=500.0, edition="si")
    us = aci440.steel_and_frp_max(f_c=36.0, b_w=300.0, d=500.0, edition="inch-pound")
    assert si == pytest.approx(0.66 * 6.0 * 150_000.0)
    assert us == pytest.approx(si, rel=0.01)


def test_spacing_rule_is_centre_to_centre() -> None:
    assert aci440.spacing_centres_max(w_f=100.0, d=400.0) == pytest.approx(200.0)


def test_steps_of_the_inch_pound_edition_carry_its_units() -> None:
    names = ("f_c_psi", "E_f_psi", "t_f_in", "d_fv_in")
    assert steps("aci440_2017", ACI_TEE, *names) == pytest.approx([3000.0, 33.0e6, 0.0065, 16.0])
    (f_fe,) = steps("aci440_2017", ACI_TEE, "f_fe_ksi")
    (eps_fe,) = steps("aci440_2017", ACI_TEE, "eps_fe")
    assert f_fe * KSI == pytest.approx(eps_fe * ACI_TEE["E_f"], rel=1e-12)


def test_force_is_the_truss_sum_over_the_strips_crossed() -> None:
    """Vertical strips on a 45 degree crack: d_fv/s_f strips, two legs each."""
    eps_fe, f_c = steps("aci440_2017", TEE, "eps_fe")[0], 260.0 / 125.0
    assert value("aci440_2017", TEE) == pytest.approx(2 * 0.165 * 50.0 * eps_fe * 228e3 * f_c, rel=1e-12)
    inclined = value("aci440_2017", RECTANGULAR, beta=45.0)
    assert inclined / value("aci440_2017", RECTANGULAR) == pytest.approx(math.sqrt(2.0))
