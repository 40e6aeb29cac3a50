"""JSCE 2001, recommendations for continuous fibre sheets: shear capacity of closed wraps by sheet rupture."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing
from cracktie.models.frp_shear.conditions import APART, CROSSES, TRUSS, USUAL_ANGLES, only

_CLAUSE = "shear capacity, sheets"
_HOW = "two independent recollections agree on K, R, their limits and units, and on d/1.15"


@model(
    "frp_shear.jsce_2001",
    predicts="V_f",
    unit="N",
    source=Ref("JSCE_CES41", _CLAUSE),
    title="JSCE 2001 sheets, FRP term",
    status=(
        Status("memory", _HOW, {"form": "test"}),
        Status("doubtful", _HOW + "; material factors 1.3 are recalled with medium confidence", {"form": "design"}),
    ),
    limits=(USUAL_ANGLES,),
    applies=(
        CROSSES,
        APART,
        only(("full",), "the coefficient K covers closed wraps that fail by sheet rupture only", _CLAUSE),
    ),
    anchored="JSCE 2001: no statement on anchored U-wraps is recalled; K covers closed wraps only.",
    adds_concrete=True,
    governs=governing.rupture,
)
def v_f(
    *,
    f_c: Any,
    n: Any,
    t_f: Any,
    w_f: Any,
    s_f: Any,
    beta: Any,
    E_f: Any,
    f_fu: Any,
    b_w: Any,
    d: Any,
    scheme: str,
    layout: str,
    form: str,
    gamma_b: float = 1.25,
    gamma_mf: float = 1.3,
    gamma_c: float = 1.3,
    K_0: float = 1.68,
    K_1: float = 0.67,
    step: Step = no_step,
) -> Any:
    """V_f in N. Stresses MPa, lengths mm, `beta` deg, numbers or arrays of one shape.

    Inside R the stiffness rho_f E_f counts in GPa (E_f in kN/mm2). The design form divides strengths by the material
    factors and the force by the member factor.
    """
    if form == "design":
        f_fu = step("f_fu_d", f_fu / gamma_mf, "MPa", "material factor")
        f_c = step("f_cd", f_c / gamma_c, "MPa", "material factor")
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    rho_f = step("rho_f", geometry.ratio_of_web(n=n, t_f=t_f, ratio=ratio, b_w=b_w), "-", _CLAUSE)
    R = (rho_f * E_f / 1000.0) ** 0.25 * (f_fu / E_f * 1000.0) ** (2 / 3) * (1.0 / f_c) ** (1 / 3)
    R = step("R_sheet", np.minimum(np.maximum(R, 0.5), 2.0), "-", _CLAUSE)
    K = step("K_sheet", np.minimum(np.maximum(K_0 - K_1 * R, 0.4), 0.8), "-", _CLAUSE)
    z = step("z", d / 1.15, "mm", _CLAUSE)
    a_fv = step("a_fv", geometry.area_per_length(n=n, t_f=t_f, ratio=ratio), "mm2/mm", TRUSS)
    force = K * a_fv * f_fu * geometry.truss_factor_45(beta=beta) * z
    return step("V_f", force / gamma_b if form == "design" else force, "N", _CLAUSE)
