"""ACI 440.2R-17 section 10.1.1: strain at intermediate-crack debonding of soffit plies."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import inch, psi


@model(
    "flexure.aci440_2017",
    predicts="eps_fd",
    unit="-",
    source=Ref("ACI440_2R_17", "10.1.1"),
    title="ACI 440.2R-17, debonding strain of soffit plies",
    status=Status("memory", "coefficients recalled with high confidence; 0.41 is a rounded 0.418"),
)
def eps_fd(
    *,
    f_c: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    eps_fu: Any,
    C_E: Any,
    form: str,
    edition: str,
    k_d: float = 0.41,
    k_d_psi: float = 0.083,
    share: float = 0.9,
    step: Step = no_step,
) -> Any:
    """Debonding strain (ratio). MPa, mm; `C_E` counts in the design form only.

    Fitted to the average of measured strains, so the test form is the same expression. It covers plies without end
    anchors or U-wraps; anchored plies strain further.
    """
    most = step("eps_fu_d", C_E * eps_fu, "-", "9.4") if form == "design" else eps_fu
    if edition == "si":
        debonding = step("eps_ic", k_d * np.sqrt(f_c / (n * E_f * t_f)), "-", "10.1.1")
    else:
        stiffness = n * psi(step, "E_f", E_f) * inch(step, "t_f", t_f)
        debonding = step("eps_ic", k_d_psi * np.sqrt(psi(step, "f_c", f_c) / stiffness), "-", "10.1.1")
    return step("eps_fd", np.minimum(debonding, share * most), "-", "10.1.1")
