"""AASHTO LRFD 5.7.3.4.2: general procedure, member without stirrups and without axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import KIP, inch, inch2, ksi


@model(
    "concrete_shear.aashto_2020",
    predicts="V_c",
    unit="N",
    source=Ref("AASHTO_LRFD_20", "5.7.3.3, 5.7.3.4.2"),
    title="AASHTO LRFD, general procedure, no stirrups",
    status=Status(
        "memory",
        "coefficients recalled with high confidence; 0.083 x 4.8 is the 0.40 of CSA A23.3 within 0.5 %, the forces lie "
        "-12 to +7 % from its (20 to 60 MPa), most where s_xe is held at 305 mm or the aggregate is coarse",
    ),
    limits=(Limit("f_c", high=103.0, why="5.4.2.1 covers strengths up to 15 ksi"),),
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
    edition: str,
    k_c: float = 0.083,
    k_c_ksi: float = 0.0316,
    E_s: float = 200000.0,
    E_s_ksi: float = 29000.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """Nominal V in N that meets V = V_c(eps_s(V)), in closed form. `f_c` MPa, `A_s` mm2, lengths mm.

    `M_V` is M_u/V_u at d_v from the load or the support face, not below d_v. The strain is that of the bars, twice the
    mid-depth strain of CSA A23.3. s_x = d_v (no distributed longitudinal bars). `form` only names the strength.
    """
    d_v = step("d_v", np.maximum(0.9 * d, 0.72 * h), "mm", "5.7.2.8")
    if edition == "si":
        s_xe = step("s_xe", np.clip(35.0 * d_v / (16.0 + d_g), 305.0, 2032.0), "mm", "(5.7.3.4.2-7)")
        base = k_c * lam * 4.8 * 1295.0 / (991.0 + s_xe) * np.sqrt(f_c) * b_w * d_v
        base = step("V_c_0", base, "N", "(5.7.3.4.2-2)", "at zero strain")
        rate = (np.maximum(M_V, d_v) / d_v + 1.0) / (E_s * A_s)
        rate = step("eps_rate", rate, "1/N", "(5.7.3.4.2-4)", "strain per V")
    else:
        arm, width, f = inch(step, "d_v", d_v), inch(step, "b_w", b_w), ksi(step, "f_c", f_c)
        s_xe = np.clip(arm * 1.38 / (inch(step, "d_g", d_g) + 0.63), 12.0, 80.0)
        s_xe = step("s_xe_in", s_xe, "in", "(5.7.3.4.2-7)")
        base = k_c_ksi * lam * 4.8 * 51.0 / (39.0 + s_xe) * np.sqrt(f) * width * arm
        base = step("V_c_0_kip", base, "kip", "(5.7.3.4.2-2)", "at zero strain")
        rate = (np.maximum(inch(step, "M_V", M_V), arm) / arm + 1.0) / (E_s_ksi * inch2(step, "A_s", A_s))
        rate = step("eps_rate_kip", rate, "1/kip", "(5.7.3.4.2-4)", "strain per V")
    solved = 2.0 * base / (1.0 + np.sqrt(1.0 + 3000.0 * rate * base))
    held = np.maximum(solved, base / 5.5)
    if edition == "si":
        held = step("V_c_root", held, "N", "5.7.3.4.2", "strain at most 0.006")
        step("eps_s", np.minimum(rate * held, 0.006), "-", "(5.7.3.4.2-4)")
        return step("V_c", np.minimum(held, 0.25 * f_c * b_w * d_v), "N", "(5.7.3.3-2)")
    held = step("V_c_root_kip", held, "kip", "5.7.3.4.2", "strain at most 0.006")
    step("eps_s", np.minimum(rate * held, 0.006), "-", "(5.7.3.4.2-4)")
    most = step("V_max_strut_kip", 0.25 * f * width * arm, "kip", "(5.7.3.3-2)")
    return step("V_c", np.minimum(held, most) * KIP, "N", "(5.7.3.3-2)")
