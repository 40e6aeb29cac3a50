"""ENV 1992-1-1:1991 section 4.3.2.3: concrete term of the standard method, no axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.material.ec2_2004 import characteristic
from cracktie.models.strength_classes import strength_classes

_HOW = (
    "coefficients recalled with high confidence; 0.25 f_ctk/1.5 gives the 0.26, 0.30 and 0.34 MPa recalled for C20, "
    "C25 and C30 within 3 %"
)


@model(
    "concrete_shear.env1992_1991",
    predicts="V_c",
    unit="N",
    source=Ref("ENV1992_91", "4.3.2.3(1) (4.18)"),
    title="ENV 1992-1-1:1991, concrete term of the standard method",
    status=(
        Status("memory", _HOW),
        Status(
            "doubtful",
            _HOW + "; that the mean tensile strength stands for the 5 % value in the test form is ours",
            {"form": "test"},
        ),
    ),
    limits=strength_classes(50.0, "strength classes up to C50/60"),
)
def v_c(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    form: str,
    k_tau: float = 0.25,
    share: float = 0.7,
    c_0: float = 1.2,
    c_rho: float = 40.0,
    gamma_c: float = 1.5,
    step: Step = no_step,
) -> Any:
    """V_Rd1 in N. `f_c` MPa (f_ck in the design form, f_cm in the test form), `b_w` and `d` mm, `rho_l` ratio.

    The size factor 1.6 - d (d in m) is that of members with all bars carried to the support. The standard method adds
    this term to the stirrups of a 45 degree truss.
    """
    f_ctm = step("f_ctm", 0.30 * np.cbrt(characteristic(f_c, form, step)) ** 2, "MPa", "3.1.2.3 (3.2)")
    if form == "design":
        f_ctk = step("f_ctk", share * f_ctm, "MPa", "3.1.2.3 (3.3)")
        tau = step("tau_R", k_tau * f_ctk / gamma_c, "MPa", "4.3.2.3(1)")
    else:
        tau = step("tau_R", k_tau * f_ctm, "MPa", "4.3.2.3(1)")
    k = step("k_size", np.maximum(1.6 - d / 1000.0, 1.0), "-", "4.3.2.3(1)")
    rho = step("rho_l_eff", np.minimum(rho_l, 0.02), "-", "4.3.2.3(1)")
    return step("V_c", tau * k * (c_0 + c_rho * rho) * b_w * d, "N", "(4.18)")
