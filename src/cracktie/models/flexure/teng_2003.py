"""Teng, Smith, Yao and Chen 2003: stress at intermediate-crack debonding of soffit plies."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step


@model(
    "flexure.teng_2003",
    predicts="f_fdd",
    unit="MPa",
    source=Ref("Teng_2003", "intermediate crack-induced debonding"),
    title="Teng and others 2003, debonding stress of soffit plies",
    status=Status("doubtful", "factors 1.1 (mean) and 0.48 (design, beams) recalled with medium confidence"),
)
def f_fdd(
    *,
    f_c: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    b_f: Any,
    b_w: Any,
    form: str,
    alpha_mean: float = 1.1,
    alpha_design: float = 0.48,
    step: Step = no_step,
) -> Any:
    """Debonding stress in MPa. MPa, mm; `b_f` ply width, `b_w` soffit width."""
    where = "strength model"
    ratio = step("b_f_b", b_f / b_w, "-", where)
    beta_p = step("beta_w", np.sqrt((2.0 - ratio) / (1.0 + ratio)), "-", where)
    alpha = alpha_design if form == "design" else alpha_mean
    return step("f_fdd", alpha * beta_p * np.sqrt(E_f * np.sqrt(f_c) / (n * t_f)), "MPa", where)
