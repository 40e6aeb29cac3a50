"""Nakaba, Kanakubo, Furuta and Yoshizawa 2001: bond-slip law of the Popovics form."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import EQUAL_ENERGY


@model(
    "bond.nakaba_2001",
    predicts="G_f",
    unit="N/mm",
    source=Ref("Nakaba_2001", "bond-slip law"),
    title="Nakaba and others 2001, bond-slip law",
    status=Status("memory", "two independent recollections agree; the area under the law is our integral"),
)
def nakaba(
    *,
    f_c: Any,
    c_tau: float = 3.5,
    p_tau: float = 0.19,
    slip_peak: float = 0.065,
    n_law: float = 3.0,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm; tau = tau_max z n/(n - 1 + z^n), z = s/slip_0, n = `n_law`. `f_c` MPa. No width factor."""
    tau_max = step("tau_max", c_tau * f_c**p_tau, "MPa", "largest stress")
    slip_0 = step("slip_0", slip_peak, "mm", "slip at the largest stress")
    turn = np.sin(2.0 * np.pi / n_law)
    area = np.pi * (n_law - 1.0) ** (2.0 / n_law - 1.0) / turn
    G_f = tau_max * slip_0 * area
    step("slip_f", 2.0 * G_f / tau_max, "mm", EQUAL_ENERGY)
    return step("G_f", G_f, "N/mm", "area under the whole law")
