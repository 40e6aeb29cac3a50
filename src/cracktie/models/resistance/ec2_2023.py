"""EN 1992-1-1:2023, 8.2.1: the larger of the member without shear reinforcement and the truss; never their sum."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.resistance import governing


@model(
    "resistance.ec2_2023",
    predicts="V_R",
    unit="N",
    source=Ref("EN1992_2023", "8.2.1"),
    title="EN 1992-1-1:2023, members without FRP",
    status=Status("derived", "as in the edition of 2004: where tau_Rd,c suffices no calculated stirrups are needed"),
    governs=governing.larger,
)
def v_r(*, V_c: Any, V_s: Any, form: str, step: Step = no_step) -> Any:
    """V_R in N from `V_c` (no shear reinforcement) and `V_s` (stirrups or struts), N; numbers or arrays of one shape.

    The partial factors sit in the two terms; `form` says which they hold.
    """
    return step("V_R", np.maximum(V_c, V_s), "N", "8.2.1, 8.2.3")
