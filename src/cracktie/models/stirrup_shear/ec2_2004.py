"""EN 1992-1-1:2004 section 6.2.3: members with stirrups, strut angle chosen for the largest resistance."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning
from cracktie.models.strength_classes import strength_classes


@model(
    "stirrup_shear.ec2_2004",
    predicts="V_s",
    unit="N",
    source=Ref("EN1992_2004", "6.2.3(3), (4), (6.6N), (6.13), (6.14)"),
    title="EN 1992-1-1:2004, stirrups with a variable strut angle",
    status=Status("derived", "both branches agree with structuralcodes 0.7.2 to 1e-6; the best angle is derived"),
    limits=strength_classes(90.0, "Table 3.1 covers C12/15 to C90/105", low=12.0),
    applies=(leaning("9.2.2(1)"),),
    adds_concrete=False,
    governs=governing.by_strut,
)
def v_s(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    z: Any,
    b_w: Any,
    f_c: Any,
    form: str,
    cot_min: float = 1.0,
    cot_max: float = 2.5,
    k_nu: float = 0.6,
    f_nu: float = 250.0,
    alpha_cc: float = 1.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """min(V_Rd,s, V_Rd,max) in N. `A_sw` mm2, lengths mm, stresses MPa, `alpha_w` degrees.

    V_Rd,s grows and V_Rd,max falls with cot(theta) in [1, 2.5], so the best angle is where they meet, clipped. Only
    nu_1 = nu of (6.6N) with the full yield strength is used: the larger nu_1 = 0.6 exists only with 80 % of the
    yield strength. alpha_cw is 1 (no axial load). The concrete term is never added.
    """
    factored = form == "design"
    f_ywd = step("f_ywd", f_yw / gamma_S, "MPa", "2.4.2.4") if factored else f_yw
    f_cd = step("f_cd", alpha_cc * f_c / gamma_C, "MPa", "(3.15)") if factored else f_c
    nu = step("nu", k_nu * (1.0 - f_c / f_nu), "-", "(6.6N)")
    sine = np.sin(np.radians(alpha_w))
    cot_alpha = step("cot_alpha", np.cos(np.radians(alpha_w)) / sine, "-", text="by definition")
    p_w = step("p_w", A_sw / (b_w * s_w) * f_ywd * sine, "MPa", "(6.13)", "stirrup force for each area of web")
    strength, area = nu * f_cd, b_w * z
    # a beam without stirrups keeps a finite quotient; the angle then has no effect
    square = strength / np.maximum(p_w, 1e-9) - 1.0
    square = np.minimum(np.maximum(square, cot_min**2), cot_max**2)
    cot = step("cot_theta", np.sqrt(square), "-", "6.2.3(2)", "where both branches meet, within the limits")
    reach = area * (cot + cot_alpha)
    steel = step("V_s_truss", p_w * reach, "N", "(6.13)")
    strut = step("V_max_strut", strength * reach / (1.0 + cot**2), "N", "(6.14)")
    return step("V_s", np.minimum(steel, strut), "N", "6.2.3(3)")


@model(
    "stirrup_shear.ec2_2004.short_span",
    predicts="V_s",
    unit="N",
    source=Ref("EN1992_2004", "6.2.3(8), (6.19), (6.5)"),
    title="EN 1992-1-1:2004, stirrups under a load close to the support",
    status=Status("memory", "rule recalled with high confidence; written as a resistance, which is derived"),
    applies=(
        leaning("9.2.2(1)"),
        Applies(
            lambda x: np.asarray(x["a_clear"]) <= 2.0 * np.asarray(x["d"]),
            "clear shear span of at most 2 d",
            "6.2.3(8)",
        ),
    ),
    adds_concrete=False,
    governs=governing.by_strut,
)
def short_span(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    a_clear: Any,
    d: Any,
    b_w: Any,
    f_c: Any,
    form: str,
    k_nu: float = 0.6,
    f_nu: float = 250.0,
    alpha_cc: float = 1.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """Shear force at failure in N where all of it comes from loads at the clear distance `a_clear` (mm, plate edges).

    Only the stirrups in the middle 0.75 a_clear count (here smeared: 0.75 a_clear/s_w sets); the load's share of V_Ed
    is multiplied by a_clear/(2 d), not below 0.25, and the whole force is limited by (6.5). Units as in `v_s`. Not to
    be combined with the truss, a strut model or the reduction of the concrete term.
    """
    factored = form == "design"
    f_ywd = step("f_ywd", f_yw / gamma_S, "MPa", "2.4.2.4") if factored else f_yw
    f_cd = step("f_cd", alpha_cc * f_c / gamma_C, "MPa", "(3.15)") if factored else f_c
    share = step("beta_av", np.maximum(a_clear / (2.0 * d), 0.25), "-", "6.2.3(8)")
    crossing = 0.75 * a_clear / s_w * A_sw * f_ywd * np.sin(np.radians(alpha_w))
    crossing = step("V_s_truss", crossing, "N", "(6.19)")
    nu = step("nu", k_nu * (1.0 - f_c / f_nu), "-", "(6.6N)")
    most = step("V_max_strut", 0.5 * b_w * d * nu * f_cd, "N", "(6.5)")
    return step("V_s", np.minimum(crossing / share, most), "N", "6.2.3(8)")
