"""ACI 318-14 chapter 19: concrete properties from the compressive strength.

`form` only says which strength `f_c` is: measured mean or specified. ACI 318-19 has the same expressions.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import PSI, psi

_STATUS = Status("memory", "coefficients recalled with high confidence")


@model(
    "material.aci318_2014.f_r",
    predicts="f_r",
    unit="MPa",
    source=Ref("ACI318_14", "19.2.3.1"),
    title="ACI 318-14, modulus of rupture",
    status=_STATUS,
)
def f_r(
    *,
    f_c: Any,
    form: str,
    edition: str,
    k_r: float = 0.62,
    k_r_psi: float = 7.5,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """f_r in MPa from `f_c` in MPa."""
    if edition == "si":
        return step("f_r", k_r * lam * np.sqrt(f_c), "MPa", "19.2.3.1")
    stress = step("f_r_psi", k_r_psi * lam * np.sqrt(psi(step, "f_c", f_c)), "psi", "19.2.3.1")
    return step("f_r", stress * PSI, "MPa", "19.2.3.1")


@model(
    "material.aci318_2014.e_c",
    predicts="E_c",
    unit="MPa",
    source=Ref("ACI318_14", "19.2.2.1(b)"),
    title="ACI 318-14, modulus of normal-weight concrete",
    status=_STATUS,
)
def e_c(
    *,
    f_c: Any,
    form: str,
    edition: str,
    k_E: float = 4700.0,
    k_E_psi: float = 57000.0,
    step: Step = no_step,
) -> Any:
    """E_c in MPa from `f_c` in MPa."""
    if edition == "si":
        return step("E_c", k_E * np.sqrt(f_c), "MPa", "19.2.2.1(b)")
    modulus = step("E_c_psi", k_E_psi * np.sqrt(psi(step, "f_c", f_c)), "psi", "19.2.2.1(b)")
    return step("E_c", modulus * PSI, "MPa", "19.2.2.1(b)")
