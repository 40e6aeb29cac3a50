"""fib Model Code 2010 section 7.3.3.2: members without shear reinforcement, levels of approximation I and II."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit, Ref, Status, Step, model, no_step
from cracktie.models.strength_classes import strength_classes

_DERIVED = Status("derived", "agrees to 1e-6 with structuralcodes 0.7.2 at a given strain; the root is derived")
_RANGE = strength_classes(120.0, "5.1.2 covers C12 to C120", low=12.0)


@model(
    "concrete_shear.mc2010.level1",
    predicts="V_c",
    unit="N",
    source=Ref("MC2010", "7.3.3.2, (7.3-17), (7.3-19)"),
    title="Model Code 2010, no stirrups, level I",
    status=_DERIVED,
    limits=(
        *strength_classes(70.0, "level I is meant for f_ck up to 70 MPa"),
        Limit("f_y", high=600.0, why="level I is meant for f_yk up to 600 MPa"),
        Limit("d_g", low=10.0, why="level I is meant for aggregate of at least 10 mm"),
    ),
)
def level1(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    f_y: Any,
    d_g: Any,
    form: str,
    root_max: float = 8.0,
    gamma_C: float = 1.5,
    step: Step = no_step,
) -> Any:
    """V in N with z = 0.9 d. `f_c` MPa, lengths mm. A lower bound by intention; `f_y` and `d_g` only mark its range."""
    z = step("z", 0.9 * d, "mm", "7.3.3.1")
    k_vc = step("k_vc", 180.0 / (1000.0 + 1.25 * z), "-", "(7.3-19)")
    root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "7.3.3.1")
    stress = k_vc * root / gamma_C if form == "design" else k_vc * root
    return step("V_c", stress * z * b_w, "N", "(7.3-17)")


@model(
    "concrete_shear.mc2010.level2",
    predicts="V_c",
    unit="N",
    source=Ref("MC2010", "7.3.3.2, (7.3-16), (7.3-17), (7.3-20), (7.3-21)"),
    title="Model Code 2010, no stirrups, level II",
    status=_DERIVED,
    limits=_RANGE,
)
def level2(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    A_s: Any,
    M_V: Any,
    d_g: Any,
    form: str,
    E_s: float = 200000.0,
    root_max: float = 8.0,
    gamma_C: float = 1.5,
    step: Step = no_step,
) -> Any:
    """V in N that meets V = V_Rd,c(eps_x(V)), in closed form. `f_c` MPa, `A_s` mm2, lengths mm.

    `M_V` is M/V at the control section, d from the load or the support face (a - d in a test with one point load), not
    below z. The strain is held at 0.003, where the expression no longer depends on V.
    """
    return step("V_c", _level2(f_c, b_w, d, A_s, M_V, d_g, form, E_s, root_max, gamma_C, step), "N", "(7.3-17)")


def _level2(
    f_c: Any,
    b_w: Any,
    d: Any,
    A_s: Any,
    M_V: Any,
    d_g: Any,
    form: str,
    E_s: Any,
    root_max: Any,
    gamma_C: Any,
    step: Step,
) -> Any:
    """The larger of the root and of the value at the strain cap, in N, not yet recorded."""
    gamma = gamma_C if form == "design" else 1.0
    z = step("z", 0.9 * d, "mm", "7.3.3.1")
    # above 70 MPa cracks cut through the aggregate: d_g counts as 0
    k_dg = np.where(f_c > 70.0, 32.0 / 16.0, np.maximum(32.0 / (16.0 + d_g), 0.75))
    k_dg = step("k_dg", k_dg, "-", "(7.3-20)")
    root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", "7.3.3.1")
    base = 0.4 * 1300.0 / gamma / (1000.0 + k_dg * z) * root * z * b_w
    base = step("V_c_0", base, "N", "(7.3-21)", "at zero strain")
    rate = step("eps_rate", (np.maximum(M_V, z) / z + 1.0) / (2.0 * E_s * A_s), "1/N", "(7.3-16)", "strain per V")
    solved = step("V_c_root", 2.0 * base / (1.0 + np.sqrt(1.0 + 6000.0 * rate * base)), "N", "(7.3-17)")
    step("eps_x", np.minimum(rate * solved, 0.003), "-", "(7.3-16)")
    return np.maximum(solved, base / 5.5)


@model(
    "concrete_shear.mc2010.short_span",
    predicts="V_c",
    unit="N",
    source=Ref("MC2010", "7.3.3.1"),
    title="Model Code 2010, no stirrups, level II, load close to the support",
    status=Status("doubtful", "limits of the reduction recalled with medium confidence; the solving is ours"),
    limits=_RANGE,
    applies=(
        Applies(
            lambda x: np.asarray(x["a_clear"]) <= 2.0 * np.asarray(x["d"]),
            "clear shear span of at most 2 d",
            "7.3.3.1",
        ),
    ),
)
def short_span(
    *,
    f_c: Any,
    b_w: Any,
    d: Any,
    A_s: Any,
    M_V: Any,
    d_g: Any,
    a_clear: Any,
    form: str,
    E_s: float = 200000.0,
    root_max: float = 8.0,
    gamma_C: float = 1.5,
    step: Step = no_step,
) -> Any:
    """Shear force at failure in N where all of it comes from loads at the clear distance `a_clear` (mm, plate edges).

    The load's share of V_Ed is multiplied by a_clear/(2 d), not below 0.5; the strain goes with the reduced force.
    Not to be combined with a strut model. Other inputs as in `level2`.
    """
    plain = _level2(f_c, b_w, d, A_s, M_V, d_g, form, E_s, root_max, gamma_C, step)
    share = step("beta_av", np.maximum(a_clear / (2.0 * d), 0.5), "-", "7.3.3.1")
    return step("V_c", plain / share, "N", "7.3.3.1")
