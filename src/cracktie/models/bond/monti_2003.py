"""Monti, Renzelli and Luciani 2003: bilinear bond-slip law with the stiffness of adhesive and concrete cover."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import COVERED


def _slips(inputs: Any, step: Step) -> tuple[Any, Any, Any]:
    """tau_max, slip_0 and slip_f from the inputs and coefficients of the model."""
    wide = (2.0 - inputs["cover"]) / (1.0 + inputs["w_f"] / 100.0)
    beta_w = step("beta_w", np.sqrt(1.5 * wide), "-", "width factor, w_f in mm")
    tau_max = step("tau_max", inputs.get("c_tau", 1.8) * beta_w * inputs["f_ctm"], "MPa", "largest stress")
    soft = inputs["t_a"] / inputs["E_a"] + inputs.get("t_c", 50.0) / inputs["E_c"]
    slip_0 = step("slip_0", inputs.get("c_slip", 2.5) * tau_max * soft, "mm", "slip at the largest stress")
    slip_f = step("slip_f", inputs.get("c_end", 0.33) * beta_w, "mm", "end slip")
    return tau_max, slip_0, slip_f


def _softens(inputs: Any) -> Any:
    _, slip_0, slip_f = _slips(inputs, no_step)
    return slip_f > slip_0


@model(
    "bond.monti_2003",
    predicts="G_f",
    unit="N/mm",
    source=Ref("Monti_2003", "bond-slip law"),
    title="Monti and others 2003, bilinear bond-slip law",
    status=Status("doubtful", "recalled with medium to high confidence; two recollections agree"),
    applies=(
        COVERED,
        Applies(_softens, "the end slip must lie beyond the slip at the largest stress: thinner or stiffer adhesive"),
    ),
)
def law(
    *,
    f_ctm: Any,
    E_c: Any,
    t_a: Any,
    E_a: Any,
    w_f: Any,
    cover: Any,
    c_tau: float = 1.8,
    c_slip: float = 2.5,
    c_end: float = 0.33,
    t_c: float = 50.0,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm. `f_ctm`, `E_c`, `E_a` MPa; `t_a` adhesive thickness and `w_f` mm; `cover` bonded over width."""
    inputs = {
        "f_ctm": f_ctm, "E_c": E_c, "t_a": t_a, "E_a": E_a, "w_f": w_f, "cover": cover,
        "c_tau": c_tau, "c_slip": c_slip, "c_end": c_end, "t_c": t_c,
    }  # fmt: skip
    tau_max, _, slip_f = _slips(inputs, step)
    return step("G_f", tau_max * slip_f / 2.0, "N/mm", "area under the law")
