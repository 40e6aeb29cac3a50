"""NCHRP Report 678 on AASHTO LRFD: V_c + V_s of the general procedure at the strain of the whole force, plus V_f."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla
from cracktie.models.frp_shear.conditions import only_test
from cracktie.models.inch_pound import KIP
from cracktie.models.resistance import governing
from cracktie.models.stirrup_shear.aashto_2020 import _terms, bases
from cracktie.models.stirrup_shear.aci318_2014 import leaning


@model(
    "resistance.aashto_nchrp678",
    predicts="V_R",
    unit="N",
    source=Ref("NCHRP678", "sum of the terms; V_c, V_s: AASHTO_LRFD_20, 5.7.3.3, 5.7.3.4.2"),
    title="NCHRP Report 678 on AASHTO LRFD, sum of concrete, stirrups and FRP",
    status=Status(
        "doubtful",
        "that V_c and V_s are those of the LRFD specification is recalled with medium confidence; V_f keeps its 45 "
        "degree crack, which gives the smaller share while theta is below 45; the solving is ours",
    ),
    applies=(
        leaning("5.7.2.4"),
        only_test("phi_frp of the guide specification is not known to us: no design form here", "sum of the terms"),
    ),
    choices={"stirrups_minimum": (False, True)},
    governs=governing.by_general_method,
)
def v_r(
    *,
    V_f: Any,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    f_c: Any,
    b_w: Any,
    d: Any,
    h: Any,
    A_s: Any,
    M_V: Any,
    d_g: Any,
    stirrups_minimum: bool,
    form: str,
    edition: str,
    k_c: float = 0.083,
    k_c_ksi: float = 0.0316,
    E_s: float = 200000.0,
    E_s_ksi: float = 29000.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V_R in N with V = V_c(eps_s(V)) + V_s(theta(V)) + V_f. mm, mm2, MPa, degrees; `A_sw` 0 without stirrups.

    At most 0.25 f'c b_v d_v. Other inputs as in the general procedure.
    """
    made = bases(
        A_sw=A_sw,
        s_w=s_w,
        f_yw=f_yw,
        alpha_w=alpha_w,
        f_c=f_c,
        b_w=b_w,
        d=d,
        h=h,
        A_s=A_s,
        M_V=M_V,
        d_g=d_g,
        stirrups_minimum=stirrups_minimum,
        edition=edition,
        k_c=k_c,
        k_c_ksi=k_c_ksi,
        E_s=E_s,
        E_s_ksi=E_s_ksi,
        lam=lam,
        step=step,
    )
    metric = made.unit == "N"
    end = "" if metric else "_kip"
    frp = V_f if metric else step("V_f_kip", V_f / KIP, "kip", text="unit of the edition")
    shares = {"v_0": made.v_0, "t_0": made.t_0, "cot_alpha": made.cot_alpha, "rate": made.rate}
    case, push = bare(**shares), bare(frp=frp)["frp"]
    most = 1.001 * (_terms(np.zeros(()), **case, step=no_step) + push)
    solved = chandrupatla(lambda v: _terms(v, **case, step=no_step) + push - v, 0.0, most)
    solved = step(f"V_root{end}", solved, made.unit, "5.7.3.4.2", "bracketed root of V = V_c(V) + V_s(V) + V_f")
    total = _terms(solved, **shares, step=step, unit=made.unit) + frp
    crushing = step(f"V_max_strut{end}", made.crushing, made.unit, "(5.7.3.3-2)")
    smaller = np.minimum(total, crushing)
    return step("V_R", smaller if metric else smaller * KIP, "N", "sum of the terms; (5.7.3.3-2)")
