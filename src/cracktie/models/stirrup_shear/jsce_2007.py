"""JSCE Standard Specifications for Concrete Structures, Design: stirrups of the 45 degree truss."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning


@model(
    "stirrup_shear.jsce_2007",
    predicts="V_s",
    unit="N",
    source=Ref("JSCE_07", "9.2.2.2"),
    title="JSCE 2007, stirrups",
    status=(
        Status("doubtful", "factor gamma_b and cap of the yield strength recalled with medium confidence"),
        Status("memory", "45 degree truss with z = d/1.15", {"form": "test"}),
    ),
    applies=(leaning("9.2.2.2"),),
    adds_concrete=True,
    governs=governing.stirrup_yield,
)
def v_s(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    d: Any,
    f_c: Any,
    form: str,
    f_yw_max: float = 800.0,
    k_yw: float = 25.0,
    gamma_c: float = 1.3,
    gamma_s: float = 1.0,
    gamma_b: float = 1.10,
    step: Step = no_step,
) -> Any:
    """V_sd in N. `A_sw` mm2, `s_w` and `d` mm, MPa, degrees. The sum with the concrete term has its own upper bound."""
    lean = np.radians(alpha_w)
    z = step("z", d / 1.15, "mm", "9.2.2.2")
    if form != "design":
        return step("V_s", A_sw * f_yw * (np.sin(lean) + np.cos(lean)) / s_w * z, "N", "9.2.2.2")
    f_cd = step("f_cd", f_c / gamma_c, "MPa", "9.2.2.2")
    most = np.minimum(k_yw * f_cd, f_yw_max)
    f_wyd = step("f_ywd", np.minimum(f_yw / gamma_s, most), "MPa", "9.2.2.2")
    force = A_sw * f_wyd * (np.sin(lean) + np.cos(lean)) / s_w * z / gamma_b
    return step("V_s", force, "N", "9.2.2.2")
