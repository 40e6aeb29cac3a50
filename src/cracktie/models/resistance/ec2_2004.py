"""EN 1992-1-1:2004, 6.2.1: the larger of V_Rd,c and the truss; the concrete term is never added."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.resistance import governing


@model(
    "resistance.ec2_2004",
    predicts="V_R",
    unit="N",
    source=Ref("EN1992_2004", "6.2.1"),
    title="EN 1992-1-1:2004, members without FRP",
    status=Status("derived", "the rule of 6.2.1(3): below V_Rd,c no calculated stirrups are needed"),
    governs=governing.larger,
)
def v_r(*, V_c: Any, V_s: Any, form: str, step: Step = no_step) -> Any:
    """V_R in N from `V_c` = V_Rd,c and `V_s` = min(V_Rd,s, V_Rd,max), N; numbers or arrays of one shape.

    The partial factors sit in the two terms; `form` says which they hold.
    """
    return step("V_R", np.maximum(V_c, V_s), "N", "6.2.1(3), 6.2.3")
