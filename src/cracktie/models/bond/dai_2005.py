"""Dai, Ueda and Sato 2005: bond-slip law from the stiffness of the adhesive layer."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import EQUAL_ENERGY


@model(
    "bond.dai_2005",
    predicts="G_f",
    unit="N/mm",
    source=Ref("Dai_2005", "bond-slip law"),
    title="Dai and others 2005, bond-slip law",
    status=Status(
        "doubtful",
        "coefficients recalled alike twice, with medium confidence; gives about twice the energy of the other laws",
    ),
)
def law(
    *,
    f_c: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    K_a: Any,
    c_G: float = 0.446,
    p_a: float = -0.352,
    p_c: float = 0.236,
    p_f: float = 0.023,
    c_B: float = 6.846,
    q_f: float = 0.108,
    q_a: float = 0.833,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm; tau = 2 B G_f (exp(-B s) - exp(-2 B s)). `f_c`, `E_f` MPa; `K_a` = G_a/t_a in MPa/mm.

    The document counts 3.7 mm of width more on each side of the strip in the load; no width factor.
    """
    K_GPa = step("K_a_GPa", K_a / 1000.0, "GPa/mm", text="unit of the document")
    tE = step("tE_f", n * t_f * E_f / 1000.0, "GPa mm", text="unit of the document")
    G_f = c_G * K_GPa**p_a * f_c**p_c * tE**p_f
    B = step("B_law", c_B * tE**q_f * K_GPa**q_a, "1/mm", "ductility index")
    tau_max = step("tau_max", B * G_f / 2.0, "MPa", "largest stress")
    step("slip_0", np.log(2.0) / B, "mm", "slip at the largest stress")
    step("slip_f", 2.0 * G_f / tau_max, "mm", EQUAL_ENERGY)
    return step("G_f", G_f, "N/mm", "interfacial fracture energy")
