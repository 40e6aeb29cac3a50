"""ACI 318-19 Table 22.5.5.1: nominal concrete shear strength with the size effect, without axial load."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import INCH, inch, newton, psi

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
    k_row_a: float = 0.17,
    k_row_b: float = 0.66,
    k_max: float = 0.42,
    k_row_a_psi: float = 2.0,
    k_row_b_psi: float = 8.0,
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
    metric, customary = (k_row_a, k_row_b, k_max, root_max), (k_row_a_psi, k_row_b_psi, k_max_psi, root_max_psi)
    v = table(
        f_c=f_c,
        d=d,
        rho_l=rho_l,
        stirrups_minimum=stirrups_minimum,
        edition=edition,
        coefficients=metric if edition == "si" else customary,
        lam=lam,
        step=step,
    )
    if edition == "si":
        return step("V_c", v * b_w * d, "N", "22.5.5.1")
    force = v * inch(step, "b_w", b_w) * inch(step, "d", d)
    return newton(step, "V_c", step("V_c_lbf", force, "lbf", "22.5.5.1"))


def table(
    *,
    f_c: Any,
    d: Any,
    rho_l: Any,
    stirrups_minimum: bool,
    edition: str,
    coefficients: tuple[Any, Any, Any, Any],
    lam: Any,
    step: Step,
) -> Any:
    """v_c of Table 22.5.5.1 with its upper bound, in the edition's unit of stress.

    `coefficients`: of rows (a) and (b), of the upper bound, and the cap on the root of f'c, in that unit.
    """
    k_row_a, k_row_b, k_max, root_max = coefficients
    if edition == "si":
        root, depth, per, end, unit = np.sqrt(f_c), d, 0.004, "", "MPa"
    else:
        root, depth, per = np.sqrt(psi(step, "f_c", f_c)), d / INCH, 0.1
        end, unit = "_psi", "psi"
    if stirrups_minimum:
        v = np.maximum(k_row_a * lam * root, k_row_b * lam * np.cbrt(rho_l) * root)
        v = step(f"v_c{end}", v, unit, "Table 22.5.5.1 (a), (b)")
    else:
        root = step(f"root_f_c{end}", np.minimum(root, root_max), unit, "22.5.3.1")
        size = step("lambda_s", np.minimum(np.sqrt(2.0 / (1.0 + per * depth)), 1.0), "-", "22.5.5.1.3")
        v = step(f"v_c{end}", k_row_b * size * lam * np.cbrt(rho_l) * root, unit, "Table 22.5.5.1 (c)")
    return step(f"v_c_held{end}", np.minimum(v, k_max * lam * root), unit, "22.5.5.1.1")
