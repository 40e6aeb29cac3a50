"""Lu, Teng, Ye and Jiang 2005: three bond-slip laws of one calibration, and the strength of a joint."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import COVERED, EQUAL_ENERGY, lu_width_factor

_HOW = "two independent recollections agree on every coefficient"


@model(
    "bond.lu_2005.bilinear",
    predicts="G_f",
    unit="N/mm",
    source=Ref("Lu_2005", "bilinear model"),
    title="Lu and others 2005, bilinear bond-slip law",
    status=Status("memory", _HOW),
    applies=(COVERED,),
)
def bilinear(
    *,
    f_ctm: Any,
    cover: Any,
    c_tau: float = 1.5,
    c_slip: float = 0.0195,
    c_G: float = 0.308,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm, with tau_max [MPa], slip_0, slip_f [mm] as steps. `f_ctm` MPa; `cover` bonded over concrete width.

    For adhesive layers of usual stiffness (G_a/t_a of 2.5 GPa/mm or more).
    """
    beta_w = lu_width_factor(step, cover)
    tau_max = step("tau_max", c_tau * beta_w * f_ctm, "MPa", "largest stress")
    step("slip_0", c_slip * beta_w * f_ctm, "mm", "slip at the largest stress")
    G_f = c_G * beta_w**2 * np.sqrt(f_ctm)
    step("slip_f", 2.0 * G_f / tau_max, "mm", "end slip")
    return step("G_f", G_f, "N/mm", "interfacial fracture energy")


@model(
    "bond.lu_2005.simplified",
    predicts="G_f",
    unit="N/mm",
    source=Ref("Lu_2005", "simplified model"),
    title="Lu and others 2005, simplified bond-slip law",
    status=Status("memory", _HOW),
    applies=(COVERED,),
)
def simplified(
    *,
    f_ctm: Any,
    cover: Any,
    c_tau: float = 1.5,
    c_slip: float = 0.0195,
    c_G: float = 0.308,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm; tau = tau_max sqrt(s/slip_0), then tau_max exp(-alpha_b (s/slip_0 - 1)). Inputs as `bilinear`."""
    beta_w = lu_width_factor(step, cover)
    tau_max = step("tau_max", c_tau * beta_w * f_ctm, "MPa", "largest stress")
    slip_0 = step("slip_0", c_slip * beta_w * f_ctm, "mm", "slip at the largest stress")
    G_f = c_G * beta_w**2 * np.sqrt(f_ctm)
    step("alpha_b", 1.0 / (G_f / (tau_max * slip_0) - 2.0 / 3.0), "-", "exponent of the falling part")
    step("slip_f", 2.0 * G_f / tau_max, "mm", EQUAL_ENERGY)
    return step("G_f", G_f, "N/mm", "interfacial fracture energy")


@model(
    "bond.lu_2005.precise",
    predicts="G_f",
    unit="N/mm",
    source=Ref("Lu_2005", "precise model"),
    title="Lu and others 2005, precise bond-slip law",
    status=Status("memory", _HOW + "; energy of the rise re-derived"),
    limits=(Limit("K_a", low=2500.0, why="the calibration holds for adhesive layers of usual stiffness"),),
    applies=(COVERED,),
)
def precise(
    *,
    f_ctm: Any,
    E_c: Any,
    K_a: Any,
    cover: Any,
    c_tau: float = 1.5,
    c_slip: float = 0.0195,
    c_G: float = 0.308,
    t_c: float = 5.0,
    nu_c: float = 0.2,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm; `K_a` = G_a/t_a in MPa/mm, `E_c` MPa, else as `bilinear`.

    Rise tau_max (sqrt(s/(slip_0 A_b) + B_b^2) - B_b), then as the simplified law with its own alpha_b. Ours: the shear
    modulus of concrete is E_c/(2 (1 + nu_c)).
    """
    beta_w = lu_width_factor(step, cover)
    tau_max = step("tau_max", c_tau * beta_w * f_ctm, "MPa", "largest stress")
    K_c = step("K_c", E_c / (2.0 * (1.0 + nu_c)) / t_c, "MPa/mm", "stiffness of the concrete layer")
    slip_e = step("slip_e", tau_max * (K_a + K_c) / (K_a * K_c), "mm", "elastic slip")
    slip_0 = step("slip_0", c_slip * beta_w * f_ctm + slip_e, "mm", "slip at the largest stress")
    A = step("A_b", (slip_0 - slip_e) / slip_0, "-", "rising part")
    B = step("B_b", slip_e / (2.0 * (slip_0 - slip_e)), "-", "rising part")
    G_f = c_G * beta_w**2 * np.sqrt(f_ctm)
    area = 2.0 / 3.0 * A * ((1.0 + B**2 * A) / A) ** 1.5 - B - 2.0 / 3.0 * A * B**3
    G_rise = step("G_rise", tau_max * slip_0 * area, "N/mm", "energy of the rising part")
    step("alpha_b", tau_max * slip_0 / (G_f - G_rise), "-", "exponent of the falling part")
    step("slip_f", 2.0 * G_f / tau_max, "mm", EQUAL_ENERGY)
    return step("G_f", G_f, "N/mm", "interfacial fracture energy")


@model(
    "bond.lu_2005.strength",
    predicts="P_u",
    unit="N",
    source=Ref("Lu_2005", "bond strength model"),
    title="Lu and others 2005, strength of a bonded joint",
    status=Status("memory", _HOW + "; the length for 99 % of the load of a long joint re-derived"),
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
    c_tau: float = 1.5,
    c_slip: float = 0.0195,
    c_G: float = 0.308,
    share: float = 0.99,
    step: Step = no_step,
) -> Any:
    """P_u in N of a strip of width `w_f` bonded over `L_b` mm; else as `bilinear`."""
    beta_w = lu_width_factor(step, cover)
    tau_max = step("tau_max", c_tau * beta_w * f_ctm, "MPa", "largest stress")
    slip_0 = step("slip_0", c_slip * beta_w * f_ctm, "mm", "slip at the largest stress")
    G_f = step("G_f", c_G * beta_w**2 * np.sqrt(f_ctm), "N/mm", "interfacial fracture energy")
    slip_f = step("slip_f", 2.0 * G_f / tau_max, "mm", "end slip")
    stiffness = n * t_f * E_f
    where = "effective bond length"
    rise = step("lambda_rise", np.sqrt(tau_max / (slip_0 * stiffness)), "1/mm", where)
    soften = step("lambda_soften", np.sqrt(tau_max / ((slip_f - slip_0) * stiffness)), "1/mm", where)
    a = step("a_soft", np.arcsin(share * np.sqrt((slip_f - slip_0) / slip_f)) / soften, "mm", where)
    tangent = soften * np.tan(soften * a)
    L_e = step("L_e", a + np.log((rise + tangent) / (rise - tangent)) / (2.0 * rise), "mm", where)
    short = step("lambda_1", np.minimum(L_b / L_e, 1.0), "-", "bond length factor")
    beta_L = step("beta_L", short * (2.0 - short), "-", "bond length factor")
    return step("P_u", beta_L * w_f * np.sqrt(2.0 * stiffness * G_f), "N", "bond strength")
