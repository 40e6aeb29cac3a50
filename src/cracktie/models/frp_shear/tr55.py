"""What the second and third edition of Technical Report 55 share: factors, bond length and the truss."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from cracktie.clause import Step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear.conditions import TRUSS

FREE_ENDS: Mapping[str, float] = {"side": 2.0, "u": 1.0, "full": 0.0}
"""n_s: how many ends of a strip are free."""

ANCHORED = (
    "Technical Report 55: no explicit rule for anchored U-wraps is recalled, so none is claimed and no value is given."
)
NO_RULE = "no rule of this document for anchored ends is known to us"


def factored(*, E_f: Any, eps_fu: Any, gamma_E: float, gamma_eps: float, gamma_m: float, step: Step) -> tuple[Any, Any]:
    """Design modulus in MPa and design strain."""
    E_fd = step("E_fd", E_f / (gamma_E * gamma_m), "MPa", "partial factors")
    return E_fd, step("eps_fu_d", eps_fu / (gamma_eps * gamma_m), "-", "partial factors")


def contribution(
    *, E_f: Any, eps_fu: Any, f_ct: Any, n: Any, t_f: Any, w_f: Any, s_f: Any, beta: Any, d_fv: Any, scheme: str,
    layout: str, c_debonding: float, c_length: float, eps_max: float, inclined: bool, step: Step,
) -> Any:  # fmt: skip
    """V_f in N from values that carry their factors already; `inclined`: the bond length is projected on the height.

    The document's fibre angle counts from the perpendicular to the axis; here only the angle to the axis exists, so
    its cosine is the sine of `beta` and the other way round. A modulus divided by its factor shortens the bond length:
    where that takes more than half of `d_fv`, the design value exceeds the one without factors.
    """
    stiffness = E_f * n * t_f
    eps_fe = np.minimum(eps_fu / 2.0, eps_max)
    height = d_fv
    if scheme != "full":
        debonding = step("eps_debonding", c_debonding * np.sqrt(f_ct / stiffness), "-", "debonding strain")
        eps_fe = np.minimum(eps_fe, debonding)
        l_t = step("l_t", c_length * np.sqrt(stiffness / f_ct), "mm", "anchorage length")
        lost = l_t * np.sin(np.radians(beta)) if inclined else l_t
        height = step("h_fe", np.maximum(d_fv - FREE_ENDS[scheme] / 3.0 * lost, 0.0), "mm", "shear resistance")
    eps_fe = step("eps_fe", eps_fe, "-", "shear resistance")
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    a_fv = step("a_fv", geometry.area_per_length(n=n, t_f=t_f, ratio=ratio), "mm2/mm", TRUSS)
    return step("V_f", E_f * eps_fe * a_fv * height * geometry.truss_factor_45(beta=beta), "N", "shear resistance")
