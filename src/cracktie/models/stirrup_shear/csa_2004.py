"""CSA A23.3 clause 11.3: general method, stirrups and concrete together, without axial load."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning


def _terms(v: Any, v_0: Any, t_0: Any, cot_alpha: Any, rate: Any, step: Step) -> Any:
    """V_c + V_s at the shear force `v` (N); `v_0` concrete at zero strain, `t_0` stirrups for cot = 1, N."""
    eps = step("eps_x", np.minimum(rate * v, 0.003), "-", "(11-13)")
    theta = step("theta", 29.0 + 7000.0 * eps, "deg", "(11-12)")
    concrete = step("V_c", v_0 / (1.0 + 1500.0 * eps), "N", "(11-6), (11-11)")
    steel = step("V_s", t_0 * (1.0 / np.tan(np.radians(theta)) + cot_alpha), "N", "(11-7), (11-8)")
    return concrete + steel


class Bases(NamedTuple):
    """What the sum needs beside V: forces in N at zero strain and for cot = 1, strain per N, effective depth mm."""

    v_0: Any
    t_0: Any
    cot_alpha: Any
    rate: Any
    d_v: Any
    p_c: Any


def bases(
    *,
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
    E_s: Any,
    root_max: Any,
    phi_c: Any,
    phi_s: Any,
    lam: Any,
    step: Step,
) -> Bases:
    """Concrete and stirrup shares apart from the strain; arguments as in the registered model."""
    p_c = phi_c if form == "design" else 1.0
    p_s = phi_s if form == "design" else 1.0
    d_v = step("d_v", np.maximum(0.9 * d, 0.72 * h), "mm", "2.3")
    if stirrups_minimum:
        s_ze = step("s_ze", 300.0, "mm", "11.3.6.4")
    else:
        grain = d_g * np.minimum(np.maximum((70.0 - f_c) / 10.0, 0.0), 1.0)
        grain = step("d_g_eff", grain, "mm", "11.3.6.4")
        s_ze = step("s_ze", np.maximum(35.0 * d_v / (15.0 + grain), 0.85 * d_v), "mm", "(11-10)")
    root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "11.3.4")
    v_0 = 0.40 * 1300.0 / (1000.0 + s_ze) * p_c * lam * root * b_w * d_v
    v_0 = step("V_c_0", v_0, "N", "(11-11)", "at zero strain")
    sine = np.sin(np.radians(alpha_w))
    cot_alpha = step("cot_alpha", np.cos(np.radians(alpha_w)) / sine, "-", text="by definition")
    t_0 = step("V_s_0", p_s * A_sw * f_yw * sine * d_v / s_w, "N", "(11-7)", "stirrups for cot = 1")
    rate = (np.maximum(M_V, d_v) / d_v + 1.0) / (2.0 * E_s * A_s)
    rate = step("eps_rate", rate, "1/N", "(11-13)", "strain per V")
    return Bases(v_0, t_0, cot_alpha, rate, d_v, p_c)


@model(
    "stirrup_shear.csa_2004",
    predicts="V_R",
    unit="N",
    source=Ref("CSA_A233_04", "11.3.3 to 11.3.6.4"),
    title="CSA A23.3-04, general method, stirrups and concrete",
    status=Status("memory", "expressions read on public pages of A23.3-04; no printed number compared"),
    limits=(Limit("f_c", high=80.0, why="8.6.1.1 covers f'c of 20 to 80 MPa (clause from memory)"),),
    applies=(leaning("11.2.4"),),
    choices={"stirrups_minimum": (False, True)},
    adds_concrete=False,
    governs=governing.by_total,
)
def v_r(
    *,
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
    phi_c: float = 0.65,
    phi_s: float = 0.85,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """Total V in N with V = V_c(eps_x(V)) + V_s(theta(V)); the concrete share is inside. `A_sw`, `A_s` mm2, mm, MPa.

    `M_V` is M_f/V_f at d_v from the load or support face, not below d_v. `stirrups_minimum` sets the crack spacing to
    300 mm (11.2.8.2 is met). At most 0.25 phi_c f'c b_w d_v.
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
        phi_c=phi_c,
        phi_s=phi_s,
        lam=lam,
        step=step,
    )
    v_0, t_0, cot_alpha, rate = made[:4]
    case = bare(v_0=v_0, t_0=t_0, cot_alpha=cot_alpha, rate=rate)
    most = 1.001 * _terms(np.zeros(()), **case, step=no_step)
    solved = chandrupatla(lambda v: _terms(v, **case, step=no_step) - v, 0.0, most)
    solved = step("V_root", solved, "N", "11.3.3", "bracketed root of V = V_c(V) + V_s(V)")
    total = _terms(solved, v_0, t_0, cot_alpha, rate, step)
    crushing = step("V_max_strut", 0.25 * made.p_c * f_c * b_w * made.d_v, "N", "(11-5)")
    return step("V_R", np.minimum(total, crushing), "N", "(11-4), (11-5)")
