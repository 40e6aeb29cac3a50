"""fib Model Code 2010 section 7.3.3.3: members with stirrups, levels of approximation I, II and III."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning
from cracktie.models.stirrup_shear.minimum_stirrups import mc2010 as has_minimum
from cracktie.models.strength_classes import strength_classes

_STATUS = Status("derived", "terms agree to 1e-6 with structuralcodes 0.7.2 at a given strain; the solving is ours")
_RANGE = strength_classes(120.0, "5.1.2 covers C12 to C120", low=12.0)
_ROOT = "bracketed root of V = V_R(V), in which the strain grows with V"


def _bases(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    b_w: Any,
    f_c: Any,
    form: str,
    gamma_C: Any,
    gamma_S: Any,
    step: Step,
) -> tuple[Any, Any, Any]:
    """Stirrup force an area of web, strut strength at k_eps = 1 and cot(alpha), all but the last in MPa."""
    f_ywd = step("f_ywd", f_yw / gamma_S, "MPa", "4.5.2.2.3") if form == "design" else f_yw
    eta = step("eta_fc", np.minimum(np.cbrt(30.0 / f_c), 1.0), "-", "(7.3-28)")
    gamma = gamma_C if form == "design" else 1.0
    p_c = step("p_c", eta * f_c / gamma, "MPa", "(7.3-26), (7.3-27)", "strut strength at k_eps = 1")
    sine = np.sin(np.radians(alpha_w))
    cot_alpha = step("cot_alpha", np.cos(np.radians(alpha_w)) / sine, "-", text="by definition")
    p_w = step("p_w", A_sw / (b_w * s_w) * f_ywd * sine, "MPa", "(7.3-29)", "stirrup force an area of web")
    return p_w, p_c, cot_alpha


@model(
    "stirrup_shear.mc2010.level1",
    predicts="V_s",
    unit="N",
    source=Ref("MC2010", "7.3.3.3, (7.3-26) to (7.3-29), (7.3-37)"),
    title="Model Code 2010, stirrups, level I",
    status=_STATUS,
    limits=_RANGE,
    applies=(leaning("7.3.3.3"),),
    adds_concrete=False,
    governs=governing.by_strut,
)
def level1(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    z: Any,
    b_w: Any,
    f_c: Any,
    form: str,
    k_eps: float = 0.55,
    theta_min: float = 30.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """V in N at the best strut angle between 30 and 45 degrees. `A_sw` mm2, lengths mm (z = 0.9 d), MPa, degrees."""
    p_w, p_c, cot_alpha = _bases(
        A_sw=A_sw,
        s_w=s_w,
        f_yw=f_yw,
        alpha_w=alpha_w,
        b_w=b_w,
        f_c=f_c,
        form=form,
        gamma_C=gamma_C,
        gamma_S=gamma_S,
        step=step,
    )
    cot_max = step("cot_max", 1.0 / np.tan(np.radians(theta_min)), "-", "7.3.3.3")
    # a beam without stirrups keeps a finite quotient; the angle then has no effect
    square = np.minimum(np.maximum(k_eps * p_c / np.maximum(p_w, 1e-9) - 1.0, 1.0), cot_max**2)
    cot = step("cot_theta", np.sqrt(square), "-", "7.3.3.3", "where both limits meet, within the limits")
    steel = step("V_s_truss", p_w * b_w * z * (cot + cot_alpha), "N", "(7.3-29)")
    strut = k_eps * p_c * b_w * z * (cot + cot_alpha) / (1.0 + cot**2)
    return step("V_s", np.minimum(steel, step("V_max_strut", strut, "N", "(7.3-26)")), "N", "7.3.3.3")


def _theta_min(eps: Any) -> Any:
    """Least strut angle of level II in degrees."""
    return 20.0 + 10000.0 * eps


def _k_eps(eps: Any, cot: Any) -> Any:
    """Softening of the struts from the principal tensile strain, levels II and III."""
    return np.minimum(1.0 / (1.2 + 55.0 * (eps + (eps + 0.002) * cot**2)), 0.65)


def _solve_level2(*, p_w: Any, p_c: Any, cot_alpha: Any, area: Any, rate: Any) -> Any:
    """Largest V (N) that some angle carries: stresses MPa, `area` b_w z mm2, `rate` strain per N.

    The smallest cot(theta) the stirrups need is the best for the struts, and both limits fall with V.
    """

    def spare(v: Any) -> Any:
        eps = np.minimum(rate * v, 0.003)
        cot_max = 1.0 / np.tan(np.radians(np.minimum(_theta_min(eps), 45.0)))
        cot = np.clip(v / np.maximum(p_w * area, 1e-9) - cot_alpha, 1.0, cot_max)
        strut = _k_eps(eps, cot) * p_c * (cot + cot_alpha) / (1.0 + cot**2)
        return np.minimum(p_w * (cot_max + cot_alpha), strut) * area - v

    # the bracket is a little wider than the steepest truss, so that rounding cannot leave both ends on one side
    return chandrupatla(spare, 0.0, p_w * area * (2.75 + cot_alpha))


def _solve_level3(*, p_w: Any, p_c: Any, cot_alpha: Any, area: Any, rate: Any, v_0: Any) -> Any:
    """V (N) that equals stirrups at the least angle plus concrete; `v_0` the concrete term at zero strain and V = 0."""

    def spare(v: Any) -> Any:
        return _level3(v, p_w, p_c, cot_alpha, area, rate, v_0, no_step)[0] - v

    return chandrupatla(spare, 0.0, p_w * area * (2.75 + cot_alpha) + 1.001 * v_0)


def _level3(v: Any, p_w: Any, p_c: Any, cot_alpha: Any, area: Any, rate: Any, v_0: Any, step: Step) -> tuple[Any, Any]:
    """Resistance V_s + V_c and strut limit V_Rd,max at the shear force `v` (N)."""
    eps = step("eps_x", np.minimum(rate * v, 0.003), "-", "(7.3-16)")
    theta = step("theta", np.minimum(_theta_min(eps), 45.0), "deg", "(7.3-39)")
    cot = step("cot_theta", 1.0 / np.tan(np.radians(theta)), "-", "7.3.3.3")
    k_eps = step("k_eps", _k_eps(eps, cot), "-", "(7.3-40), (7.3-41)")
    most = k_eps * p_c * area * (cot + cot_alpha) / (1.0 + cot**2)
    most = step("V_max_strut", most, "N", "(7.3-26)")
    steel = step("V_s", p_w * area * (cot + cot_alpha), "N", "(7.3-29)")
    concrete = v_0 / (1.0 + 1500.0 * eps) * np.maximum(1.0 - v / most, 0.0)
    concrete = step("V_c", concrete, "N", "(7.3-43)")
    return steel + concrete, most


@model(
    "stirrup_shear.mc2010.level2",
    predicts="V_s",
    unit="N",
    source=Ref("MC2010", "7.3.3.3, (7.3-16), (7.3-26) to (7.3-29), (7.3-39) to (7.3-41)"),
    title="Model Code 2010, stirrups, level II",
    status=_STATUS,
    limits=_RANGE,
    applies=(leaning("7.3.3.3"),),
    adds_concrete=False,
    governs=governing.by_strut,
)
def level2(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    z: Any,
    b_w: Any,
    f_c: Any,
    A_s: Any,
    M_V: Any,
    form: str,
    E_s: float = 200000.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """Largest V in N that an angle between 20 + 10000 eps_x and 45 degrees carries. `A_s` mm2, lengths mm, MPa.

    `M_V` is M/V at the control section (d from the load or the support face), not below z; `z` = 0.9 d.
    """
    p_w, p_c, cot_alpha = _bases(
        A_sw=A_sw,
        s_w=s_w,
        f_yw=f_yw,
        alpha_w=alpha_w,
        b_w=b_w,
        f_c=f_c,
        form=form,
        gamma_C=gamma_C,
        gamma_S=gamma_S,
        step=step,
    )
    rate = (np.maximum(M_V, z) / z + 1.0) / (2.0 * E_s * A_s)
    rate = step("eps_rate", rate, "1/N", "(7.3-16)", "strain per V")
    v = _solve_level2(**bare(p_w=p_w, p_c=p_c, cot_alpha=cot_alpha, area=b_w * z, rate=rate))
    v = step("V_root", v, "N", "7.3.3.3", _ROOT)
    eps = step("eps_x", np.minimum(rate * v, 0.003), "-", "(7.3-16)")
    least = step("theta", np.minimum(_theta_min(eps), 45.0), "deg", "(7.3-39)", "least angle")
    cot = np.maximum(v / np.maximum(p_w * b_w * z, 1e-9) - cot_alpha, 1.0)
    cot = step("cot_theta", np.minimum(cot, 1.0 / np.tan(np.radians(least))), "-", "7.3.3.3", "what the stirrups need")
    k_eps = step("k_eps", _k_eps(eps, cot), "-", "(7.3-40), (7.3-41)")
    steel = step("V_s_truss", p_w * b_w * z * (cot + cot_alpha), "N", "(7.3-29)")
    strut = k_eps * p_c * b_w * z * (cot + cot_alpha) / (1.0 + cot**2)
    return step("V_s", np.minimum(steel, step("V_max_strut", strut, "N", "(7.3-26)")), "N", "7.3.3.3")


@model(
    "stirrup_shear.mc2010.level3",
    predicts="V_R",
    unit="N",
    source=Ref("MC2010", "7.3.3.3, (7.3-16), (7.3-26) to (7.3-29), (7.3-39) to (7.3-43)"),
    title="Model Code 2010, stirrups and concrete, level III",
    status=_STATUS,
    limits=_RANGE,
    applies=(
        leaning("7.3.3.3"),
        Applies(
            lambda x: has_minimum(A_sw=x["A_sw"], s_w=x["s_w"], b_w=x["b_w"], f_yw=x["f_yw"], f_c=x["f_c"]),
            "at least the minimum stirrups, 0.08 root(f_c)/f_yw",
            "7.13.5.2",
        ),
    ),
    adds_concrete=False,
    governs=governing.by_level,
)
def level3(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    z: Any,
    b_w: Any,
    f_c: Any,
    A_s: Any,
    M_V: Any,
    form: str,
    E_s: float = 200000.0,
    root_max: float = 8.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """Total V in N: the concrete share is inside, nothing is to be added. Inputs as in `level2`.

    Level III rules while it stays below the strut limit at the least angle; above, level II does.
    """
    p_w, p_c, cot_alpha = _bases(
        A_sw=A_sw,
        s_w=s_w,
        f_yw=f_yw,
        alpha_w=alpha_w,
        b_w=b_w,
        f_c=f_c,
        form=form,
        gamma_C=gamma_C,
        gamma_S=gamma_S,
        step=step,
    )
    gamma = gamma_C if form == "design" else 1.0
    root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "7.3.3.1")
    v_0 = step("V_c_0", 0.4 * root / gamma * b_w * z, "N", "(7.3-43)", "at zero strain and V = 0")
    rate = (np.maximum(M_V, z) / z + 1.0) / (2.0 * E_s * A_s)
    rate = step("eps_rate", rate, "1/N", "(7.3-16)", "strain per V")
    case = bare(p_w=p_w, p_c=p_c, cot_alpha=cot_alpha, area=b_w * z, rate=rate)
    second = step("V_level2", _solve_level2(**case), "N", "7.3.3.3", _ROOT)
    third = _solve_level3(**case, **bare(v_0=v_0))
    third = step("V_level3", third, "N", "7.3.3.3", _ROOT)
    _, most = _level3(third, p_w, p_c, cot_alpha, b_w * z, rate, v_0, step)
    return step("V_R", np.maximum(np.where(third < most, third, 0.0), second), "N", "7.3.3.3")
