"""Zsutty 1968: regression of the shear strength of slender beams without stirrups."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit, Ref, Status, Step, model, no_step

K_PUBLISHED = {"59 psi": 2.137, "60 psi": 2.174, "63.4 psi": 2.297}
"""Values of `K` in circulation: 59 for diagonal cracking, 60 as usually quoted, 63.4 for ultimate load (from memory;
which of 59 and 63.4 stands for which load was not compared with the paper). Multiply psi^(2/3) by 0.006895^(2/3)."""


@model(
    "concrete_shear.zsutty_1968",
    predicts="V_c",
    unit="N",
    source=Ref("Zsutty_1968", "slender beams"),
    title="Zsutty 1968, slender beams",
    status=Status("memory", "form recalled with high confidence; 59, 60 or 63.4 psi are quoted for K"),
    limits=(Limit("d", high=500.0, why="the data hold few deep beams and the formula no size effect"),),
    applies=(
        Applies(
            lambda x: np.asarray(x["a"]) >= 2.5 * np.asarray(x["d"]),
            "slender beam, shear span of at least 2.5 d",
            "scope",
        ),
    ),
    choices={"form": ("test",)},
)
def v_c(*, f_c: Any, b_w: Any, d: Any, rho_l: Any, a: Any, form: str, K: float = 2.174, step: Step = no_step) -> Any:
    """V in N from the mean strength `f_c` (MPa); lengths mm, `a` between plate centres. A fit, so no design form."""
    v = step("v_c", K * np.cbrt(f_c * rho_l * d / a), "MPa", "slender beams")
    return step("V_c", v * b_w * d, "N", "slender beams")
