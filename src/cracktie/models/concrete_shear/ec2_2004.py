"""EN 1992-1-1:2004 section 6.2.2: members without shear reinforcement, no axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.models.strength_classes import strength_classes


@model(
    "concrete_shear.ec2_2004",
    predicts="V_c",
    unit="N",
    source=Ref("EN1992_2004", "6.2.2(1), (6.2a), (6.2b), (6.3N)"),
    title="EN 1992-1-1:2004, member without shear reinforcement",
    status=(
        Status("derived", "design values agree with structuralcodes 0.7.2 to 1e-6"),
        Status(
            "derived",
            "the same expression with factors 1 and mean strength; minimum scaled by gamma_C as in the German annex",
            {"form": "test"},
        ),
    ),
    limits=strength_classes(90.0, "Table 3.1 covers C12/15 to C90/105", low=12.0),
)
def v_c(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    form: str,
    C_c: float = 0.18,
    k_min: float = 0.0525,
    gamma_C: float = 1.5,
    step: Step = no_step,
) -> Any:
    """V_Rd,c in N. `f_c` MPa (f_ck in the design form, f_cm in the test form), `b_w` and `d` mm, `rho_l` ratio.

    The recommended minimum 0.035 k^1.5 root(f_ck) of (6.3N) holds gamma_C = 1.5; it is written 0.0525/gamma_C so that
    it follows the factor. The document adds no such term to stirrups: it is the lower branch only.
    """
    stress = _stress(f_c, d, rho_l, C_c, k_min, gamma_C if form == "design" else 1.0, step)
    return step("V_c", stress * b_w * d, "N", "(6.2b)")


def _stress(f_c: Any, d: Any, rho_l: Any, C_c: Any, k_min: Any, gamma: Any, step: Step) -> Any:
    """v_Rd,c in MPa, the larger of (6.2a) and the minimum."""
    k = step("k_size", np.minimum(1.0 + np.sqrt(200.0 / d), 2.0), "-", "6.2.2(1)")
    rho = step("rho_l_eff", np.minimum(rho_l, 0.02), "-", "6.2.2(1)")
    v = step("v_c", C_c / gamma * k * np.cbrt(100.0 * rho * f_c), "MPa", "(6.2a)")
    v_min = step("v_min", k_min / gamma * k * np.sqrt(k) * np.sqrt(f_c), "MPa", "(6.3N)")
    return step("v_c_held", np.maximum(v, v_min), "MPa", "(6.2b)")


@model(
    "concrete_shear.ec2_2004.short_span",
    predicts="V_c",
    unit="N",
    source=Ref("EN1992_2004", "6.2.2(6)"),
    title="EN 1992-1-1:2004, load close to the support",
    status=Status("memory", "rule recalled with high confidence; written as a resistance, which is derived"),
    applies=(
        Applies(
            lambda x: np.asarray(x["a_clear"]) <= 2.0 * np.asarray(x["d"]),
            "clear shear span of at most 2 d",
            "6.2.2(6)",
        ),
    ),
)
def short_span(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    a_clear: Any,
    form: str,
    C_c: float = 0.18,
    k_min: float = 0.0525,
    k_nu: float = 0.6,
    f_nu: float = 250.0,
    alpha_cc: float = 1.0,
    gamma_C: float = 1.5,
    step: Step = no_step,
) -> Any:
    """Shear force at failure in N where all of it comes from loads at the clear distance `a_clear` (mm, plate edges).

    The document multiplies the load's share of V_Ed by a_clear/(2 d), not below 0.25; as a resistance that divides
    V_Rd,c, and the whole force is limited by (6.5). Not to be combined with a strut model. Other inputs as in `v_c`.
    """
    plain = _stress(f_c, d, rho_l, C_c, k_min, gamma_C if form == "design" else 1.0, step) * b_w * d
    share = step("beta_av", np.maximum(a_clear / (2.0 * d), 0.25), "-", "6.2.2(6)")
    most = crushing(
        f_c=f_c,
        b_w=b_w,
        d=d,
        form=form,
        k_nu=k_nu,
        f_nu=f_nu,
        alpha_cc=alpha_cc,
        gamma_C=gamma_C,
        step=step,
    )
    return step("V_c", np.minimum(plain / share, most), "N", "6.2.2(6)")


@model(
    "concrete_shear.ec2_2004.crushing",
    predicts="V_max_strut",
    unit="N",
    source=Ref("EN1992_2004", "6.2.2(6), (6.5), (6.6N)"),
    title="EN 1992-1-1:2004, largest shear force near a support",
    status=Status("derived", "agrees with structuralcodes 0.7.2 to 1e-6"),
)
def crushing(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    form: str,
    k_nu: float = 0.6,
    f_nu: float = 250.0,
    alpha_cc: float = 1.0,
    gamma_C: float = 1.5,
    step: Step = no_step,
) -> Any:
    """0.5 b_w d nu f_cd in N, to be compared with the shear force without any reduction. MPa, mm."""
    f_cd = step("f_cd", alpha_cc * f_c / gamma_C, "MPa", "(3.15)") if form == "design" else f_c
    nu = step("nu", k_nu * (1.0 - f_c / f_nu), "-", "(6.6N)")
    return step("V_max_strut", 0.5 * b_w * d * nu * f_cd, "N", "(6.5)")
