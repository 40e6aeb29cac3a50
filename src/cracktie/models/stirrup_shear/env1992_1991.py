"""ENV 1992-1-1:1991 section 4.3.2.4.3: stirrups of the standard method, a 45 degree truss."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning


@model(
    "stirrup_shear.env1992_1991",
    predicts="V_s",
    unit="N",
    source=Ref("ENV1992_91", "4.3.2.4.3 (4.23), (4.24)"),
    title="ENV 1992-1-1:1991, stirrups of the standard method",
    status=Status("memory", "truss at 45 degrees with z = 0.9 d, recalled with high confidence"),
    applies=(leaning("5.4.2.2(1)"),),
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
    form: str,
    gamma_s: float = 1.15,
    step: Step = no_step,
) -> Any:
    """V_wd in N. `A_sw` mm2, `s_w` and `d` mm, `f_yw` MPa, `alpha_w` degrees. The sum has its own upper bound."""
    f_ywd = step("f_ywd", f_yw / gamma_s, "MPa", "2.3.3.2") if form == "design" else f_yw
    lean = np.radians(alpha_w)
    legs = step("legs", np.sin(lean) + np.cos(lean), "-", "(4.24)")
    return step("V_s", A_sw / s_w * 0.9 * d * f_ywd * legs, "N", "(4.23), (4.24)")
