"""JSCE Standard Specifications for Concrete Structures, Design: linear members without axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step


@model(
    "concrete_shear.jsce_2007",
    predicts="V_c",
    unit="N",
    source=Ref("JSCE_07", "9.2.2.2"),
    title="JSCE 2007, concrete term",
    status=(
        Status(
            "checked",
            "reproduces 160.3 kN and its factors printed for 6.3.3 of the 2002 edition on jsce.jp (questions, page 55)",
        ),
        Status("derived", "the same expression with factors 1 and mean strength", {"form": "test"}),
    ),
)
def v_c(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    form: str,
    k_c: float = 0.20,
    f_vc_max: float = 0.72,
    gamma_c: float = 1.3,
    gamma_b: float = 1.3,
    step: Step = no_step,
) -> Any:
    """V_cd in N. `f_c` MPa (f'ck in the design form), `b_w` and `d` mm, `rho_l` ratio."""
    factored = form == "design"
    f_cd = step("f_cd", f_c / gamma_c, "MPa", "9.2.2.2") if factored else f_c
    b_d = step("beta_d", np.minimum(np.sqrt(np.sqrt(1000.0 / d)), 1.5), "-", "9.2.2.2")
    b_p = step("beta_p", np.minimum(np.cbrt(100.0 * rho_l), 1.5), "-", "9.2.2.2")
    f_vc = step("f_vc", np.minimum(k_c * np.cbrt(f_cd), f_vc_max), "MPa", "9.2.2.2")
    force = b_d * b_p * f_vc * b_w * d
    return step("V_c", force / gamma_b if factored else force, "N", "9.2.2.2")


@model(
    "concrete_shear.jsce_2007.crushing",
    predicts="V_max_strut",
    unit="N",
    source=Ref("JSCE_07", "9.2.2.2"),
    title="JSCE 2007, diagonal crushing of the web",
    status=Status("doubtful", "coefficient and cap recalled with medium confidence"),
)
def crushing(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    form: str,
    k_w: float = 1.25,
    f_w_max: float = 7.8,
    gamma_c: float = 1.3,
    gamma_b: float = 1.3,
    step: Step = no_step,
) -> Any:
    """V_wcd in N, the upper bound of V_cd + V_sd. `f_c` MPa, `b_w` and `d` mm."""
    factored = form == "design"
    f_cd = step("f_cd", f_c / gamma_c, "MPa", "9.2.2.2") if factored else f_c
    f_w = step("f_wc", np.minimum(k_w * np.sqrt(f_cd), f_w_max), "MPa", "9.2.2.2")
    force = f_w * b_w * d
    return step("V_max_strut", force / gamma_b if factored else force, "N", "9.2.2.2")
