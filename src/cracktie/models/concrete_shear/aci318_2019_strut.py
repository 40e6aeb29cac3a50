"""ACI 318-19 chapter 23: one straight strut from the load to the support."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.concrete_shear.aci318_2014_strut import FLAT, direct_strut


@model(
    "concrete_shear.aci318_2019.strut",
    predicts="V_c",
    unit="N",
    source=Ref("ACI318_19", "23.2.7, 23.3.1, 23.4, 23.7, 23.9"),
    title="ACI 318-19, direct strut",
    status=Status("memory", "efficiency factors recalled with high confidence"),
    applies=(FLAT,),
    choices={"web_grid": (False, True)},
)
def strut_2019(
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
    beta_plain: float = 0.40,
    beta_tied: float = 0.80,
    beta_free: float = 1.0,
    k_c: float = 0.85,
    step: Step = no_step,
) -> Any:
    """Nominal shear force in N. As in ACI 318-14, with the lower factor of a strut no grid crosses (Table 23.4.3).

    The exception for members that meet the section limit of 23.4.4 is not used.
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
        beta_strut=beta_grid if web_grid else beta_plain,
        beta_tied=beta_tied,
        beta_free=beta_free,
        f_ce=step("f_ce", k_c * f_c, "MPa", "23.4.3, 23.9.2"),
        step=step,
    )
