"""ACI 318-19 chapter 17: concrete breakout and bond of post-installed adhesive anchors, by analogy.

The chapter does not cover FRP anchors: using it for them is our analogy. Strengths are 5 % fractiles without the
reduction factor phi. All values are for ONE anchor of a row.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.models import inch_pound as us
from cracktie.models.anchor import factors
from cracktie.models.anchor.hosts import BLIND_END, HOSTS, YES_NO

_ANALOGY = "; the chapter does not cover FRP anchors, the analogy is ours"
_MEMORY = Status("memory", "coefficients recalled with high confidence" + _ANALOGY)
_READ = (
    "k_c 17 read in a public design guide to the chapter (July 2022 edition, page 73); N_b = 18 313 lb for k_c 21, "
    "A_Nc0 = 297.56 in2 and psi_ed = 0.978 of its worked example (October 2025 edition, page 86) are reproduced"
)
_CHOICES = {"host": HOSTS, "cracked": YES_NO, "splitting_steel": YES_NO}


@model(
    "anchor.aci318_2019.breakout",
    predicts="N_cb",
    unit="N",
    source=Ref("ACI318_19", "17.6.2"),
    title="ACI 318-19, concrete breakout of a post-installed anchor, by analogy",
    status=(_MEMORY, Status("checked", _READ + _ANALOGY, {"edition": "inch-pound", "cracked": True})),
    applies=(BLIND_END,),
    choices=_CHOICES,
)
def breakout(
    *,
    h_ef: Any,
    f_c: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    host: str,
    cracked: bool,
    splitting_steel: bool,
    edition: str,
    k_c: float = 7.0,
    k_c_psi: float = 17.0,
    f_c_max: float = 55.0,
    f_c_max_psi: float = 8000.0,
    psi_uncracked: float = 1.4,
    lambda_a: float = 1.0,
    ac: float = 2.0,
    step: Step = no_step,
) -> Any:
    """N_cb in N of one anchor of a row. mm, MPa; `f_c` specified cylinder strength, `h_ef` normal to the face.

    `splitting_steel`: reinforcement that controls splitting (psi_cp = 1). `lambda_a` below 1 for lightweight concrete.
    """
    radius = step("c_cr", 1.5 * h_ef, "mm", "17.6.2.1.1")
    share = factors.share_of_row(step, "A_Nc", radius=radius, c_edge=c_edge, s_a=s_a, n_a=n_a, where="17.6.2.1")
    psi_ed = step("psi_ed", factors.edge(c_edge=c_edge, radius=radius), "-", "17.6.2.4")
    psi_c = step("psi_c", 1.0 if cracked else psi_uncracked, "-", "17.6.2.5")
    psi_cp = step(
        "psi_cp",
        factors.splitting(
            c_edge=c_edge, radius=radius, h_ef=h_ef, ac=ac, cracked=cracked, splitting_steel=splitting_steel
        ),
        "-",
        "17.6.2.6",
    )
    if edition == "si":
        f = step("f_c_lim", np.minimum(f_c, f_c_max), "MPa", "17.3.1")
        N_b = step("N_b", k_c * lambda_a * np.sqrt(f) * h_ef**1.5, "N", "17.6.2.2.1")
    else:
        f_psi = step("f_c_lim_psi", np.minimum(us.psi(step, "f_c", f_c), f_c_max_psi), "psi", "17.3.1")
        h_in = us.inch(step, "h_ef", h_ef)
        N_lbf = step("N_b_lbf", k_c_psi * lambda_a * np.sqrt(f_psi) * h_in**1.5, "lbf", "17.6.2.2.1")
        N_b = us.newton(step, "N_b", N_lbf)
    return step("N_cb", share * psi_ed * psi_c * psi_cp * N_b, "N", "17.6.2.1")


@model(
    "anchor.aci318_2019.bond",
    predicts="N_a",
    unit="N",
    source=Ref("ACI318_19", "17.6.5"),
    title="ACI 318-19, bond of a post-installed adhesive anchor, by analogy",
    status=_MEMORY,
    applies=(
        BLIND_END,
        Applies(
            lambda i: (
                (np.asarray(i["h_ef"]) >= 4.0 * np.asarray(i["d_a"]))
                & (np.asarray(i["h_ef"]) <= 20.0 * np.asarray(i["d_a"]))
            ),
            "embedment of 4 to 20 dowel diameters",
            "17.3.3",
        ),
    ),
    choices=_CHOICES,
)
def bond(
    *,
    h_ef: Any,
    d_a: Any,
    tau_cr: Any,
    tau_uncr: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    host: str,
    cracked: bool,
    splitting_steel: bool,
    edition: str,
    tau_ref: float = 7.6,
    tau_ref_psi: float = 1100.0,
    lambda_a: float = 1.0,
    ac: float = 2.0,
    step: Step = no_step,
) -> Any:
    """N_a in N of one anchor of a row. mm, MPa; bond strengths on the DOWEL `d_a`, 5 % fractiles by ACI 355.4.

    `tau_uncr` also sets the distance c_Na over which neighbours and edges count. Without product data the chapter has
    1.4 (cracked) and 4.5 MPa (uncracked) outdoors, 2.1 and 6.9 MPa in dry rooms, times 0.4 under sustained tension
    (Table 17.6.5.2.5, from memory).
    """
    if edition == "si":
        ratio = tau_uncr / tau_ref
    else:
        ratio = us.psi(step, "tau_uncr", tau_uncr) / tau_ref_psi
    radius = step("c_Na", 10.0 * d_a * np.sqrt(ratio), "mm", "17.6.5.1.2")
    share = factors.share_of_row(step, "A_Na", radius=radius, c_edge=c_edge, s_a=s_a, n_a=n_a, where="17.6.5.1")
    psi_ed = step("psi_ed", factors.edge(c_edge=c_edge, radius=radius), "-", "17.6.5.4")
    psi_cp = step(
        "psi_cp",
        factors.splitting(
            c_edge=c_edge, radius=radius, h_ef=h_ef, ac=ac, cracked=cracked, splitting_steel=splitting_steel
        ),
        "-",
        "17.6.5.5",
    )
    N_ba = step("N_ba", lambda_a * (tau_cr if cracked else tau_uncr) * np.pi * d_a * h_ef, "N", "17.6.5.2.1")
    return step("N_a", share * psi_ed * psi_cp * N_ba, "N", "17.6.5.1")
