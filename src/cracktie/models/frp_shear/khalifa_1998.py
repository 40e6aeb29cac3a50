"""Khalifa and others 1998: effective stress as a share of the FRP strength."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.frp_shear import governing, khalifa
from cracktie.models.frp_shear.conditions import APART, CROSSES, DEEP, USUAL_ANGLES


@model(
    "frp_shear.khalifa_1998",
    predicts="V_f",
    unit="N",
    source=Ref("Khalifa1998", "effective stress"),
    title="Khalifa and others 1998, FRP term",
    status=Status(
        "memory",
        "two independent recollections agree; 0.0042 re-derived from a strain gradient of 110.2e-6/mm, "
        "L_e = exp(6.134 - 0.58 ln(t E)) and a reference strength of 42 MPa",
    ),
    limits=(USUAL_ANGLES,),
    applies=(CROSSES, APART, DEEP, khalifa.WITHIN_FIT, khalifa.NO_SIDE_ANCHORS, khalifa.TEST_ONLY),
    anchored=khalifa.ANCHORED,
    adds_concrete=True,
    governs=governing.by_ratio,
)
def v_f(
    *,
    f_c: Any,
    n: Any,
    t_f: Any,
    w_f: Any,
    s_f: Any,
    beta: Any,
    E_f: Any,
    f_fu: Any,
    eps_fu: Any,
    b_w: Any,
    d_fv: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    q_2: float = 0.5622,
    q_1: float = 1.2188,
    q_0: float = 0.778,
    R_max: float = 0.50,
    eps_lock: float = 0.006,
    c_bond: float = 0.0042,
    step: Step = no_step,
) -> Any:
    """V_f in N: the least of rupture, aggregate interlock and, for free ends, bond. MPa, mm, deg, arrays of one shape.

    `E_f` is turned into GPa inside. Side bonding shallower than two bond lengths gives V_f = 0.
    """
    ratio, rho_E = khalifa.ratio_and_stiffness(
        n=n, t_f=t_f, w_f=w_f, s_f=s_f, beta=beta, E_f=E_f, b_w=b_w, layout=layout, step=step
    )
    R = khalifa.rupture(rho_E=rho_E, eps_fu=eps_fu, q=(q_2, q_1, q_0), R_max=R_max, eps_lock=eps_lock, step=step)
    if scheme == "side" or (scheme == "u" and not anchored):
        ends = 1.0 if scheme == "u" else 2.0
        R_bond = khalifa.bond_1998(
            f_c=f_c, t=n * t_f, E_f=E_f, eps_fu=eps_fu, d_fv=d_fv, ends=ends, c=c_bond, step=step
        )
        R = step("R_f", np.minimum(R, R_bond), "-", "least ratio")
    return khalifa.force(R=R, n=n, t_f=t_f, ratio=ratio, beta=beta, f_fu=f_fu, d_fv=d_fv, step=step)
