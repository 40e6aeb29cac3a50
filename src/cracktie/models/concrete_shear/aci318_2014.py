"""ACI 318-14 section 22.5.5: nominal concrete shear strength without axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import inch, newton, psi

_STATUS = Status("memory", "coefficients recalled with high confidence; the two editions agree within 2.5 %")
_ROOT_CAP = Limit("f_c", high=68.9, why="22.5.3.1 holds the root of f'c at 8.3 MPa (100 psi)")


@model(
    "concrete_shear.aci318_2014.simplified",
    predicts="V_c",
    unit="N",
    source=Ref("ACI318_14", "22.5.5.1"),
    title="ACI 318-14, simplified concrete term",
    status=(
        _STATUS,
        Status(
            "checked",
            "reproduces phi V_c = 27.4 kips of a worked example for f'c 4000 psi, 12 x 24 in, of an earlier edition",
            {"edition": "inch-pound"},
        ),
    ),
    limits=(_ROOT_CAP,),
)
def simplified(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    form: str,
    edition: str,
    k_c: float = 0.17,
    k_c_psi: float = 2.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V_c in N. `f_c` MPa, `b_w` and `d` mm, numbers or arrays of one shape.

    The nominal strength holds no factor, so `form` only says which strength `f_c` is; the reduction factor belongs to
    the guideline set. The cap on the root of f'c is kept even with minimum stirrups, where 22.5.3.2 lifts it.
    """
    if edition == "si":
        root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "22.5.3.1")
        return step("V_c", k_c * lam * root * b_w * d, "N", "22.5.5.1")
    root = step("root_f_c_psi", np.minimum(np.sqrt(psi(step, "f_c", f_c)), root_max_psi), "psi", "22.5.3.1")
    v_c = k_c_psi * lam * root * inch(step, "b_w", b_w) * inch(step, "d", d)
    return newton(step, "V_c", step("V_c_lbf", v_c, "lbf", "22.5.5.1"))


@model(
    "concrete_shear.aci318_2014.detailed",
    predicts="V_c",
    unit="N",
    source=Ref("ACI318_14", "Table 22.5.5.1"),
    title="ACI 318-14, detailed concrete term",
    status=_STATUS,
    limits=(_ROOT_CAP,),
)
def detailed(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    M_V: Any,
    form: str,
    edition: str,
    k_root: float = 0.16,
    k_bars: float = 17.0,
    k_max: float = 0.29,
    k_root_psi: float = 1.9,
    k_bars_psi: float = 2500.0,
    k_max_psi: float = 3.5,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V_c in N: the least of the three rows of the table. `f_c` MPa, `b_w`, `d`, `M_V` mm, `rho_l` ratio.

    `M_V` is M_u/V_u at the section considered; for a test with one point load the section at d from the load is usual
    (a - d). Row (b) of the table holds V_u d/M_u at 1, written as the limit of the ratio. `form` as in `simplified`.
    """
    ratio = step("V_d_M", np.minimum(d / M_V, 1.0), "-", "Table 22.5.5.1 (a), (b)")
    if edition == "si":
        root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "22.5.3.1")
        v_ab = step("v_c_ab", k_root * lam * root + k_bars * rho_l * ratio, "MPa", "Table 22.5.5.1 (a), (b)")
        v_c = step("v_c", np.minimum(v_ab, k_max * lam * root), "MPa", "Table 22.5.5.1 (c)")
        return step("V_c", v_c * b_w * d, "N", "Table 22.5.5.1")
    root = step("root_f_c_psi", np.minimum(np.sqrt(psi(step, "f_c", f_c)), root_max_psi), "psi", "22.5.3.1")
    v_ab = k_root_psi * lam * root + k_bars_psi * rho_l * ratio
    v_ab = step("v_c_ab_psi", v_ab, "psi", "Table 22.5.5.1 (a), (b)")
    v_c = step("v_c_psi", np.minimum(v_ab, k_max_psi * lam * root), "psi", "Table 22.5.5.1 (c)")
    force = step("V_c_lbf", v_c * inch(step, "b_w", b_w) * inch(step, "d", d), "lbf", "Table 22.5.5.1")
    return newton(step, "V_c", force)
