"""fib Bulletin 14 (2001): strength of a bonded joint (after Holzenkaempfer, Neubauer and Rostasy)."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import COVERED


@model(
    "bond.fib14_2001",
    predicts="P_u",
    unit="N",
    source=Ref("FIB14", "anchorage verification"),
    title="fib Bulletin 14, strength of a bonded joint",
    status=Status("memory", "two independent recollections agree on every coefficient"),
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
    alpha_crack: float = 0.9,
    c_1: float = 0.64,
    c_2: float = 2.0,
    k_c: float = 1.0,
    step: Step = no_step,
) -> Any:
    """P_u in N of a strip of width `w_f` bonded over `L_b` mm, without partial factor.

    `alpha_crack` 0.9 for beams, 1 elsewhere; `k_c` 0.67 for concrete faces that were not compacted against a form.
    """
    wide = np.maximum(cover, 0.33)
    k_b = np.maximum(1.06 * np.sqrt((2.0 - wide) / (1.0 + w_f / 400.0)), 1.0)
    k_b = step("k_b", k_b, "-", "width factor, w_f in mm")
    l_max = step("L_e", np.sqrt(n * t_f * E_f / (c_2 * f_ctm)), "mm", "largest anchorage length")
    short = step("lambda_1", np.minimum(L_b / l_max, 1.0), "-", "short bond lengths")
    beta_L = step("beta_L", short * (2.0 - short), "-", "short bond lengths")
    largest = alpha_crack * c_1 * k_c * k_b * w_f * np.sqrt(n * t_f * E_f * f_ctm)
    return step("P_u", beta_L * largest, "N", "largest anchored force")
