"""Niwa 1983: mean shear strength of deep beams without stirrups."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step


@model(
    "concrete_shear.niwa_1983",
    predicts="V_c",
    unit="N",
    source=Ref("Niwa_1983", "deep beams"),
    title="Niwa 1983, deep beams",
    status=Status("doubtful", "recalled with medium confidence; 0.244 is quoted for K as well"),
    applies=(
        Applies(
            lambda x: np.asarray(x["a"]) <= 2.0 * np.asarray(x["d"]), "deep beam, shear span of at most 2 d", "scope"
        ),
    ),
    choices={"form": ("test",)},
)
def v_c(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    rho_l: Any,
    a: Any,
    l_load: Any,
    form: str,
    K: float = 0.24,
    step: Step = no_step,
) -> Any:
    """V in N from the mean strength `f_c` (MPa); lengths mm, `l_load` length of the loading plate along the span."""
    bars = step("k_rho", 1.0 + np.sqrt(100.0 * rho_l), "-", "deep beams")
    plate = step("k_plate", 1.0 + 3.33 * l_load / d, "-", "deep beams")
    v = step("v_c", K * np.cbrt(f_c) ** 2 * bars * plate / (1.0 + (a / d) ** 2), "MPa", "deep beams")
    return step("V_c", v * b_w * d, "N", "deep beams")
