"""EN 1992-1-1:2023 section 8.2.2: members without shear reinforcement, no axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.strength_classes import strength_classes


@model(
    "concrete_shear.ec2_2023",
    predicts="V_c",
    unit="N",
    source=Ref("EN1992_2023", "8.2.1(4) (8.20), 8.2.2 (8.27) to (8.30)"),
    title="EN 1992-1-1:2023, member without shear reinforcement",
    status=Status("derived", "agrees to 1e-6 with a run of an unreleased commit (c850c02) of structuralcodes"),
    limits=strength_classes(100.0, "5.1.3 covers f_ck of 12 to 100 MPa", low=12.0),
)
def v_c(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    M_V: Any,
    d_g: Any,
    f_y: Any,
    form: str,
    k_min: float = 11.0,
    k_c: float = 0.66,
    gamma_V: float = 1.40,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """V in N. `f_c` and `f_y` MPa (f_ck, f_yk in the design form, means in the test form), lengths mm, `rho_l` ratio.

    `M_V` is |M/V| at the control section, at d from the support face or from the concentrated load (a - d in a test
    with one point load); it is not taken below d. `d_g` is D_lower, the smallest value of the upper sieve size.
    No 2 % cap on the bars. The calibrated mean factor of Annex A is not applied: the test form only drops factors.
    """
    g_v = gamma_V if form == "design" else 1.0
    f_yd = step("f_yd", f_y / gamma_S, "MPa", "5.2.4") if form == "design" else f_y
    grade = np.minimum(60.0 / f_c, 1.0)
    d_dg = step("d_dg", np.minimum(16.0 + d_g * grade**2, 40.0), "mm", "8.2.1(4)")
    a_cs = step("a_cs", np.maximum(M_V, d), "mm", "(8.30)")
    a_v = step("a_v", np.minimum(np.sqrt(a_cs / 4.0 * d), d), "mm", "(8.29)", "no reduction from a_cs = 4 d on")
    tau_min = step("tau_min", k_min / g_v * np.sqrt(f_c / f_yd * d_dg / d), "MPa", "(8.20)")
    tau = step("tau_c", k_c / g_v * np.cbrt(100.0 * rho_l * f_c * d_dg / a_v), "MPa", "(8.27)")
    z = step("z", 0.9 * d, "mm", "8.2.1(3)")
    return step("V_c", np.maximum(tau, tau_min) * b_w * z, "N", "(8.18), (8.27)")
