"""ACI 318-19 section 22.5.8: stirrup contribution of the 45 degree truss."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import YIELD_CAP, Clauses, leaning, truss

_HERE = Clauses("22.5.8.5.3", "22.5.8.5.4")


@model(
    "stirrup_shear.aci318_2019",
    predicts="V_s",
    unit="N",
    source=Ref("ACI318_19", "22.5.8.5.3, 22.5.8.5.4, 22.5.1.2"),
    title="ACI 318-19, stirrups",
    status=Status("memory", "coefficients recalled with high confidence; the two editions agree within 1.6 %"),
    limits=(YIELD_CAP,),
    applies=(leaning("22.5.8.5.2"),),
    adds_concrete=True,
    governs=governing.by_section_limit,
)
def v_s(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    d: Any,
    f_c: Any,
    b_w: Any,
    form: str,
    edition: str,
    f_yt_max: float = 420.0,
    f_yt_max_psi: float = 60000.0,
    k_max: float = 0.66,
    k_max_psi: float = 8.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    step: Step = no_step,
) -> Any:
    """V_s in N, at most the section limit of 22.5.1.2. Inputs and rules as in ACI 318-14."""
    return truss(
        A_sw=A_sw,
        s_w=s_w,
        f_yw=f_yw,
        alpha_w=alpha_w,
        d=d,
        f_c=f_c,
        b_w=b_w,
        f_yt_max={"si": f_yt_max, "inch-pound": f_yt_max_psi}[edition] if form == "design" else None,
        k_max={"si": k_max, "inch-pound": k_max_psi}[edition],
        root_max={"si": root_max, "inch-pound": root_max_psi}[edition],
        edition=edition,
        clauses=_HERE,
        step=step,
    )
