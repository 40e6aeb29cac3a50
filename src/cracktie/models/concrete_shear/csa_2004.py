"""CSA A23.3 clause 11.3.6.4: general method, member without stirrups and without axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step


@model(
    "concrete_shear.csa_2004",
    predicts="V_c",
    unit="N",
    source=Ref("CSA_A233_04", "11.3.4, 11.3.6.4"),
    title="CSA A23.3-04, general method, no stirrups",
    status=Status("memory", "expressions read on a public page of A23.3-04 and recalled with high confidence"),
    limits=(Limit("f_c", high=80.0, why="8.6.1.1 covers f'c of 20 to 80 MPa (clause from memory)"),),
)
def v_c(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    h: Any,
    A_s: Any,
    M_V: Any,
    d_g: Any,
    form: str,
    E_s: float = 200000.0,
    root_max: float = 8.0,
    phi_c: float = 0.65,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V in N that meets V = V_c(eps_x(V)), in closed form. `f_c` MPa, `A_s` mm2, lengths mm.

    `M_V` is M_f/V_f at d_v from the load or support face, not below d_v. The crack spacing is that of a member without
    distributed longitudinal bars (s_z = d_v). Web crushing at 0.25 phi_c f'c b_w d_v.
    """
    phi = phi_c if form == "design" else 1.0
    d_v = step("d_v", np.maximum(0.9 * d, 0.72 * h), "mm", "2.3")
    grain = step("d_g_eff", d_g * np.minimum(np.maximum((70.0 - f_c) / 10.0, 0.0), 1.0), "mm", "11.3.6.4")
    s_ze = step("s_ze", np.maximum(35.0 * d_v / (15.0 + grain), 0.85 * d_v), "mm", "(11-10)")
    root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "11.3.4")
    base = 0.40 * 1300.0 * phi * lam / (1000.0 + s_ze) * root * b_w * d_v
    base = step("V_c_0", base, "N", "(11-11)", "at zero strain")
    rate = (np.maximum(M_V, d_v) / d_v + 1.0) / (2.0 * E_s * A_s)
    rate = step("eps_rate", rate, "1/N", "(11-13)", "strain per V")
    solved = step("V_c_root", 2.0 * base / (1.0 + np.sqrt(1.0 + 6000.0 * rate * base)), "N", "(11-6)")
    step("eps_x", np.minimum(rate * solved, 0.003), "-", "(11-13)")
    held = step("V_c_held", np.maximum(solved, base / 5.5), "N", "(11-6)", "strain at most 0.003")
    return step("V_c", np.minimum(held, 0.25 * phi * f_c * b_w * d_v), "N", "(11-5)")
