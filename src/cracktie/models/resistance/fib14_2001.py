"""fib Bulletin 14 on the standard method of ENV 1992-1-1: V_c + V_s + V_f, at most the crushing of the web."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.resistance import governing


@model(
    "resistance.fib14_2001",
    predicts="V_R",
    unit="N",
    source=Ref("FIB14", "shear chapter; V_Rd2: ENV1992_91, 4.3.2.4.3 (4.25), (4.21)"),
    title="fib Bulletin 14, sum of concrete, stirrups and FRP",
    status=Status(
        "doubtful",
        "one recollection, high confidence for V_Rd2, medium for the sum; the host is the standard method of "
        "ENV 1992-1-1:1991, the Eurocode of its time",
    ),
    governs=governing.by_bound,
)
def v_r(
    *,
    V_c: Any,
    V_s: Any,
    V_f: Any,
    f_c: Any,
    b_w: Any,
    d: Any,
    alpha_w: Any,
    form: str,
    nu_0: float = 0.7,
    f_nu: float = 200.0,
    nu_min: float = 0.5,
    gamma_c: float = 1.5,
    step: Step = no_step,
) -> Any:
    """V_R in N; `V_c`, `V_s`, `V_f` N with their factors inside, `f_c` MPa, `b_w`, `d` mm, `alpha_w` degrees."""
    f_cd = step("f_cd", f_c / gamma_c, "MPa", "2.3.3.2") if form == "design" else f_c
    nu = step("nu", np.maximum(nu_0 - f_c / f_nu, nu_min), "-", "(4.21)")
    lean = np.radians(alpha_w)
    most = 0.5 * nu * f_cd * b_w * 0.9 * d * (1.0 + np.cos(lean) / np.sin(lean))
    most = step("V_max_strut", most, "N", "(4.25)")
    return step("V_R", np.minimum(V_c + V_s + V_f, most), "N", "shear chapter")
