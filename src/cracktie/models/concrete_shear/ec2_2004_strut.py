"""EN 1992-1-1:2004 section 6.5: one straight strut from the load to the support."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.models.concrete_shear.aci318_2014_strut import Places, direct_strut

_AT = Places(angle="6.5.2", width="6.5.4", strength="(6.56), (6.60) to (6.62)", tie="6.5.3", least="6.5.1")


@model(
    "concrete_shear.ec2_2004.strut",
    predicts="V_c",
    unit="N",
    source=Ref("EN1992_2004", "6.5.2(2), 6.5.4(4)"),
    title="EN 1992-1-1:2004, direct strut",
    status=Status("memory", "efficiency factors recalled with high confidence"),
    applies=(
        Applies(
            lambda x: np.asarray(x["a"]) <= 2.0 * np.asarray(x["z"]),
            "shear span of at most twice the lever arm (our own bound of a direct strut)",
        ),
    ),
)
def strut(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    h: Any,
    z: Any,
    a: Any,
    l_load: Any,
    l_support: Any,
    A_s: Any,
    f_y: Any,
    form: str,
    k_strut: float = 0.6,
    k_tied: float = 0.85,
    k_free: float = 1.0,
    alpha_cc: float = 1.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """Shear force in N with transverse tension in the strut. MPa, mm, mm2; `a` between plate centres, `z` lever arm.

    `l_load` is the part of the loading plate that serves this shear span. The strut stands alone: no stirrup term and
    no reduction of the load near the support goes with it.
    """
    factored = form == "design"
    f_cd = step("f_cd", alpha_cc * f_c / gamma_C, "MPa", "(3.15)") if factored else f_c
    f_yd = step("f_yd", f_y / gamma_S, "MPa", "3.2.7") if factored else f_y
    return direct_strut(
        b_w=b_w,
        d=d,
        h=h,
        z=z,
        a=a,
        l_load=l_load,
        l_support=l_support,
        A_s=A_s,
        f_y=f_yd,
        beta_strut=k_strut,
        beta_tied=k_tied,
        beta_free=k_free,
        f_ce=step("f_ce", (1.0 - f_c / 250.0) * f_cd, "MPa", "(6.57N)"),
        step=step,
        at=_AT,
    )
