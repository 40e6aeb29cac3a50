"""ACI 318-14 chapter 23: one straight strut from the load to the support."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step

FLAT = Applies(
    lambda x: np.degrees(np.arctan2(np.asarray(x["z"]), np.asarray(x["a"]))) >= 25.0,
    "strut at 25 degrees or more to the tie",
    "23.2.7",
)


class Places(NamedTuple):
    """Where a document states the parts of a strut model."""

    angle: str = "23.2.7"
    width: str = "R23.2.6"
    strength: str = "23.4.3, 23.9.2"
    tie: str = "23.7.2"
    least: str = "23.3.1"


_HERE = Places()


def direct_strut(
    *,
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
    f_ce: Any,
    step: Step,
    at: Places = _HERE,
) -> Any:
    """Shear force in N of a strut between a node with one tie (support) and one without (load).

    `f_ce` is the recorded concrete strength that the factors multiply. Strut ends and bearing plates are checked; the
    vertical faces of the nodes are not: bars developed by bond or hooks press on the support node along their length,
    and the height of the compression at the load follows from `z`.
    """
    angle = np.arctan2(z, a)
    step("theta_strut", np.degrees(angle), "deg", at.angle)
    sine, cosine = np.sin(angle), np.cos(angle)
    low = step("w_support", l_support * sine + 2.0 * (h - d) * cosine, "mm", at.width, "tie 2 (h - d) high")
    high = step("w_load", l_load * sine + 2.0 * (d - z) * cosine, "mm", at.width, "compression 2 (d - z) high")
    foot = np.minimum(np.minimum(beta_strut, beta_tied) * low * sine, beta_tied * l_support)
    head = np.minimum(np.minimum(beta_strut, beta_free) * high * sine, beta_free * l_load)
    foot = step("V_support", f_ce * b_w * foot, "N", at.strength)
    head = step("V_load", f_ce * b_w * head, "N", at.strength)
    tie = step("V_tie", A_s * f_y * z / a, "N", at.tie)
    return step("V_c", np.minimum(np.minimum(foot, head), tie), "N", at.least)


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
        f_ce=step("f_ce", k_c * f_c, "MPa", "23.4.3, 23.9.2"),
        step=step,
    )
