"""AASHTO LRFD 5.7.2.1: the nominal resistance of the general procedure times its resistance factor."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.resistance import governing


@model(
    "resistance.aashto_2020",
    predicts="V_R",
    unit="N",
    source=Ref("AASHTO_LRFD_20", "5.7.2.1, 5.5.4.2"),
    title="AASHTO LRFD, members without FRP",
    status=Status("memory", "phi 0.90 for shear in normal-weight concrete recalled with high confidence"),
    governs=governing.total,
)
def v_r(*, V_cs: Any, form: str, phi: float = 0.90, step: Step = no_step) -> Any:
    """V_R in N from the nominal `V_cs`, concrete and stirrups at one strain (concrete alone without stirrups), N."""
    if form == "design":
        return step("V_R", phi * V_cs, "N", "5.7.2.1, 5.5.4.2")
    return step("V_R", 1.0 * V_cs, "N", "5.7.2.1, phi = 1")
