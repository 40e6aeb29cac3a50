"""CNR-DT 200 R1/2013, 4.3.3: stirrups and FRP on one variable-angle truss, at most its struts; no concrete term."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla
from cracktie.models.resistance import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning


@model(
    "resistance.cnr_dt200_2013",
    predicts="V_R",
    unit="N",
    source=Ref("CNR_DT200_R1_13", "4.3.3; truss: EN1992_2004, 6.2.3"),
    title="CNR-DT 200 R1/2013, stirrups and FRP at one strut angle",
    status=Status(
        "doubtful",
        "min(V_Rd,s + V_Rd,f, V_Rd,c) recalled with high confidence; the host is EN 1992-1-1:2004 by our choice (the "
        "Italian code takes half of f_cd for the struts, from memory); the best angle and the lower branch are ours",
    ),
    applies=(leaning("9.2.2(1)"),),
    governs=governing.by_common_angle,
)
def v_r(
    *,
    V_c: Any,
    V_f_45: Any,
    beta: Any,
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
    """V_R in N. `V_f_45` N is the FRP term for a crack at 45 degrees with its factors inside; mm, mm2, MPa, degrees.

    The pull of stirrups and FRP grows and the strength of the struts falls with cot(theta) in [1, 2.5], so the best
    angle is where they meet. `V_c` N is V_Rd,c of the host: its lower branch, never added.
    """
    factored = form == "design"
    f_ywd = step("f_ywd", f_yw / gamma_S, "MPa", "2.4.2.4") if factored else f_yw
    f_cd = step("f_cd", alpha_cc * f_c / gamma_C, "MPa", "(3.15)") if factored else f_c
    nu = step("nu", k_nu * (1.0 - f_c / f_nu), "-", "(6.6N)")
    sine = np.sin(np.radians(alpha_w))
    cot_alpha = step("cot_alpha", np.cos(np.radians(alpha_w)) / sine, "-", text="by definition")
    steel_1 = step("V_s_0", A_sw * f_ywd * sine * z / s_w, "N", "(6.13)", "stirrups for cot = 1, less their lean")
    strut_1 = step("V_strut_0", nu * f_cd * b_w * z, "N", "(6.14)", "struts less the function of the angle")
    angle = np.radians(beta)
    level = step("r_level", np.sin(angle) / (np.sin(angle) + np.cos(angle)), "-", "truss geometry")
    case = bare(s=steel_1, k=cot_alpha, f=V_f_45, level=level, w=strut_1, low=cot_min, high=cot_max)
    cot = step("cot_theta", _best(**case), "-", "4.3.3", "angle that serves stirrups, FRP and struts best, by a root")
    steel = step("V_s", steel_1 * (cot + cot_alpha), "N", "(6.13)")
    frp = step("V_f", V_f_45 * (1.0 + level * (cot - 1.0)), "N", "4.3.3")
    strut = step("V_max_strut", strut_1 * (cot + cot_alpha) / (1.0 + cot**2), "N", "(6.14)")
    truss = step("V_truss", np.minimum(steel + frp, strut), "N", "4.3.3")
    return step("V_R", np.maximum(truss, V_c), "N", "4.3.3; lower branch 6.2.1(3)")


def _best(*, s: Any, k: Any, f: Any, level: Any, w: Any, low: Any, high: Any) -> Any:
    """cot(theta) in [low, high] with the largest min(s (cot + k) + f (1 + level (cot - 1)), struts)."""

    def spare(cot: Any) -> Any:
        return w * (cot + k) / (1.0 + cot**2) - s * (cot + k) - f * (1.0 + level * (cot - 1.0))

    at_low, at_high = spare(low), spare(high)
    inside = (at_low > 0.0) & (at_high < 0.0)
    middle = 0.5 * (low + high)
    shape = np.broadcast_shapes(np.shape(inside), np.shape(low))
    ends = np.broadcast_to(low, shape), np.broadcast_to(high, shape)
    root = chandrupatla(lambda cot: np.where(inside, spare(cot), middle - cot), *ends)
    return np.where(inside, root, np.where(at_low <= 0.0, low, high))
