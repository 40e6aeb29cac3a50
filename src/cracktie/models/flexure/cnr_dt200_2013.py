"""CNR-DT 200 R1/2013 section 4.1.4: stress at intermediate-crack debonding of soffit plies."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step


@model(
    "flexure.cnr_dt200_2013",
    predicts="f_fdd",
    unit="MPa",
    source=Ref("CNR_DT200_R1_13", "4.1.4"),
    title="CNR-DT 200 R1/2013, debonding stress of soffit plies",
    status=Status("doubtful", "recalled with medium confidence; no mean coefficient is known, so no test form"),
    choices={"form": ("design",)},
)
def f_fdd(
    *,
    f_cm: Any,
    f_ctm: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    b_f: Any,
    b_w: Any,
    FC: Any,
    form: str,
    k_q: float = 1.0,
    k_G2: float = 0.10,
    gamma_fd: float = 1.2,
    step: Step = no_step,
) -> Any:
    """Debonding stress in MPa. `f_cm`, `f_ctm` MPa, lengths mm; `b_f` ply width, `b_w` soffit width.

    `k_q` 1.0 under point loads, 1.25 under distributed load; `gamma_fd` 1.2 to 1.5 by the quality of installation.
    """
    ratio = step("b_f_b", np.maximum(b_f / b_w, 0.25), "-", "4.1.2")
    k_b = step("k_b", np.maximum(np.sqrt((2.0 - ratio) / (1.0 + ratio)), 1.0), "-", "4.1.2")
    energy = step("Gamma_F", k_b * k_G2 / FC * np.sqrt(f_cm * f_ctm), "N/mm", "4.1.4")
    return step("f_fdd", k_q / gamma_fd * np.sqrt(2.0 * E_f / (n * t_f) * energy), "MPa", "4.1.4")
