"""AASHTO LRFD 5.7.3: general procedure, stirrups and concrete together, without axial load."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla
from cracktie.models.inch_pound import KIP, inch, inch2, ksi
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning


def _terms(v: Any, v_0: Any, t_0: Any, cot_alpha: Any, rate: Any, step: Step, unit: str = "N") -> Any:
    """V_c + V_s at the shear force `v`; `v_0` concrete at zero strain, `t_0` stirrups for cot = 1, in `unit`."""
    end = "" if unit == "N" else f"_{unit}"
    eps = step("eps_s", np.minimum(rate * v, 0.006), "-", "(5.7.3.4.2-4)")
    theta = step("theta", 29.0 + 3500.0 * eps, "deg", "(5.7.3.4.2-3)")
    concrete = step(f"V_c{end}", v_0 / (1.0 + 750.0 * eps), unit, "(5.7.3.3-3)")
    steel = t_0 * (1.0 / np.tan(np.radians(theta)) + cot_alpha)
    return concrete + step(f"V_s{end}", steel, unit, "(5.7.3.3-4)")


class Bases(NamedTuple):
    """What the sum needs beside V, in `unit` (N or kip) and the edition's stresses and lengths."""

    v_0: Any
    t_0: Any
    cot_alpha: Any
    rate: Any
    crushing: Any
    unit: str


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
    edition: str,
    k_c: Any,
    k_c_ksi: Any,
    E_s: Any,
    E_s_ksi: Any,
    lam: Any,
    step: Step,
) -> Bases:
    """Concrete and stirrup shares apart from the strain; arguments as in the registered model."""
    d_v = step("d_v", np.maximum(0.9 * d, 0.72 * h), "mm", "5.7.2.8")
    sine = np.sin(np.radians(alpha_w))
    cot_alpha = step("cot_alpha", np.cos(np.radians(alpha_w)) / sine, "-", text="by definition")
    if edition == "si":
        unit, arm, width, f = "N", d_v, b_w, f_c
        stirrups, bars, lever = A_sw * f_yw * sine / s_w, E_s * A_s, np.maximum(M_V, d_v)
        factor, s_xe_0, s_xe_1 = k_c, 1295.0, 991.0
        if not stirrups_minimum:
            s_xe = step("s_xe", np.clip(35.0 * d_v / (16.0 + d_g), 305.0, 2032.0), "mm", "(5.7.3.4.2-7)")
    else:
        unit, arm, width, f = "kip", inch(step, "d_v", d_v), inch(step, "b_w", b_w), ksi(step, "f_c", f_c)
        stirrups = inch2(step, "A_sw", A_sw) * ksi(step, "f_yw", f_yw) * sine / inch(step, "s_w", s_w)
        bars, lever = E_s_ksi * inch2(step, "A_s", A_s), np.maximum(inch(step, "M_V", M_V), arm)
        factor, s_xe_0, s_xe_1 = k_c_ksi, 51.0, 39.0
        if not stirrups_minimum:
            s_xe = np.clip(arm * 1.38 / (inch(step, "d_g", d_g) + 0.63), 12.0, 80.0)
            s_xe = step("s_xe_in", s_xe, "in", "(5.7.3.4.2-7)")
    end = "" if unit == "N" else f"_{unit}"
    v_0 = factor * lam * 4.8 * np.sqrt(f) * width * arm
    if not stirrups_minimum:
        v_0 = v_0 * (s_xe_0 / (s_xe_1 + s_xe))
    v_0 = step(f"V_c_0{end}", v_0, unit, "(5.7.3.4.2-1), (5.7.3.4.2-2)", "at zero strain")
    t_0 = step(f"V_s_0{end}", stirrups * arm, unit, "(5.7.3.3-4)", "stirrups for cot = 1")
    rate = step(f"eps_rate{end}", (lever / arm + 1.0) / bars, f"1/{unit}", "(5.7.3.4.2-4)", "strain per V")
    return Bases(v_0, t_0, cot_alpha, rate, 0.25 * f * width * arm, unit)


@model(
    "stirrup_shear.aashto_2020",
    predicts="V_R",
    unit="N",
    source=Ref("AASHTO_LRFD_20", "5.7.3.3, 5.7.3.4.2"),
    title="AASHTO LRFD, general procedure, stirrups and concrete",
    status=Status(
        "memory",
        "coefficients recalled with high confidence; with the minimum stirrups the forces lie within 0.4 % of those of "
        "CSA A23.3 (20 to 60 MPa), without them -10 to +5 %",
    ),
    limits=(Limit("f_c", high=103.0, why="5.4.2.1 covers strengths up to 15 ksi"),),
    applies=(leaning("5.7.2.4"),),
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
    edition: str,
    k_c: float = 0.083,
    k_c_ksi: float = 0.0316,
    E_s: float = 200000.0,
    E_s_ksi: float = 29000.0,
    lam: float = 1.0,
    step: Step = no_step,
) -> Any:
    """Total nominal V in N with V = V_c(eps_s(V)) + V_s(theta(V)); the concrete share is inside. mm, mm2, MPa, degrees.

    `M_V` is M_u/V_u at d_v from the load or support face, not below d_v; `stirrups_minimum` says that 5.7.2.5 is met.
    At most 0.25 f'c b_v d_v. `form` only names the strengths.
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
    v_0, t_0, cot_alpha, rate, most_strut, unit = made
    end = "" if unit == "N" else f"_{unit}"
    case = bare(v_0=v_0, t_0=t_0, cot_alpha=cot_alpha, rate=rate)
    most = 1.001 * _terms(np.zeros(()), **case, step=no_step)
    solved = chandrupatla(lambda v: _terms(v, **case, step=no_step) - v, 0.0, most)
    solved = step(f"V_root{end}", solved, unit, "5.7.3.4.2", "bracketed root of V = V_c(V) + V_s(V)")
    total = _terms(solved, v_0, t_0, cot_alpha, rate, step, unit)
    crushing = step(f"V_max_strut{end}", most_strut, unit, "(5.7.3.3-2)")
    smaller = np.minimum(total, crushing)
    return step("V_R", smaller if unit == "N" else smaller * KIP, "N", "5.7.3.3")
