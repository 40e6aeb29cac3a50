"""Niwa, Yamada, Yokozawa and Okamura 1986: mean shear strength of slender beams without stirrups."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step


@model(
    "concrete_shear.niwa_1986",
    predicts="V_c",
    unit="N",
    source=Ref("Niwa_1986", "revised equation"),
    title="Niwa and others 1986, slender beams",
    status=Status("memory", "recalled with high confidence; equals the JSCE expression at a/d = 5.6"),
    applies=(
        Applies(
            lambda x: np.asarray(x["a"]) >= 2.5 * np.asarray(x["d"]),
            "slender beam, shear span of at least 2.5 d",
            "scope",
        ),
    ),
    choices={"form": ("test",)},
)
def v_c(*, f_c: Any, b_w: Any, d: Any, rho_l: Any, a: Any, form: str, K: float = 0.20, step: Step = no_step) -> Any:
    """V in N from the mean strength `f_c` (MPa); lengths mm, `a` between plate centres. A fit, so no design form."""
    size = step("beta_d", np.sqrt(np.sqrt(1000.0 / d)), "-", "revised equation")
    v = K * np.cbrt(100.0 * rho_l * f_c) * size * (0.75 + 1.4 * d / a)
    return step("V_c", step("v_c", v, "MPa", "revised equation") * b_w * d, "N", "revised equation")
