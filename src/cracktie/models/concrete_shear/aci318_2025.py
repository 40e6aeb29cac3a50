"""ACI 318-25: the table of ACI 318-19 with a floor under the concrete term."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.concrete_shear.aci318_2019 import ROOT_CAP, table
from cracktie.models.inch_pound import PSI, inch, newton


@model(
    "concrete_shear.aci318_2025",
    predicts="V_c",
    unit="N",
    source=Ref("ACI318_25", "22.5.5.1"),
    title="ACI 318-25, concrete term with size effect and floor",
    status=Status("doubtful", "floor known from a secondary summary only; the root in lambda_s taken from 318-19"),
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
    k_floor: float = 0.083,
    k_row_a_psi: float = 2.0,
    k_row_b_psi: float = 8.0,
    k_max_psi: float = 5.0,
    k_floor_psi: float = 1.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V_c in N, at least lambda root(f'c) b_w d (psi). Inputs as in ACI 318-19; no axial load, no seismic clauses."""
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
        floor = step("v_min", k_floor * lam * np.minimum(np.sqrt(f_c), root_max), "MPa", "22.5.5.1")
        return step("V_c", np.maximum(v, floor) * b_w * d, "N", "22.5.5.1")
    floor = k_floor_psi * lam * np.minimum(np.sqrt(f_c / PSI), root_max_psi)
    floor = step("v_min_psi", floor, "psi", "22.5.5.1")
    force = np.maximum(v, floor) * inch(step, "b_w", b_w) * inch(step, "d", d)
    return newton(step, "V_c", step("V_c_lbf", force, "lbf", "22.5.5.1"))
