"""Chen and Teng 2001: strength of a bonded joint, and our bilinear law of the same strength and length."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import COVERED, chen_teng_width_factor

_HOW = "two independent recollections agree; 0.427, 0.315 and the bond length also met in public text"


@model(
    "bond.chen_teng_2001",
    predicts="P_u",
    unit="N",
    source=Ref("ChenTeng_2001", "bond strength model"),
    title="Chen and Teng 2001, strength of a bonded joint",
    status=Status("memory", _HOW),
    applies=(COVERED,),
)
def strength(
    *,
    f_c: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    w_f: Any,
    L_b: Any,
    cover: Any,
    form: str,
    c_mean: float = 0.427,
    c_char: float = 0.315,
    step: Step = no_step,
) -> Any:
    """P_u in N of a strip of width `w_f` bonded over `L_b` mm. `f_c`, `E_f` MPa; `cover` bonded over concrete width.

    Test form: mean coefficient 0.427; design form: 0.315 of the characteristic strength, without partial factor.
    """
    root = step("root_f_c", np.sqrt(f_c), "MPa", "bond length")
    L_e = step("L_e", np.sqrt(n * t_f * E_f / root), "mm", "effective bond length")
    beta_w = chen_teng_width_factor(step, cover)
    short = step("lambda_1", np.minimum(L_b / L_e, 1.0), "-", "bond length factor")
    beta_L = step("beta_L", np.sin(np.pi / 2.0 * short), "-", "bond length factor")
    c = c_char if form == "design" else c_mean
    return step("P_u", c * beta_w * beta_L * root * w_f * L_e, "N", "bond strength")


@model(
    "bond.own_chen_teng",
    predicts="G_f",
    unit="N/mm",
    source=Ref("ChenTeng_2001", "bond strength model, converted by us"),
    title="Bilinear bond-slip law equivalent to Chen and Teng 2001",
    status=Status(
        "own",
        "our conversion: a long joint carries the load, and the softening zone has the length, of Chen and Teng 2001; "
        "peak slip assumed",
    ),
    applies=(COVERED,),
)
def law(
    *,
    f_c: Any,
    cover: Any,
    form: str,
    c_mean: float = 0.427,
    c_char: float = 0.315,
    k_G: float = 1.0,
    k_tau: float = 1.0,
    slip_peak: float = 0.02,
    r_peak: float = 0.3,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm. `f_c` MPa; `cover` strip width over spacing across the fibres (1 for a continuous sheet).

    sqrt(2 G_f E t) = c beta_w sqrt(f_c) L_e gives G_f; a softening zone pi/2 sqrt(slip_f E t/tau_max) as long as
    L_e gives tau_max. `k_tau` below 1 lowers the stress and lengthens the zone at the same energy (bond on a cracked
    web). The slip at the peak is `slip_peak` mm, at most `r_peak` slip_f.
    """
    beta_w = chen_teng_width_factor(step, cover)
    c = c_char if form == "design" else c_mean
    G_f = k_G * c**2 / 2.0 * beta_w**2 * np.sqrt(f_c)
    tau_max = step("tau_max", k_tau * np.pi / 2.0 * c * beta_w * np.sqrt(f_c), "MPa", "effective bond length")
    slip_f = step("slip_f", 2.0 * G_f / tau_max, "mm", "area under the law")
    step("slip_0", np.minimum(slip_peak, r_peak * slip_f), "mm", "assumed")
    return step("G_f", G_f, "N/mm", "load of a long joint")
