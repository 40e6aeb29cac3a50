"""Chen and Teng 2003: FRP rupture (2003a) and debonding (2003b); the lesser of both for open wraps."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing
from cracktie.models.frp_shear.conditions import APART, CROSSES, TRUSS, USUAL_ANGLES, not_anchored

_HOW = "two independent recollections agree on every coefficient; structure also met in public text"


def edge_depth(*, d: Any, h: Any, d_frp: Any) -> Any:
    """z_b in mm: depth of the lower end of the effective FRP below its origin 0.1 d under the top face."""
    return d - (h - d_frp) - 0.1 * d


@model(
    "frp_shear.chen_teng_2003",
    predicts="V_f",
    unit="N",
    source=Ref("ChenTeng2003b", "debonding; rupture in ChenTeng2003a"),
    title="Chen and Teng 2003, FRP term",
    status=(
        Status("memory", _HOW),
        Status("doubtful", _HOW + "; the cap of 0.015 on the rupture strain is less certain", {"scheme": "full"}),
        Status(
            "doubtful",
            "that anchored U-wraps follow the rupture rule is recalled with medium confidence",
            {"anchored": True, "scheme": "u"},
        ),
    ),
    limits=(USUAL_ANGLES,),
    applies=(
        CROSSES,
        APART,
        Applies(
            lambda i: edge_depth(d=i["d"], h=i["h"], d_frp=i["d_frp"]) > i["z_t"],
            "the upper FRP edge must lie above the lower end of the effective FRP (z_t below z_b)",
            "definition of h_fe",
        ),
        not_anchored("no rule for side strips with anchored ends is known to us", schemes=("side",)),
    ),
    anchored=(
        "Chen and Teng 2003a treat adequately anchored U-wraps like closed wraps: rupture governs (from memory, "
        "medium confidence). The value for anchored U-wraps is the rupture strength; what an anchor can deliver is "
        "not part of it."
    ),
    adds_concrete=True,
    governs=governing.by_stress,
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
    f_fu: Any,
    d: Any,
    h: Any,
    z_t: Any,
    d_frp: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    c_rupture: float = 0.8,
    eps_max: float = 0.015,
    c_mean: float = 0.427,
    c_char: float = 0.315,
    gamma_b: float = 1.25,
    step: Step = no_step,
) -> Any:
    """V_f in N. Stresses MPa, lengths mm, `beta` deg, numbers or arrays of one shape.

    `z_t` depth of the upper and `d_frp` of the lower FRP edge from the top face. The upper end of the effective FRP is
    z_t itself: (0.1 d + z_t) - 0.1 d. The test form takes the mean bond coefficient 0.427 and no partial factor, the
    design form the 95 % coefficient 0.315 and gamma_b; 0.8 on the FRP strength is part of the rupture rule in both
    (`c_rupture` = 1 is a common variant for comparison with tests).
    """
    t = n * t_f
    z_b = step("z_b", edge_depth(d=d, h=h, d_frp=d_frp), "mm", "definition of h_fe")
    h_fe = step("h_fe", z_b - z_t, "mm", "definition of h_fe")
    sigma = step("sigma_rupture", c_rupture * np.minimum(f_fu, eps_max * E_f), "MPa", "2003a, largest stress")
    f_fe = step("f_fe_rupture", (1.0 + z_t / z_b) / 2.0 * sigma, "MPa", "2003a, stress distribution factor")
    if scheme == "side" or (scheme == "u" and not anchored):
        cover = step("cover", geometry.across_fibres(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
        debonding = _debonding(
            f_c=f_c, t=t, E_f=E_f, h_fe=h_fe, sigma=sigma, cover=cover, beta=beta,
            legs=1.0 if scheme == "u" else 2.0, c=c_mean if form == "test" else c_char, step=step,
        )  # fmt: skip
        f_fe = step("f_fe", np.minimum(f_fe, debonding), "MPa", "2003a and 2003b, the lesser")
    if form == "design":
        f_fe = step("f_fe_d", f_fe / gamma_b, "MPa", "partial factor")
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    force = geometry.area_per_length(n=n, t_f=t_f, ratio=ratio) * f_fe * h_fe * geometry.truss_factor_45(beta=beta)
    return step("V_f", force, "N", "truss at 45 deg")


def _debonding(
    *, f_c: Any, t: Any, E_f: Any, h_fe: Any, sigma: Any, cover: Any, beta: Any, legs: float, c: float, step: Step
) -> Any:
    """Mean FRP stress at debonding in MPa; `legs` 2 where both ends of a strip are free."""
    root = step("root_f_c", np.sqrt(f_c), "MPa", "2003b, bond length")
    L_e = step("L_e", np.sqrt(E_f * t / root), "mm", "2003b, bond length")
    L_max = step("L_max", h_fe / (legs * np.sin(np.radians(beta))), "mm", "2003b, largest bond length")
    lam = step("lambda_L", L_max / L_e, "-", "2003b, normalised bond length")
    short = step("lambda_1", np.minimum(lam, 1.0), "-", "2003b, normalised bond length")
    beta_L = step("beta_L", np.sin(np.pi / 2.0 * short), "-", "2003b, bond length factor")
    beta_w = step("beta_w", np.sqrt((2.0 - cover) / (1.0 + cover)), "-", "2003b, width factor")
    largest = np.minimum(sigma, c * beta_w * beta_L * np.sqrt(E_f * root / t))
    sigma_b = step("sigma_debonding", largest, "MPa", "2003b, largest stress")
    part = 2.0 / (np.pi * short) * (1.0 - np.cos(np.pi / 2.0 * short)) / beta_L
    D_f = np.where(lam <= 1.0, part, 1.0 - (np.pi - 2.0) / (np.pi * lam))
    return step("D_f", D_f, "-", "2003b, stress distribution factor") * sigma_b
