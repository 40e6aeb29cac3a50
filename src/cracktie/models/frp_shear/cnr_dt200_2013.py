"""CNR-DT 200 R1/2013 section 4.3.3: FRP term of U-wraps and closed wraps (basis: Monti and Liotta 2007)."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit, Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing
from cracktie.models.frp_shear.conditions import APART, CROSSES, TRUSS, USUAL_ANGLES, only

_HOW = (
    "two independent recollections agree on the stress laws; l_ed re-derived from the rigid-softening bond law, 1/3 "
    "and 1/6 from the mean of the anchorage law"
)
_SINES = (
    "; for inclined fibres the force follows from the truss (as printed the formula seems to lack sin2 of the fibre "
    "angle, which would double V_f at 45 deg)"
)


STRIP_WIDTH = (50.0, 250.0)
"""Range of the strip width in mm, a detailing rule."""


def spacing_across_max(*, w_f: Any, d: Any) -> Any:
    """Largest strip spacing p_f in mm, measured ACROSS the fibres: min(0.5 d, 3 w_f, w_f + 200 mm)."""
    return np.minimum(np.minimum(0.5 * d, 3.0 * w_f), w_f + 200.0)


@model(
    "frp_shear.cnr_dt200_2013",
    predicts="V_f",
    unit="N",
    source=Ref("CNR_DT200_R1_13", "4.3.3"),
    title="CNR-DT 200 R1/2013, FRP term",
    status=(
        Status("doubtful", _HOW + "; the mean bond coefficients 0.063 and 0.077 mm are less certain" + _SINES),
        Status("memory", _HOW + "; whether the 200 mm floor of l_ed serves shear is open" + _SINES, {"form": "design"}),
        Status(
            "doubtful",
            "that anchored U-wraps count as closed is recalled with medium confidence",
            {"form": "design", "anchored": True, "scheme": "u"},
        ),
    ),
    limits=(
        USUAL_ANGLES,
        Limit("r_corner", low=20.0, why="rounding of the corners, 4.3"),
    ),
    applies=(
        CROSSES,
        APART,
        only(("u", "full"), "side bonding has no rule in this edition", "4.3.3"),
        Applies(lambda i: i["h"] > i["h_flange"], "the web must be deeper than nothing: h above h_flange", TRUSS),
    ),
    choices={"frp_form": ("sheet", "laminate")},
    anchored=(
        "CNR-DT 200: U-wraps whose ends are kept from debonding may count as closed provided the effectiveness of the "
        "device is proven (from memory, medium to high confidence). The value for anchored U-wraps is that of a closed "
        "wrap; the proof, and what an anchor can deliver, are not part of it."
    ),
    adds_concrete=False,
    governs=governing.by_bond_and_corner,
)
def v_f(
    *,
    f_cm: Any,
    f_ctm: Any,
    n: Any,
    t_f: Any,
    w_f: Any,
    s_f: Any,
    beta: Any,
    E_f: Any,
    f_fu: Any,
    b_w: Any,
    d: Any,
    h: Any,
    h_flange: Any,
    r_corner: Any,
    theta: Any,
    eta_a: Any,
    FC: Any,
    frp_form: str,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    k_G_laminate: float = 0.023,
    k_G_sheet: float = 0.037,
    k_G_laminate_mean: float = 0.063,
    k_G_sheet_mean: float = 0.077,
    s_u: float = 0.25,
    gamma_Rd_length: float = 1.25,
    gamma_Rd_shear: float = 1.20,
    gamma_fd: float = 1.20,
    gamma_f: float = 1.10,
    l_ed_min: float = 200.0,
    step: Step = no_step,
) -> Any:
    """V_f in N. Stresses MPa, lengths mm, angles deg, numbers or arrays of one shape.

    `f_cm`, `f_ctm` mean strengths in both forms; `eta_a` (environment) and `FC` (confidence factor 1.00 to 1.35) act in
    the design form only. Two different gamma_Rd: 1.20 on the resistance, 1.25 inside l_ed; both 1 in the test form. The
    floor of 200 mm on l_ed holds in the design form, not in the test form. The document measures the spacing across the
    fibres; `s_f` is along the axis and is converted. `V_f` uses the lever arm 0.9 d also for T-beams. Ours: the stress
    never exceeds f_fd, and it and the second term of closed wraps never fall below zero where l_ed exceeds the web.
    """
    design = form == "design"
    t = n * t_f
    if frp_form == "sheet":
        k_G = k_G_sheet if design else k_G_sheet_mean
    else:
        k_G = k_G_laminate if design else k_G_laminate_mean
    k_b: Any = 1.0
    if layout == "strips":
        cover = step("cover", geometry.across_fibres(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
        wide = np.maximum(cover, 0.25)
        k_b = step("k_b", np.maximum(np.sqrt((2.0 - wide) / (1.0 + wide)), 1.0), "-", "4.1, width factor")
    Gamma = step("Gamma_F", k_b * k_G / (FC if design else 1.0) * np.sqrt(f_cm * f_ctm), "N/mm", "4.1")
    f_fdd = np.sqrt(2.0 * E_f * Gamma / t) / (gamma_fd if design else 1.0)
    f_fdd = step("f_fdd", f_fdd, "MPa", "4.1, debonding stress")
    f_bd = step("f_bd", 2.0 * Gamma / s_u, "MPa", "4.1")
    l_ed = np.sqrt(np.pi**2 * E_f * t * Gamma / 2.0) / ((gamma_Rd_length if design else 1.0) * f_bd)
    l_ed = step("l_ed", np.maximum(l_ed, l_ed_min) if design else l_ed, "mm", "4.1, bond length")
    height = step("H", np.minimum(0.9 * d, h - h_flange), "mm", "4.3.3")
    part = step("l_H", l_ed * np.sin(np.radians(beta)) / height, "-", "4.3.3")
    f_fd = step("f_fd", eta_a * f_fu / gamma_f, "MPa", "rupture stress") if design else f_fu
    if scheme == "u" and not anchored:
        f_fed = f_fdd * np.maximum(1.0 - part / 3.0, 0.0)
    else:
        phi_R = step("phi_R", 0.2 + 1.6 * np.minimum(r_corner / b_w, 0.5), "-", "4.3.3, corner")
        more = np.maximum(phi_R * f_fd - f_fdd, 0.0) * np.maximum(1.0 - part, 0.0) / 2.0
        f_fed = f_fdd * np.maximum(1.0 - part / 6.0, 0.0) + step("more_closed", more, "MPa", "4.3.3, closed wraps")
    f_fed = step("f_fe", np.minimum(f_fed, f_fd), "MPa", "4.3.3, effective stress")
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    force = 0.9 * d * f_fed * geometry.area_per_length(n=n, t_f=t_f, ratio=ratio)
    force = force * geometry.truss_factor(theta=theta, beta=beta) / (gamma_Rd_shear if design else 1.0)
    return step("V_f", force, "N", "4.3.3")
