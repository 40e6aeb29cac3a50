"""ACI 440.2R with ACI 318: V_c + V_s + V_f with the common cap on V_s + V_f."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import inch, newton, psi
from cracktie.models.resistance import governing

_ROOT = "ACI 318-14 22.5.3.1, extended by us"


@model(
    "resistance.aci440",
    predicts="V_R",
    unit="N",
    source=Ref("ACI440_2R_17", "11.4"),
    title="ACI 440.2R-17, sum of concrete, stirrups and FRP",
    status=Status("memory", "factors and cap recalled with high confidence"),
    governs=governing.by_common_cap,
    revision=3,
)
def v_r(
    *,
    V_c: Any,
    V_s: Any,
    V_f: Any,
    f_c: Any,
    b_w: Any,
    d: Any,
    scheme: str,
    form: str,
    edition: str,
    phi: float = 0.75,
    psi_f_full: float = 0.95,
    psi_f_open: float = 0.85,
    k_max: float = 0.66,
    k_max_psi: float = 8.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    step: Step = no_step,
) -> Any:
    """V_R in N; `V_c`, `V_s`, `V_f` N, `f_c` MPa, `b_w`, `d` mm; numbers or arrays of one shape.

    The cap stands for web crushing and stays in the test form; phi and psi_f are 1 there. It binds V_s + V_f as the
    terms stand: psi_f acts on what the cap leaves of V_f. Its root is held at 8.3 MPa (100 psi) as in the stirrup term
    of ACI 318, our safe reading: 22.5.3.1 names the concrete term only (from memory).
    """
    if edition == "si":
        root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", _ROOT)
        most = step("V_sf_max", k_max * root * b_w * d, "N", "11.4.3")
    else:
        root = step("root_f_c_psi", np.minimum(np.sqrt(psi(step, "f_c", f_c)), root_max_psi), "psi", _ROOT)
        pounds = k_max_psi * root * inch(step, "b_w", b_w) * inch(step, "d", d)
        most = newton(step, "V_sf_max", step("V_sf_max_lbf", pounds, "lbf", "11.4.3"))
    capped = step("V_sf", np.minimum(V_s + V_f, most), "N", "11.4.3")
    if form != "design":
        return step("V_R", V_c + capped, "N", "11.4, phi = psi_f = 1")
    steel = np.minimum(V_s, most)
    reduced = (psi_f_full if scheme == "full" else psi_f_open) * (capped - steel)
    reduced = step("V_f_red", reduced, "N", "11.4, psi_f", "psi_f times what the cap leaves of V_f")
    return step("V_R", phi * (V_c + steel + reduced), "N", "11.4, eq. for phi V_n; ACI 318 21.2.1")
