"""ACI 318-14 chapter 23: one straight strut from the load to the support."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step

FLAT = Applies(
    lambda x: np.degrees(np.arctan2(np.asarray(x["z"]), np.asarray(x["a"]))) >= 25.0,
    "strut at 25 degrees or more to the tie",
    "23.2.7",
)


def direct_strut(
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
    beta_strut: Any,
    beta_tied: Any,
    beta_free: Any,
    k_c: Any,
    step: Step,
) -> Any:
    """Shear force in N of a strut between a node with one tie (support) and one without (load); clauses of 318-14."""
    angle = np.arctan2(z, a)
    step("theta_strut", np.degrees(angle), "deg", "23.2.7")
    sine, cosine = np.sin(angle), np.cos(angle)
    low = step("w_support", l_support * sine + 2.0 * (h - d) * cosine, "mm", "R23.2.6", "tie 2 (h - d) high")
    high = step("w_load", l_load * sine + 2.0 * (d - z) * cosine, "mm", "R23.2.6", "compression 2 (d - z) high")
    f = step("f_ce", k_c * f_c, "MPa", "23.4.3, 23.9.2")
    foot = np.minimum(np.minimum(beta_strut, beta_tied) * low * sine, beta_tied * l_support)
    head = np.minimum(np.minimum(beta_strut, beta_free) * high * sine, beta_free * l_load)
    foot = step("V_support", f * b_w * foot, "N", "23.4.3, 23.9.2")
    head = step("V_load", f * b_w * head, "N", "23.4.3, 23.9.2")
    tie = step("V_tie", A_s * f_y * z / a, "N", "23.7.2")
    return step("V_c", np.minimum(np.minimum(foot, head), tie), "N", "23.3.1")


@model(
    "concrete_shear.aci318_2014.strut",
    predicts="V_c",
    unit="N",
    source=Ref("ACI318_14", "23.2.7, 23.3.1, 23.4, 23.7, 23.9"),
    title="ACI 318-14, direct strut",
    status=Status("memory", "efficiency factors recalled with high confidence"),
    applies=(FLAT,),
    choices={"web_grid": (False, True)},
)
def strut_2014(
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
    web_grid: bool,
    form: str,
    beta_grid: float = 0.75,
    beta_plain: float = 0.60,
    beta_tied: float = 0.80,
    beta_free: float = 1.0,
    k_c: float = 0.85,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """Nominal shear force in N. MPa, mm, mm2; `a` between plate centres, `z` lever arm at the load.

    `l_load` is the part of the loading plate that serves this shear span, `web_grid` says whether bars cross the strut
    as in 23.5. The strut stands alone: no stirrup term and no reduction of the load near the support goes with it.
    Strengths are nominal in both forms.
    """
    return direct_strut(
        f_c=f_c,
        b_w=b_w,
        d=d,
        h=h,
        z=z,
        a=a,
        l_load=l_load,
        l_support=l_support,
        A_s=A_s,
        f_y=f_y,
        beta_strut=beta_grid if web_grid else beta_plain * lam,
        beta_tied=beta_tied,
        beta_free=beta_free,
        k_c=k_c,
        step=step,
    )
