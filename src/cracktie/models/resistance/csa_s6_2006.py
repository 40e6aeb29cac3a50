"""CAN/CSA-S6-06 chapter 16: concrete, stirrups and FRP at the strain and crack angle of the whole shear force."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla
from cracktie.models.frp_shear.conditions import only_test
from cracktie.models.resistance import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning
from cracktie.models.stirrup_shear.csa_2004 import bases


def _terms(v: Any, v_0: Any, t_0: Any, cot_alpha: Any, rate: Any, f: Any, level: Any, step: Step) -> Any:
    """V_c + V_s + V_f at the shear force `v` (N); `f` the FRP term for a crack at 45 degrees, N."""
    eps = step("eps_x", np.minimum(rate * v, 0.003), "-", "(11-13)")
    theta = step("theta", 29.0 + 7000.0 * eps, "deg", "(11-12)")
    cot = step("cot_theta", 1.0 / np.tan(np.radians(theta)), "-", "(11-7)")
    concrete = step("V_c", v_0 / (1.0 + 1500.0 * eps), "N", "(11-6), (11-11)")
    steel = step("V_s", t_0 * (cot + cot_alpha), "N", "(11-7), (11-8)")
    return concrete + steel + step("V_f", f * (1.0 + level * (cot - 1.0)), "N", "chapter 16, shear")


@model(
    "resistance.csa_s6_2006",
    predicts="V_R",
    unit="N",
    source=Ref("CSA_S6_06", "chapter 16; shares of concrete and stirrups: CSA_A233_04, 11.3"),
    title="CAN/CSA-S6-06, concrete, stirrups and FRP at one crack angle",
    status=Status(
        "doubtful",
        "the sectional method of chapter 8 is taken in the form of A23.3, equal where all factors are 1 (recalled with "
        "medium confidence); that the strain is that of the whole force follows from the method, the solving is ours",
    ),
    applies=(
        leaning("11.2.4"),
        only_test("phi_FRP and the factors of chapter 8 are not known to us: no design form here", "chapter 16"),
    ),
    choices={"stirrups_minimum": (False, True)},
    governs=governing.by_general_method,
)
def v_r(
    *,
    V_f_45: Any,
    beta: Any,
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
    E_s: float = 200000.0,
    root_max: float = 8.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """V_R in N with V = V_c(eps_x(V)) + V_s(theta(V)) + V_f(theta(V)). mm, mm2, MPa, degrees.

    `A_sw` is 0 without stirrups. `V_f_45` N is the FRP term for a crack at 45 degrees. At most 0.25 f'c b_w d_v. Other
    inputs as in the general method of A23.3.
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
        form=form,
        E_s=E_s,
        root_max=root_max,
        phi_c=1.0,
        phi_s=1.0,
        lam=lam,
        step=step,
    )
    angle = np.radians(beta)
    level = step("r_level", np.sin(angle) / (np.sin(angle) + np.cos(angle)), "-", "truss geometry")
    shares = {"v_0": made.v_0, "t_0": made.t_0, "cot_alpha": made.cot_alpha, "rate": made.rate}
    case = bare(**shares, f=V_f_45, level=level)
    most = 1.001 * _terms(np.zeros(()), **case, step=no_step)
    solved = chandrupatla(lambda v: _terms(v, **case, step=no_step) - v, 0.0, most)
    solved = step("V_root", solved, "N", "11.3.3", "bracketed root of V = V_c(V) + V_s(V) + V_f(V)")
    total = _terms(solved, **shares, f=V_f_45, level=level, step=step)
    crushing = step("V_max_strut", 0.25 * f_c * b_w * made.d_v, "N", "(11-5)")
    return step("V_R", np.minimum(total, crushing), "N", "chapter 16, shear; (11-5)")
