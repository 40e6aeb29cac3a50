"""Mofidi and Chaallal 2011: bond strain with the crack pattern factor of FRP and stirrup stiffness."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing
from cracktie.models.frp_shear.conditions import (
    APART,
    CROSSES,
    DEEP,
    TRUSS,
    USUAL_ANGLES,
    not_anchored,
    only,
    only_test,
)

_STRAIN = "effective strain"


@model(
    "frp_shear.mofidi_chaallal_2011",
    predicts="V_f",
    unit="N",
    source=Ref("MofidiChaallal2011", _STRAIN),
    title="Mofidi and Chaallal 2011, FRP term",
    status=Status(
        "doubtful",
        "0.31, the crack pattern factors and (2 - lambda) lambda agree in two recollections; the 2 inside L_e (of "
        "weight only where L_max < L_e; with it 0.31 sqrt(2) = 0.44 is the mean bond stress over the root of f_c, near "
        "the 0.43 of Chen and Teng), the width factor and a cap on beta_c are recalled with medium confidence",
    ),
    limits=(USUAL_ANGLES,),
    applies=(
        CROSSES,
        APART,
        DEEP,
        only(("side", "u"), "a bond model: closed wraps do not debond", "scope"),
        not_anchored("a bond model that says nothing usable of anchored ends", "scope"),
        only_test("the paper gives no design factors known to us", "scope"),
    ),
    anchored="Mofidi and Chaallal: a bond model that says nothing usable of anchored ends; no value is given.",
    adds_concrete=True,
    governs=governing.by_bond_strain,
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
    b_w: Any,
    d_fv: Any,
    A_sw: Any,
    s_w: Any,
    E_s: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    c: float = 0.31,
    c_u: float = 0.6,
    c_side: float = 0.43,
    c_length: float = 2.0,
    step: Step = no_step,
) -> Any:
    """V_f in N. Stresses MPa, lengths mm, `beta` deg, numbers or arrays of one shape; `A_sw` = 0 without stirrups.

    Inside the crack pattern factor the stiffness counts in GPa.
    """
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    cover = step("cover", geometry.across_fibres(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    rho_f = step("rho_f", geometry.ratio_of_web(n=n, t_f=t_f, ratio=ratio, b_w=b_w), "-", "FRP ratio")
    rho_w = step("rho_w", A_sw / (b_w * s_w), "-", "stirrup ratio")
    rho_E = step("rho_E", (rho_f * E_f + rho_w * E_s) / 1000.0, "GPa", "crack pattern factor")
    beta_c = step("beta_c", (c_u if scheme == "u" else c_side) / np.sqrt(rho_E), "-", "crack pattern factor")
    root = step("root_f_c", np.sqrt(f_c), "MPa", "bond length")
    L_e = step("L_e", np.sqrt(E_f * n * t_f / (c_length * root)), "mm", "bond length")
    legs = 1.0 if scheme == "u" else 2.0
    L_max = step("L_max", d_fv / (legs * np.sin(np.radians(beta))), "mm", "bond length")
    lam = step("lambda_L", L_max / L_e, "-", "bond length")
    short = step("lambda_1", np.minimum(lam, 1.0), "-", "bond length")
    beta_L = step("beta_L", (2.0 - short) * short, "-", "bond length factor")
    beta_w = step("beta_w", np.sqrt((2.0 - cover) / (1.0 + cover)), "-", "width factor")
    eps_fe = c * beta_c * beta_L * beta_w * np.sqrt(root / (n * t_f * E_f))
    eps_fe = step("eps_fe", np.minimum(eps_fe, eps_fu), "-", _STRAIN)
    a_fv = step("a_fv", geometry.area_per_length(n=n, t_f=t_f, ratio=ratio), "mm2/mm", TRUSS)
    return step("V_f", a_fv * E_f * eps_fe * geometry.truss_factor_45(beta=beta) * d_fv, "N", "truss at 45 deg")
