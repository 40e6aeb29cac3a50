"""fib Model Code 2010, 7.3.3: level II as the larger of two branches, level III as one expression."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.resistance import governing


@model(
    "resistance.mc2010.level2",
    predicts="V_R",
    unit="N",
    source=Ref("MC2010", "7.3.3.1, 7.3.3.3"),
    title="Model Code 2010, level II, members without FRP",
    status=Status("derived", "level II gives stirrups no concrete share; a beam keeps what it has without them"),
    governs=governing.larger,
)
def level2(*, V_c: Any, V_s: Any, form: str, step: Step = no_step) -> Any:
    """V_R in N from `V_c` (no stirrups, level II) and `V_s` (stirrups or struts, level II), N. Factors in the terms."""
    return step("V_R", np.maximum(V_c, V_s), "N", "7.3.3.1")


@model(
    "resistance.mc2010.level3",
    predicts="V_R",
    unit="N",
    source=Ref("MC2010", "7.3.3.3"),
    title="Model Code 2010, level III, members without FRP",
    status=Status("derived", "the level III expression holds both shares"),
    governs=governing.total,
)
def level3(*, V_cs: Any, form: str, step: Step = no_step) -> Any:
    """V_R in N from `V_cs`, stirrups and concrete in one expression, N. The partial factors are inside."""
    return step("V_R", 1.0 * V_cs, "N", "7.3.3.3, factors in the shares")
