"""NCHRP Report 678 (2011) and the AASHTO guide specification (2012): strength ratio against FRP stiffness."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing
from cracktie.models.frp_shear.conditions import APART, CROSSES, DEEP, TRUSS, USUAL_ANGLES, not_anchored
from cracktie.models.inch_pound import KIP, inch, ksi

_RATIO = "effective strain ratio"
_HOW = "two independent recollections agree on both ratios, their floors and units; each floor is the ratio at 300 ksi"
_TEST_CAP = "; the strain cap 0.012 is recalled with medium confidence and can only lower V_f"
_CAP = "; the strain cap 0.004 of the guide specification is recalled with medium confidence and phi is not part of V_f"


@model(
    "frp_shear.nchrp678_2011",
    predicts="V_f",
    unit="N",
    source=Ref("NCHRP678", "effective strain; design cap: AASHTO_FRP_2012"),
    title="NCHRP Report 678 and AASHTO guide 2012, FRP term",
    status=(
        Status("memory", _HOW + _TEST_CAP, {"form": "test"}),
        Status("doubtful", _HOW + _CAP, {"form": "design"}),
    ),
    limits=(USUAL_ANGLES,),
    applies=(
        CROSSES,
        APART,
        DEEP,
        not_anchored("no rule for side strips with anchored ends is known to us", schemes=("side",)),
    ),
    anchored=(
        "NCHRP 678: closed wraps and properly anchored U-wraps ('full anchorage') share the higher ratio "
        "4 (rho_f E_f)^-0.67 (from memory, medium to high confidence). What an anchor can deliver is not part of it."
    ),
    adds_concrete=True,
    governs=governing.by_strength_ratio,
)
def v_f(
    *,
    n: Any,
    t_f: Any,
    w_f: Any,
    s_f: Any,
    beta: Any,
    E_f: Any,
    f_fu: Any,
    b_w: Any,
    d_fv: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    edition: str,
    c_anchored: float = 14.6,
    c_free: float = 10.9,
    c_anchored_ksi: float = 4.0,
    c_free_ksi: float = 3.0,
    p: float = 0.67,
    floor_anchored: float = 0.088,
    floor_free: float = 0.066,
    eps_max: float = 0.004,
    eps_max_test: float = 0.012,
    step: Step = no_step,
) -> Any:
    """V_f in N without resistance factor. Stresses MPa, lengths mm, `beta` deg, arrays of one shape.

    The report is in ksi; the metric coefficients are its conversion (4 x 6.895^0.67 = 14.6). The strain is held
    at 0.012 in the test form (report) and at 0.004 in the design form (guide specification).
    """
    full = scheme == "full" or (scheme == "u" and anchored)
    metric = edition == "si"
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    rho_f = step("rho_f", geometry.ratio_of_web(n=n, t_f=t_f, ratio=ratio, b_w=b_w), "-", "FRP ratio")
    modulus = E_f if metric else ksi(step, "E_f", E_f)
    if metric:
        c = c_anchored if full else c_free
    else:
        c = c_anchored_ksi if full else c_free_ksi
    R = np.minimum(np.maximum(c * (rho_f * modulus) ** -p, floor_anchored if full else floor_free), 1.0)
    R = step("R_f", R, "-", _RATIO)
    strength = f_fu if metric else ksi(step, "f_fu", f_fu)
    f_fe = R * strength
    f_fe = np.minimum(f_fe, (eps_max if form == "design" else eps_max_test) * modulus)
    a_fv = geometry.area_per_length(n=n, t_f=t_f, ratio=ratio)
    across = geometry.truss_factor_45(beta=beta)
    if metric:
        f_fe = step("f_fe", f_fe, "MPa", _RATIO)
        return step("V_f", step("a_fv", a_fv, "mm2/mm", TRUSS) * f_fe * d_fv * across, "N", "truss at 45 deg")
    f_fe = step("f_fe_ksi", f_fe, "ksi", _RATIO)
    a_fv = step("a_fv_in", inch(step, "t_f", t_f) * 2.0 * n * ratio, "in2/in", TRUSS)
    force = step("V_f_kip", a_fv * f_fe * inch(step, "d_fv", d_fv) * across, "kip", "truss at 45 deg")
    return step("V_f", force * KIP, "N", text="unit of the edition")
