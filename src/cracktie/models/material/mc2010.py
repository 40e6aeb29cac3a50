"""fib Model Code 2010 section 5.1: concrete properties from the compressive strength.

`f_c` is the mean cylinder strength in the test form and the characteristic one in the design form.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.material.ec2_2004 import characteristic, mean
from cracktie.models.strength_classes import strength_classes

RANGE = strength_classes(120.0, "5.1.2 covers C12 to C120", low=12.0)
_STATUS = Status("derived", "agrees with structuralcodes 0.7.2 to 1e-6")


@model(
    "material.mc2010.f_ctm",
    predicts="f_ctm",
    unit="MPa",
    source=Ref("MC2010", "(5.1-3a), (5.1-3b)"),
    title="Model Code 2010, mean axial tensile strength",
    status=_STATUS,
    limits=RANGE,
)
def f_ctm(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """f_ctm in MPa from `f_c` in MPa."""
    f_ck = characteristic(f_c, form, step)
    high = 2.12 * np.log(1.0 + 0.1 * (f_ck + 8.0))
    return step("f_ctm", np.where(f_ck <= 50.0, 0.3 * np.cbrt(f_ck) ** 2, high), "MPa", "(5.1-3a), (5.1-3b)")


@model(
    "material.mc2010.e_ci",
    predicts="E_ci",
    unit="MPa",
    source=Ref("MC2010", "(5.1-21)"),
    title="Model Code 2010, tangent modulus E_ci",
    status=_STATUS,
    limits=RANGE,
)
def e_ci(*, f_c: Any, form: str, alpha_E: float = 1.0, step: Step = no_step) -> Any:
    """E_ci in MPa from `f_c` in MPa; `alpha_E` 1.2 basalt, 1.0 quartzite, 0.9 limestone, 0.7 sandstone."""
    return step("E_ci", 21500.0 * alpha_E * np.cbrt(mean(f_c, form, step) / 10.0), "MPa", "(5.1-21)")


@model(
    "material.mc2010.e_c",
    predicts="E_c",
    unit="MPa",
    source=Ref("MC2010", "(5.1-21), (5.1-23), (5.1-24)"),
    title="Model Code 2010, reduced modulus E_c for elastic analysis",
    status=Status("memory", "reduction alpha_i recalled with high confidence"),
    limits=RANGE,
)
def e_c(*, f_c: Any, form: str, alpha_E: float = 1.0, step: Step = no_step) -> Any:
    """E_c = alpha_i E_ci in MPa from `f_c` in MPa; allows for initial plastic strain. `alpha_E` as for E_ci."""
    f_cm = mean(f_c, form, step)
    tangent = step("E_ci", 21500.0 * alpha_E * np.cbrt(f_cm / 10.0), "MPa", "(5.1-21)")
    return step("E_c", np.minimum(0.8 + 0.2 * f_cm / 88.0, 1.0) * tangent, "MPa", "(5.1-23), (5.1-24)")


@model(
    "material.mc2010.g_f",
    predicts="G_F",
    unit="N/mm",
    source=Ref("MC2010", "(5.1-9)"),
    title="Model Code 2010, fracture energy of concrete",
    status=_STATUS,
    limits=RANGE,
)
def g_f(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """G_F in N/mm from `f_c` in MPa; the document writes it in N/m."""
    return step("G_F", 73.0 * mean(f_c, form, step) ** 0.18 / 1000.0, "N/mm", "(5.1-9)")
