"""CAN/CSA-S6-06 chapter 16: FRP term with the free crack angle of the sectional method."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import aci440, governing
from cracktie.models.frp_shear.aci440 import Constants, Places
from cracktie.models.frp_shear.conditions import APART, CROSSES, DEEP, TRUSS, USUAL_ANGLES, not_anchored

_AT = Places(
    area="chapter 16, shear",
    force="chapter 16, shear",
    stress="chapter 16, shear",
    environment="chapter 16",
    closed="chapter 16, closed wraps",
    open="chapter 16, open wraps",
    k_v="chapter 16, bond",
    L_e="chapter 16, bond",
    k_1="chapter 16, bond",
    k_2="chapter 16, bond",
)


@model(
    "frp_shear.csa_s6_2006",
    predicts="V_f",
    unit="N",
    source=Ref("CSA_S6_06", "chapter 16"),
    title="CAN/CSA-S6-06, FRP term",
    status=Status(
        "doubtful",
        "recalled with medium to high confidence: the bond law is that of ACI 440.2R in metric units; phi_FRP is not "
        "part of V_f because its values are not known to us; the factor 2 on L_e of side bonding is taken from ACI",
    ),
    limits=(USUAL_ANGLES,),
    applies=(CROSSES, APART, DEEP, not_anchored("no rule of this document for anchored ends is known to us")),
    anchored=(
        "CSA S6 is recalled, with low confidence, to restrict open wraps without anchorage in the compression zone; no "
        "strain for anchored U-wraps is claimed and no value is given."
    ),
    adds_concrete=True,
    governs=governing.by_bond_reduction,
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
    eps_fu: Any,
    d_fv: Any,
    theta: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    c_L: float = 23300.0,
    p_L: float = 0.58,
    f_1: float = 27.0,
    c_v: float = 11900.0,
    k_v_max: float = 0.75,
    k_cap: float = 0.75,
    eps_max: float = 0.004,
    step: Step = no_step,
) -> Any:
    """V_f in N without phi_FRP. Stresses MPa, lengths mm, angles deg, numbers or arrays of one shape.

    `theta` is the crack angle of the sectional method. `form` only says which strengths the inputs are.
    """
    if scheme == "full":
        eps_fe = step("eps_fe", np.minimum(eps_max, k_cap * eps_fu), "-", _AT.closed)
    else:
        eps_v = aci440.open_strain(
            f_c=f_c, stiffness=n * t_f * E_f, eps_fu=eps_fu, d_fv=d_fv, ends=1.0 if scheme == "u" else 2.0,
            values=Constants("si", c_L, p_L, f_1, c_v, k_v_max, k_cap, eps_max), at=_AT, step=step,
        )  # fmt: skip
        eps_fe = step("eps_fe", np.minimum(eps_v, eps_max), "-", _AT.open)
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    a_fv = step("a_fv", geometry.area_per_length(n=n, t_f=t_f, ratio=ratio), "mm2/mm", _AT.area)
    across = geometry.truss_factor(theta=theta, beta=beta)
    return step("V_f", E_f * eps_fe * a_fv * d_fv * across, "N", _AT.force)
