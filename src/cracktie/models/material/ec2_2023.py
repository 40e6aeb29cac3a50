"""EN 1992-1-1:2023 section 5.1: concrete properties from the compressive strength.

`f_c` is the mean cylinder strength in the test form and the characteristic one in the design form.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.material.ec2_2004 import characteristic, mean
from cracktie.models.strength_classes import strength_classes

RANGE = strength_classes(100.0, "5.1.3 covers f_ck of 12 to 100 MPa", low=12.0)
_STATUS = Status("derived", "agrees with structuralcodes 0.7.2 to 1e-6")


@model(
    "material.ec2_2023.f_ctm",
    predicts="f_ctm",
    unit="MPa",
    source=Ref("EN1992_2023", "Table 5.1"),
    title="EN 1992-1-1:2023, mean axial tensile strength",
    status=_STATUS,
    limits=RANGE,
)
def f_ctm(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """f_ctm in MPa from `f_c` in MPa."""
    root = np.cbrt(characteristic(f_c, form, step))
    return step("f_ctm", np.where(root <= np.cbrt(50.0), 0.3 * root**2, 1.1 * root), "MPa", "Table 5.1")


@model(
    "material.ec2_2023.e_c",
    predicts="E_c",
    unit="MPa",
    source=Ref("EN1992_2023", "5.1.4 (5.1)"),
    title="EN 1992-1-1:2023, modulus E_cm",
    status=_STATUS,
    limits=RANGE,
)
def e_c(*, f_c: Any, form: str, k_E: float = 9500.0, step: Step = no_step) -> Any:
    """E_cm in MPa from `f_c` in MPa; `k_E` 9500 for quartzite, 5000 to 13000 for other aggregates."""
    return step("E_c", k_E * np.cbrt(mean(f_c, form, step)), "MPa", "(5.1)")


@model(
    "material.ec2_2023.eps_c1",
    predicts="eps_c1",
    unit="-",
    source=Ref("EN1992_2023", "5.1.6(3)"),
    title="EN 1992-1-1:2023, strain at peak stress",
    status=_STATUS,
    limits=RANGE,
)
def eps_c1(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """Strain (ratio, positive) at the peak of the curve for structural analysis, from `f_c` in MPa."""
    return step("eps_c1", np.minimum(0.7 * np.cbrt(mean(f_c, form, step)), 2.8) / 1000.0, "-", "5.1.6(3)")


@model(
    "material.ec2_2023.eps_cu1",
    predicts="eps_cu1",
    unit="-",
    source=Ref("EN1992_2023", "5.1.6(3)"),
    title="EN 1992-1-1:2023, ultimate strain of the curve for structural analysis",
    status=_STATUS,
    limits=RANGE,
)
def eps_cu1(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """Nominal ultimate strain (ratio, positive), from `f_c` in MPa."""
    strain = 2.8 + 14.0 * (1.0 - mean(f_c, form, step) / 108.0) ** 4
    return step("eps_cu1", np.minimum(strain, 3.5) / 1000.0, "-", "5.1.6(3)")
