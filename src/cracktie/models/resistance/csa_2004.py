"""CSA A23.3, 11.3.3: V_c + V_s of the general method, which one expression holds."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.resistance import governing


@model(
    "resistance.csa_2004",
    predicts="V_R",
    unit="N",
    source=Ref("CSA_A233_04", "11.3.3"),
    title="CSA A23.3-04, members without FRP",
    status=Status("memory", "V_r = V_c + V_s; the factors phi_c and phi_s sit in the shares"),
    governs=governing.total,
)
def v_r(*, V_cs: Any, form: str, step: Step = no_step) -> Any:
    """V_R in N from `V_cs`, concrete and stirrups at one strain (concrete alone without stirrups), N."""
    return step("V_R", 1.0 * V_cs, "N", "(11-4), factors in the shares")
