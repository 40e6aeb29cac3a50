"""Neubauer and Rostasy 1997: bond-slip law that rises in a straight line and breaks off, and strength of a joint."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import COVERED

_HOW = (
    "recalled with medium to high confidence; the area of the law gives 6 % less load than the strength formula "
    "(0.603 against 0.64), so that one does not follow from the other"
)


def _width_factor(step: Step, cover: Any, w_f: Any) -> Any:
    return step("beta_w", np.sqrt(1.125 * (2.0 - cover) / (1.0 + w_f / 400.0)), "-", "width factor, w_f in mm")


@model(
    "bond.neubauer_rostasy_1997",
    predicts="G_f",
    unit="N/mm",
    source=Ref("NeubauerRostasy_1997", "bond-slip law"),
    title="Neubauer and Rostasy 1997, brittle bond-slip law",
    status=Status("doubtful", _HOW),
    applies=(COVERED,),
)
def law(
    *,
    f_ctm: Any,
    w_f: Any,
    cover: Any,
    c_tau: float = 1.8,
    c_slip: float = 0.202,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm; no softening: slip_f = slip_0. `f_ctm` MPa, `w_f` mm, `cover` bonded over concrete width."""
    beta_w = _width_factor(step, cover, w_f)
    tau_max = step("tau_max", c_tau * beta_w * f_ctm, "MPa", "largest stress")
    step("slip_0", c_slip * beta_w, "mm", "slip at the largest stress")
    slip_f = step("slip_f", c_slip * beta_w, "mm", "the bond breaks off at slip_0")
    return step("G_f", tau_max * slip_f / 2.0, "N/mm", "area under the law")


@model(
    "bond.neubauer_rostasy_1997.strength",
    predicts="P_u",
    unit="N",
    source=Ref("NeubauerRostasy_1997", "bond strength"),
    title="Neubauer and Rostasy 1997, strength of a bonded joint",
    status=Status("doubtful", _HOW),
    applies=(COVERED,),
)
def strength(
    *,
    f_ctm: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    w_f: Any,
    L_b: Any,
    cover: Any,
    c_P: float = 0.64,
    step: Step = no_step,
) -> Any:
    """P_u in N of a strip of width `w_f` bonded over `L_b` mm. `f_ctm`, `E_f` MPa, lengths mm."""
    beta_w = _width_factor(step, cover, w_f)
    L_e = step("L_e", np.sqrt(n * t_f * E_f / (2.0 * f_ctm)), "mm", "effective bond length")
    short = step("lambda_1", np.minimum(L_b / L_e, 1.0), "-", "bond length factor")
    beta_L = step("beta_L", short * (2.0 - short), "-", "bond length factor")
    return step("P_u", c_P * beta_w * beta_L * w_f * np.sqrt(n * t_f * E_f * f_ctm), "N", "bond strength")
