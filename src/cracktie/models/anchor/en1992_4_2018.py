"""EN 1992-4:2018: concrete cone and combined pull-out and cone of bonded fasteners, by analogy.

The standard does not cover FRP anchors: using it for them is our analogy. Characteristic values without partial
factors, for ONE anchor of a row parallel to the nearest edge.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.anchor import factors
from cracktie.models.anchor.hosts import BLIND_END, HOSTS, YES_NO

_STATUS = Status(
    "doubtful",
    "structure recalled with high, numbers with medium to high confidence; the standard was not read and does not "
    "cover FRP anchors, the analogy is ours",
)
_CHOICES = {"host": HOSTS, "cracked": YES_NO, "dense_steel": YES_NO}


def _shell(step: Step, h_ef: Any, dense_steel: bool, where: str) -> Any:
    value = np.minimum(0.5 + h_ef / 200.0, 1.0) if dense_steel else 1.0
    return step("psi_re", value, "-", where)


@model(
    "anchor.en1992_4_2018.cone",
    predicts="N_Rk_c",
    unit="N",
    source=Ref("EN1992_4_2018", "7.2.1.4"),
    title="After EN 1992-4:2018, concrete cone, by analogy, not compared with the standard",
    status=_STATUS,
    applies=(BLIND_END,),
    choices=_CHOICES,
)
def cone(
    *,
    h_ef: Any,
    f_c: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    host: str,
    cracked: bool,
    dense_steel: bool,
    k_cracked: float = 7.7,
    k_uncracked: float = 11.0,
    step: Step = no_step,
) -> Any:
    """N_Rk_c in N. mm, MPa; `f_c` characteristic cylinder strength. `dense_steel`: bars closer than 150 mm."""
    where = "7.2.1.4"
    k_1 = k_cracked if cracked else k_uncracked
    N_0 = step("N_Rk_c0", k_1 * np.sqrt(f_c) * h_ef**1.5, "N", where)
    radius = step("c_cr", 1.5 * h_ef, "mm", where)
    share = factors.share_of_row(step, "A_Nc", radius=radius, c_edge=c_edge, s_a=s_a, n_a=n_a, where=where)
    psi_s = step("psi_s", factors.edge(c_edge=c_edge, radius=radius), "-", where)
    return step("N_Rk_c", N_0 * share * psi_s * _shell(step, h_ef, dense_steel, where), "N", where)


@model(
    "anchor.en1992_4_2018.pullout",
    predicts="N_Rk_p",
    unit="N",
    source=Ref("EN1992_4_2018", "7.2.1.6"),
    title="After EN 1992-4:2018, combined pull-out and cone, by analogy, not compared with the standard",
    status=_STATUS,
    applies=(BLIND_END,),
    choices=_CHOICES,
)
def pullout(
    *,
    h_ef: Any,
    d_a: Any,
    tau_Rk: Any,
    tau_Rk_20: Any,
    f_c: Any,
    alpha_sus: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    host: str,
    cracked: bool,
    dense_steel: bool,
    psi_sus0: float = 0.6,
    k_cracked: float = 7.7,
    k_uncracked: float = 11.0,
    k_scr: float = 7.3,
    step: Step = no_step,
) -> Any:
    """N_Rk_p in N. mm, MPa; `f_c` characteristic cylinder strength, bond strengths on the dowel `d_a`.

    Two bond strengths: `tau_Rk` of the concrete and its state as they are, `tau_Rk_20` of uncracked C20/25, which sets
    the critical spacing. `alpha_sus` sustained over total action; psi_sus is 1 up to psi_sus0.
    """
    where = "7.2.1.6"
    psi_sus = step("psi_sus", np.where(alpha_sus <= psi_sus0, 1.0, psi_sus0 + 1.0 - alpha_sus), "-", where)
    N_0 = step("N_Rk_p0", psi_sus * tau_Rk * np.pi * d_a * h_ef, "N", where)
    s_cr = step("s_cr_Np", np.minimum(k_scr * d_a * np.sqrt(psi_sus * tau_Rk_20), 3.0 * h_ef), "mm", where)
    radius = step("c_cr_Np", s_cr / 2.0, "mm", where)
    share = factors.share_of_row(step, "A_Np", radius=radius, c_edge=c_edge, s_a=s_a, n_a=n_a, where=where)
    k_3 = k_cracked if cracked else k_uncracked
    tau_c = step("tau_Rk_c", k_3 / (np.pi * d_a) * np.sqrt(h_ef * f_c), "MPa", where)
    root = step("root_n", np.sqrt(n_a), "-", where)
    psi_g0 = step("psi_g0", np.maximum(root - (root - 1.0) * (tau_Rk / tau_c) ** 1.5, 1.0), "-", where)
    near = np.sqrt(np.minimum(s_a / s_cr, 1.0))
    psi_g = step("psi_g", np.maximum(psi_g0 - near * (psi_g0 - 1.0), 1.0), "-", where)
    psi_s = step("psi_s", factors.edge(c_edge=c_edge, radius=radius), "-", where)
    return step("N_Rk_p", N_0 * share * psi_g * psi_s * _shell(step, h_ef, dense_steel, where), "N", where)
