"""ACI 318-19 Table 22.5.5.1: nominal concrete shear strength with the size effect, without axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import inch, newton, psi

ROOT_CAP = Limit("f_c", high=68.9, why="22.5.3.1 holds the root of f'c at 8.3 MPa without minimum stirrups")


@model(
    "concrete_shear.aci318_2019",
    predicts="V_c",
    unit="N",
    source=Ref("ACI318_19", "Table 22.5.5.1, 22.5.5.1.1, 22.5.5.1.3"),
    title="ACI 318-19, concrete term with size effect",
    status=Status("memory", "coefficients recalled with high confidence; the two editions agree within 2.5 %"),
    limits=(ROOT_CAP,),
    choices={"stirrups_minimum": (False, True)},
)
def v_c(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    stirrups_minimum: bool,
    form: str,
    edition: str,
    k_a: float = 0.17,
    k_b: float = 0.66,
    k_max: float = 0.42,
    k_a_psi: float = 2.0,
    k_b_psi: float = 8.0,
    k_max_psi: float = 5.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V_c in N. `f_c` MPa, `b_w` and `d` mm, `rho_l` ratio (bars beyond 2/3 h from the compressed face may count).

    `stirrups_minimum` says whether at least the minimum stirrups of 9.6.3.4 are there: then rows (a) and (b), of which
    the designer may take either (the larger here), without cap on the root of f'c; otherwise row (c) with the size
    factor. The axial term is left out. The nominal strength holds no factor: `form` only says which strength `f_c` is.
    """
    if edition == "si":
        root = np.sqrt(f_c)
        if not stirrups_minimum:
            root = step("root_f_c", np.minimum(root, root_max), "MPa", "22.5.3.1")
            size = step("lambda_s", np.minimum(np.sqrt(2.0 / (1.0 + 0.004 * d)), 1.0), "-", "22.5.5.1.3")
            v = step("v_c", k_b * size * lam * np.cbrt(rho_l) * root, "MPa", "Table 22.5.5.1 (c)")
        else:
            v = np.maximum(k_a * lam * root, k_b * lam * np.cbrt(rho_l) * root)
            v = step("v_c", v, "MPa", "Table 22.5.5.1 (a), (b)")
        return step("V_c", np.minimum(v, k_max * lam * root) * b_w * d, "N", "22.5.5.1.1")
    depth = inch(step, "d", d)
    root = np.sqrt(psi(step, "f_c", f_c))
    if not stirrups_minimum:
        root = step("root_f_c_psi", np.minimum(root, root_max_psi), "psi", "22.5.3.1")
        size = step("lambda_s", np.minimum(np.sqrt(2.0 / (1.0 + depth / 10.0)), 1.0), "-", "22.5.5.1.3")
        v = step("v_c_psi", k_b_psi * size * lam * np.cbrt(rho_l) * root, "psi", "Table 22.5.5.1 (c)")
    else:
        v = np.maximum(k_a_psi * lam * root, k_b_psi * lam * np.cbrt(rho_l) * root)
        v = step("v_c_psi", v, "psi", "Table 22.5.5.1 (a), (b)")
    force = np.minimum(v, k_max_psi * lam * root) * inch(step, "b_w", b_w) * depth
    return newton(step, "V_c", step("V_c_lbf", force, "lbf", "22.5.5.1.1"))
