"""ACI 318-25: the table of ACI 318-19 with a floor under the concrete term."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.concrete_shear.aci318_2019 import ROOT_CAP
from cracktie.models.concrete_shear.aci318_2019 import v_c as v_c_2019
from cracktie.models.inch_pound import inch, newton, psi


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
    k_floor: float = 0.083,
    k_floor_psi: float = 1.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V_c in N, at least lambda root(f'c) b_w d (psi). Inputs as in ACI 318-19; no axial load, no seismic clauses."""
    table = v_c_2019(
        f_c=f_c,
        b_w=b_w,
        d=d,
        rho_l=rho_l,
        stirrups_minimum=stirrups_minimum,
        form=form,
        edition=edition,
        root_max=root_max,
        root_max_psi=root_max_psi,
        lam=lam,
        step=step,
    )
    if edition == "si":
        floor = step("V_c_floor", k_floor * lam * np.minimum(np.sqrt(f_c), root_max) * b_w * d, "N", "22.5.5.1")
    else:
        root = np.minimum(np.sqrt(psi(step, "f_c", f_c)), root_max_psi)
        force = k_floor_psi * lam * root * inch(step, "b_w", b_w) * inch(step, "d", d)
        floor = newton(step, "V_c_floor", step("V_c_floor_lbf", force, "lbf", "22.5.5.1"))
    return step("V_c", np.maximum(table, floor), "N", "22.5.5.1")
