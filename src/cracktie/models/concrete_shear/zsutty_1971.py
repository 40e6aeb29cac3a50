"""Zsutty 1971: short beams loaded and supported by plates on opposite faces."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step


@model(
    "concrete_shear.zsutty_1971",
    predicts="V_c",
    unit="N",
    source=Ref("Zsutty_1971", "short beams, direct load"),
    title="Zsutty 1971, short beams under direct load",
    status=Status("doubtful", "factor 2.5 d/a recalled with medium confidence"),
    limits=(
        Limit("d", high=500.0, why="the data hold few deep beams and the formula no size effect"),
        Limit("a", low=200.0, why="the factor was not fitted to very short shear spans"),
    ),
    choices={"form": ("test",)},
)
def v_c(*, f_c: Any, b_w: Any, d: Any, rho_l: Any, a: Any, form: str, K: float = 2.174, step: Step = no_step) -> Any:
    """V in N from the mean strength `f_c` (MPa); lengths mm. From a = 2.5 d on it equals the slender formula.

    For loads on the top face and supports on the bottom face; beams loaded through side brackets have no such gain.
    Never to be combined with a strut model or another reduction of the load near the support.
    """
    v = step("v_c", K * np.cbrt(f_c * rho_l * d / a), "MPa", "slender beams")
    gain = step("k_short", np.maximum(2.5 * d / a, 1.0), "-", "short beams")
    return step("V_c", gain * v * b_w * d, "N", "short beams")
