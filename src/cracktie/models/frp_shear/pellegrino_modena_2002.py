"""Pellegrino and Modena 2002, 2006: the bond ratio of Khalifa reduced by the stiffness of the stirrups."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing, khalifa
from cracktie.models.frp_shear.conditions import (
    APART,
    CROSSES,
    DEEP,
    USUAL_ANGLES,
    not_anchored,
    only,
    only_test,
)
from cracktie.models.frp_shear.khalifa_nanni_2000 import WITHIN_BOND_TESTS

_HOW = (
    "two recollections agree on the reduction R*, not on whether it multiplies the bond ratio of 1998 or of 2000: both "
    "are offered"
)
_STATUS = (
    Status("doubtful", _HOW, {"scheme": "side"}),
    Status("doubtful", _HOW + "; the use for U-wraps (2006) is recalled with medium confidence", {"scheme": "u"}),
    Status("doubtful", _HOW, {"scheme": "full"}),
)
_ANCHORED = "Pellegrino and Modena: a bond model that says nothing of anchored ends; no value is given."
_APPLIES = (
    CROSSES,
    APART,
    DEEP,
    khalifa.WITHIN_FIT,
    only(("side", "u"), "a bond model: closed wraps do not debond", "scope"),
    not_anchored("a bond model that says nothing of anchored ends", "scope"),
    only_test("the papers give no design factors known to us", "scope"),
)


def _reduction(
    *, A_sw: Any, s_w: Any, E_s: Any, n: Any, t_f: Any, ratio: Any, E_f: Any, slope: float, origin: float, step: Step
) -> Any:
    a_fv = geometry.area_per_length(n=n, t_f=t_f, ratio=ratio)
    rho = step("rho_sf", E_s * A_sw / s_w / (E_f * a_fv), "-", "stiffness ratio")
    R = origin - slope * np.log(np.maximum(rho, 1e-6))
    return step("R_star", np.minimum(np.maximum(R, 0.0), 1.0), "-", "reduction by stirrups")


@model(
    "frp_shear.pellegrino_modena_2002",
    predicts="V_f",
    unit="N",
    source=Ref("PellegrinoModena2002", "bond ratio; U-wraps: PellegrinoModena2006"),
    title="Pellegrino and Modena 2002 on Khalifa 1998, FRP term",
    status=_STATUS,
    limits=(USUAL_ANGLES,),
    applies=_APPLIES,
    anchored=_ANCHORED,
    adds_concrete=True,
    governs=governing.by_ratio,
)
def on_1998(
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
    A_sw: Any,
    s_w: Any,
    E_s: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    slope: float = 0.53,
    origin: float = 0.29,
    q_2: float = 0.5622,
    q_1: float = 1.2188,
    q_0: float = 0.778,
    R_max: float = 0.50,
    eps_lock: float = 0.006,
    c_bond: float = 0.0042,
    step: Step = no_step,
) -> Any:
    """V_f in N, R* on the bond ratio of Khalifa 1998. MPa, mm, deg, arrays of one shape; `A_sw` = 0 without stirrups.

    R* falls to 0, and V_f with it, where the stirrups are 1.73 times as stiff as the FRP; without stirrups R* = 1.
    """
    ratio, rho_E = khalifa.ratio_and_stiffness(
        n=n, t_f=t_f, w_f=w_f, s_f=s_f, beta=beta, E_f=E_f, b_w=b_w, layout=layout, step=step
    )
    R = khalifa.rupture(rho_E=rho_E, eps_fu=eps_fu, q=(q_2, q_1, q_0), R_max=R_max, eps_lock=eps_lock, step=step)
    ends = 1.0 if scheme == "u" else 2.0
    R_bond = khalifa.bond_1998(f_c=f_c, t=n * t_f, E_f=E_f, eps_fu=eps_fu, d_fv=d_fv, ends=ends, c=c_bond, step=step)
    R_star = _reduction(
        A_sw=A_sw, s_w=s_w, E_s=E_s, n=n, t_f=t_f, ratio=ratio, E_f=E_f, slope=slope, origin=origin, step=step
    )
    R = step("R_f", np.minimum(R, R_star * R_bond), "-", "least ratio")
    return khalifa.force(R=R, n=n, t_f=t_f, ratio=ratio, beta=beta, f_fu=f_fu, d_fv=d_fv, step=step)


@model(
    "frp_shear.pellegrino_modena_2002.kn2000",
    predicts="V_f",
    unit="N",
    source=Ref("PellegrinoModena2002", "bond ratio; U-wraps: PellegrinoModena2006"),
    title="Pellegrino and Modena 2002 on Khalifa and Nanni 2000, FRP term",
    status=_STATUS,
    limits=(USUAL_ANGLES,),
    applies=(*_APPLIES, WITHIN_BOND_TESTS),
    anchored=_ANCHORED,
    adds_concrete=True,
    governs=governing.by_ratio,
)
def on_2000(
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
    A_sw: Any,
    s_w: Any,
    E_s: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    slope: float = 0.53,
    origin: float = 0.29,
    q_2: float = 0.5622,
    q_1: float = 1.2188,
    q_0: float = 0.778,
    R_max: float = 0.50,
    eps_lock: float = 0.006,
    c_0: float = 738.93,
    c_1: float = 4.06,
    L_e: float = 75.0,
    step: Step = no_step,
) -> Any:
    """V_f in N, R* on the bond ratio of Khalifa and Nanni 2000; else as the variant on Khalifa 1998."""
    ratio, rho_E = khalifa.ratio_and_stiffness(
        n=n, t_f=t_f, w_f=w_f, s_f=s_f, beta=beta, E_f=E_f, b_w=b_w, layout=layout, step=step
    )
    R = khalifa.rupture(rho_E=rho_E, eps_fu=eps_fu, q=(q_2, q_1, q_0), R_max=R_max, eps_lock=eps_lock, step=step)
    ends = 1.0 if scheme == "u" else 2.0
    R_bond = khalifa.bond_2000(
        f_c=f_c, t=n * t_f, E_f=E_f, eps_fu=eps_fu, d_fv=d_fv, ends=ends, c=(c_0, c_1, L_e), step=step
    )
    R_star = _reduction(
        A_sw=A_sw, s_w=s_w, E_s=E_s, n=n, t_f=t_f, ratio=ratio, E_f=E_f, slope=slope, origin=origin, step=step
    )
    R = step("R_f", np.minimum(R, R_star * R_bond), "-", "least ratio")
    return khalifa.force(R=R, n=n, t_f=t_f, ratio=ratio, beta=beta, f_fu=f_fu, d_fv=d_fv, step=step)
