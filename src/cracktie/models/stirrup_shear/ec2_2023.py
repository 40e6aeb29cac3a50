"""EN 1992-1-1:2023 section 8.2.3: members with stirrups, strut angle chosen for the largest resistance."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare, chandrupatla
from cracktie.models.stirrup_shear import governing
from cracktie.models.stirrup_shear.aci318_2014 import leaning
from cracktie.models.strength_classes import strength_classes

_RANGE = strength_classes(100.0, "5.1.3 covers f_ck of 12 to 100 MPa", low=12.0)


@model(
    "stirrup_shear.ec2_2023",
    predicts="V_s",
    unit="N",
    source=Ref("EN1992_2023", "8.2.3 (8.42), (8.44)"),
    title="EN 1992-1-1:2023, stirrups with a variable strut angle",
    status=Status(
        "derived",
        "vertical stirrups agree to 1e-6 with a run of a structuralcodes commit (c850c02); inclined ones by truss "
        "equilibrium, their printed form from memory",
    ),
    limits=_RANGE,
    applies=(leaning("12.3.3"),),
    adds_concrete=False,
    governs=governing.by_strut,
)
def v_s(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    z: Any,
    b_w: Any,
    f_c: Any,
    form: str,
    nu: float = 0.5,
    cot_min: float = 1.0,
    cot_max: float = 2.5,
    k_tc: float = 1.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """V in N. `A_sw` mm2, lengths mm (z = 0.9 d), stresses MPa, `alpha_w` degrees; no axial load, ductility B or C."""
    f_ywd = step("f_ywd", f_yw / gamma_S, "MPa", "5.2.4") if form == "design" else f_yw
    f_cd = _f_cd(f_c, form, k_tc, gamma_C, step)
    sine = np.sin(np.radians(alpha_w))
    cot_alpha = step("cot_alpha", np.cos(np.radians(alpha_w)) / sine, "-", text="by definition")
    p_w = step("p_w", A_sw / (b_w * s_w) * f_ywd * sine, "MPa", "(8.42)")
    # a beam without stirrups keeps a finite quotient; the angle then has no effect
    square = np.minimum(np.maximum(nu * f_cd / np.maximum(p_w, 1e-9) - 1.0, cot_min**2), cot_max**2)
    cot = step("cot_theta", np.sqrt(square), "-", "8.2.3(4)", "where both limits meet, within 1 to 2.5")
    steel = step("tau_sy", p_w * (cot + cot_alpha), "MPa", "(8.42)")
    strut = step("tau_max_strut", nu * f_cd * (cot + cot_alpha) / (1.0 + cot**2), "MPa", "(8.44)")
    return step("V_s", np.minimum(steel, strut) * b_w * z, "N", "8.2.3")


def _f_cd(f_c: Any, form: str, k_tc: Any, gamma_C: Any, step: Step) -> Any:
    """Design strength of (5.3); in the test form only the brittleness factor stays."""
    eta = step("eta_cc", np.minimum(np.cbrt(40.0 / f_c), 1.0), "-", "5.1.6(1)")
    strength = eta * k_tc * f_c / gamma_C if form == "design" else eta * f_c
    return step("f_cd", strength, "MPa", "5.1.6(1)")


@model(
    "stirrup_shear.ec2_2023.refined",
    predicts="V_s",
    unit="N",
    source=Ref("EN1992_2023", "8.2.3 (8.42) to (8.52)"),
    title="EN 1992-1-1:2023, stirrups with strut strength from the strain",
    status=Status("doubtful", "nu agrees with a library run; strain of the compressed chord left out"),
    limits=(*_RANGE, Limit("alpha_w", 90.0, 90.0, "inclined stirrups are taken as vertical ones")),
    adds_concrete=False,
    governs=governing.by_strut,
)
def refined(
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
    cot_min: float = 1.0,
    cot_max: float = 2.5,
    E_s: float = 200000.0,
    k_tc: float = 1.0,
    gamma_C: float = 1.5,
    gamma_S: float = 1.15,
    step: Step = no_step,
) -> Any:
    """Largest V in N that some strut angle carries, vertical stirrups. `A_s` mm2 of the tension chord, `M_V` mm.

    The strut strength falls with the mean chord strain, which grows with V: the smallest cot(theta) that the stirrups
    need is the best for the struts, so one root in V remains. The shortening of the compressed chord is taken as 0,
    which gives the smaller resistance (its printed sign was not seen).
    """
    f_ywd = step("f_ywd", f_yw / gamma_S, "MPa", "5.2.4") if form == "design" else f_yw
    f_cd = _f_cd(f_c, form, k_tc, gamma_C, step)
    p_w = step("p_w", A_sw / (b_w * s_w) * f_ywd, "MPa", "(8.42)")
    kernel = bare(f_cd=f_cd, p_w=p_w, area=b_w * z, lever=M_V / z, stiff=2.0 * A_s * E_s, low=cot_min, high=cot_max)
    v = _largest(**kernel)
    v = step(
        "V_s", v, "N", "8.2.3", "largest V that stirrups (8.42) and struts (8.44), (8.45) carry, by a bracketed root"
    )
    cot = np.maximum(v / np.maximum(p_w * b_w * z, 1e-9), cot_min)
    cot = step("cot_theta", np.minimum(cot, cot_max), "-", "(8.42)")
    eps = step("eps_x", (M_V / z * v + 0.5 * v * cot) / (2.0 * A_s * E_s), "-", "(8.46) to (8.52)")
    nu = np.minimum(1.0 / (1.0 + 110.0 * (eps + (eps + 0.001) * cot**2)), 1.0)
    nu = step("nu", nu, "-", "(8.45)")
    steel = step("V_s_truss", p_w * b_w * z * cot, "N", "(8.42)")
    strut = step("V_max_strut", nu * f_cd * b_w * z * cot / (1.0 + cot**2), "N", "(8.44)")
    return step("V_s", np.minimum(steel, strut), "N", "8.2.3")


def _largest(*, f_cd: Any, p_w: Any, area: Any, lever: Any, stiff: Any, low: Any, high: Any) -> Any:
    """Largest V (N): p_w MPa stirrup force an area, `area` b_w z, `lever` M/(V z), `stiff` 2 A_s E_s."""

    def spare(v: Any) -> Any:
        cot = np.clip(v / np.maximum(p_w * area, 1e-9), low, high)
        eps = (lever + 0.5 * cot) * v / stiff
        nu = np.minimum(1.0 / (1.0 + 110.0 * (eps + (eps + 0.001) * cot**2)), 1.0)
        return np.minimum(p_w * area * high, nu * f_cd * area * cot / (1.0 + cot**2)) - v

    # the bracket is widened so that rounding cannot leave both ends on one side
    return chandrupatla(spare, 0.0, 1.001 * np.minimum(p_w * high, 0.5 * f_cd) * area)
