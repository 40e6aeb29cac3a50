"""ACI 318-14 section 22.5.10: stirrup contribution of the 45 degree truss."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit, Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import inch, inch2, newton, psi

INCLINED = Applies(
    lambda x: (np.asarray(x["alpha_w"]) >= 45.0) & (np.asarray(x["alpha_w"]) <= 90.0),
    "stirrups lean at 45 to 90 degrees to the axis",
    "22.5.10.5.2",
)
YIELD_CAP = Limit(
    "f_yw", high=420.0, why="ACI 318 counts f_yt up to 420 MPa in design; the test form keeps the measured value"
)


@model(
    "stirrup_shear.aci318_2014",
    predicts="V_s",
    unit="N",
    source=Ref("ACI318_14", "22.5.10.5.3, 22.5.10.5.4, 22.5.1.2"),
    title="ACI 318-14, stirrups",
    status=Status("memory", "coefficients recalled with high confidence; the two editions agree within 1 %"),
    limits=(YIELD_CAP,),
    applies=(INCLINED,),
    adds_concrete=True,
)
def v_s(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    d: Any,
    f_c: Any,
    b_w: Any,
    form: str,
    edition: str,
    f_yt_max: float = 420.0,
    f_yt_max_psi: float = 60000.0,
    k_max: float = 0.66,
    k_max_psi: float = 8.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    step: Step = no_step,
) -> Any:
    """V_s in N, at most the section limit of 22.5.1.2. `A_sw` mm2, lengths mm, stresses MPa, `alpha_w` degrees.

    The cap on the yield strength (20.2.2.4, other than welded deformed wire) is a rule of design and is dropped in the
    test form; the section limit stands for crushing and stays. The limit is written as a limit of V_s because it reads
    V_c + V_s <= V_c + 0.66 root(f'c) b_w d.
    """
    angle = np.radians(alpha_w)
    legs = step("legs", np.sin(angle) + np.cos(angle), "-", "22.5.10.5.4")
    if edition == "si":
        f_yt = step("f_yt", np.minimum(f_yw, f_yt_max), "MPa", "20.2.2.4") if form == "design" else f_yw
        truss = step("V_s_truss", A_sw * f_yt * legs * d / s_w, "N", "22.5.10.5.3")
        root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "22.5.3.1")
        most = step("V_s_max", k_max * root * b_w * d, "N", "22.5.1.2")
        return step("V_s", np.minimum(truss, most), "N", "22.5.1.2")
    f_yt = psi(step, "f_yw", f_yw)
    if form == "design":
        f_yt = step("f_yt_psi", np.minimum(f_yt, f_yt_max_psi), "psi", "20.2.2.4")
    depth = inch(step, "d", d)
    truss = inch2(step, "A_sw", A_sw) * f_yt * legs * depth / inch(step, "s_w", s_w)
    truss = step("V_s_truss_lbf", truss, "lbf", "22.5.10.5.3")
    root = step("root_f_c_psi", np.minimum(np.sqrt(psi(step, "f_c", f_c)), root_max_psi), "psi", "22.5.3.1")
    most = step("V_s_max_lbf", k_max_psi * root * inch(step, "b_w", b_w) * depth, "lbf", "22.5.1.2")
    return newton(step, "V_s", step("V_s_lbf", np.minimum(truss, most), "lbf", "22.5.1.2"))
