"""Yuan, Teng, Seracino, Wu and Yao 2004: exact load of a joint of any length with a bilinear law."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla

_ROOT = "root of tanh(λ_el (L_b - a)) = (λ_soft/λ_el) tan(λ_soft a) by bracketed iteration"


def _softening(rise: Any, soften: Any, length: Any) -> Any:
    """Softening length at the largest load; shape of the inputs."""
    x = bare(rise=rise, soften=soften, length=length)

    def slope(a: Any) -> Any:
        ahead = np.tanh(x["rise"] * (x["length"] - a)) * np.cos(x["soften"] * a)
        return ahead - x["soften"] / x["rise"] * np.sin(x["soften"] * a)

    return chandrupatla(slope, np.zeros_like(x["length"]), np.minimum(x["length"], 0.5 * np.pi / x["soften"]))


@model(
    "bond.yuan_2004",
    predicts="P_u",
    unit="N",
    source=Ref("Yuan_2004", "full-range closed form"),
    title="Yuan and others 2004, strength of a joint with a bilinear law",
    status=Status("derived", "re-derived; agrees with a march of the differential equation to 1e-12"),
    applies=(
        Applies(lambda i: i["slip_0"] > 0.0, "the slip at the largest stress must be above 0", "shape of the law"),
        Applies(lambda i: i["slip_f"] > i["slip_0"], "the end slip must lie beyond slip_0", "shape of the law"),
    ),
)
def strength(
    *,
    tau_max: Any,
    slip_0: Any,
    slip_f: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    w_f: Any,
    L_b: Any,
    share: float = 0.97,
    step: Step = no_step,
) -> Any:
    """P_u in N of a strip of width `w_f` bonded over `L_b` mm to a rigid substrate. Stresses MPa, slips mm.

    L_e is the length that carries `share` of the load of a long joint (0.97, from memory).
    """
    where = "full-range closed form"
    stiffness = n * t_f * E_f
    fall = np.maximum(slip_f - slip_0, 1e-9 * slip_f)
    rise = step("lambda_rise", np.sqrt(tau_max / (slip_0 * stiffness)), "1/mm", where)
    soften = step("lambda_soften", np.sqrt(tau_max / (fall * stiffness)), "1/mm", where)
    a_e = step("a_e", np.arcsin(share * np.sqrt(fall / slip_f)) / soften, "mm", "effective bond length")
    tangent = soften * np.tan(soften * a_e)
    step("L_e", a_e + np.log((rise + tangent) / (rise - tangent)) / (2.0 * rise), "mm", "effective bond length")
    a = step("a_soft", _softening(rise, soften, L_b), "mm", where, text=_ROOT)
    return step("P_u", w_f * tau_max / soften * slip_f / fall * np.sin(soften * a), "N", where)
