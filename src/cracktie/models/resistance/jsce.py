"""JSCE: V_c + V_s, and V_f of the sheets, on a 45 degree truss, at most the diagonal crushing of the web."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.concrete_shear.jsce_2007 import crushing
from cracktie.models.resistance import governing

_BOUND = "the bound by diagonal crushing is recalled with medium confidence"


@model(
    "resistance.jsce_2007",
    predicts="V_R",
    unit="N",
    source=Ref("JSCE_07", "9.2.2.2"),
    title="JSCE 2007, members without FRP",
    status=Status("doubtful", _BOUND),
    governs=governing.by_bound,
)
def v_r(
    *,
    V_c: Any,
    V_s: Any,
    f_c: Any,
    b_w: Any,
    d: Any,
    form: str,
    k_w: float = 1.25,
    f_w_max: float = 7.8,
    gamma_c: float = 1.3,
    gamma_b: float = 1.3,
    step: Step = no_step,
) -> Any:
    """V_R in N; `V_c`, `V_s` N with their factors inside, `f_c` MPa, `b_w`, `d` mm."""
    most = crushing(
        f_c=f_c,
        b_w=b_w,
        d=d,
        form=form,
        k_w=k_w,
        f_w_max=f_w_max,
        gamma_c=gamma_c,
        gamma_b=gamma_b,
        step=step,
    )
    return step("V_R", np.minimum(V_c + V_s, most), "N", "9.2.2.2")


@model(
    "resistance.jsce_2001",
    predicts="V_R",
    unit="N",
    source=Ref("JSCE_CES41", "shear capacity, sheets"),
    title="JSCE 2001 sheets on JSCE 2007, sum of concrete, stirrups and FRP",
    status=Status("doubtful", _BOUND + "; that it bounds the sum with sheets as well is our reading"),
    governs=governing.by_bound,
)
def with_sheets(
    *,
    V_c: Any,
    V_s: Any,
    V_f: Any,
    f_c: Any,
    b_w: Any,
    d: Any,
    form: str,
    k_w: float = 1.25,
    f_w_max: float = 7.8,
    gamma_c: float = 1.3,
    gamma_b: float = 1.3,
    step: Step = no_step,
) -> Any:
    """V_R in N; `V_c`, `V_s`, `V_f` N with their factors inside, `f_c` MPa, `b_w`, `d` mm."""
    most = crushing(
        f_c=f_c,
        b_w=b_w,
        d=d,
        form=form,
        k_w=k_w,
        f_w_max=f_w_max,
        gamma_c=gamma_c,
        gamma_b=gamma_b,
        step=step,
    )
    return step("V_R", np.minimum(V_c + V_s + V_f, most), "N", "shear capacity, sheets")
