"""fib Bulletin 14 (2001), after Triantafillou and Antonopoulos (2000): effective strain of closed and open wraps."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing
from cracktie.models.frp_shear.conditions import APART, CROSSES, FIBRES, KNOWN_FIBRES, TRUSS, USUAL_ANGLES, not_anchored

_LAW = "effective strain laws"
_HOW = (
    "two independent recollections agree on the three strain laws, their units and the factors; the printed page was "
    "not at hand"
)
_GLASS = _HOW + "; that the carbon laws serve glass is recalled with medium confidence"


def spacing_centres_max(*, d: Any, h_flange: Any, w_f: Any) -> Any:
    """Largest strip spacing in mm, centre to centre: min(0.9 d, d - h_flange) - w_f/2."""
    return np.minimum(0.9 * d, d - h_flange) - w_f / 2.0


@model(
    "frp_shear.fib14_2001",
    predicts="V_f",
    unit="N",
    source=Ref("FIB14", "shear chapter; laws of TriantafillouAntonopoulos2000"),
    title="fib Bulletin 14, FRP term",
    status=(
        Status("memory", _HOW),
        Status(
            "memory",
            _HOW + "; the cap 0.006 of the design form, recalled with medium confidence, can only lower V_f",
            {"form": "design"},
        ),
        Status("doubtful", _GLASS, {"fibre": "glass"}),
        Status("doubtful", _GLASS, {"fibre": "glass", "form": "design"}),
    ),
    limits=(USUAL_ANGLES,),
    applies=(
        CROSSES,
        APART,
        KNOWN_FIBRES,
        Applies(
            lambda i: i["fibre"] != "aramid" or i["scheme"] == "full" or (i["scheme"] == "u" and bool(i["anchored"])),
            "the law for aramid covers closed wraps only",
            _LAW,
        ),
        not_anchored("no rule for side strips with anchored ends is known to us", schemes=("side",)),
    ),
    choices={"fibre": FIBRES},
    anchored=(
        "fib Bulletin 14 gives 'closed or properly anchored' jackets one law, rupture (from memory, high confidence): "
        "the value for anchored U-wraps is that of a closed wrap; what an anchor can deliver is not part of it."
    ),
    adds_concrete=True,
    governs=governing.by_strain_law,
)  # fmt: skip
def v_f(
    *,
    f_cm: Any,
    n: Any,
    t_f: Any,
    w_f: Any,
    s_f: Any,
    beta: Any,
    E_f: Any,
    eps_fu: Any,
    b_w: Any,
    d: Any,
    fibre: str,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    c_rupture: float = 0.17,
    p_rupture: float = 0.30,
    c_aramid: float = 0.048,
    p_aramid: float = 0.47,
    c_peeling: float = 0.65e-3,
    p_peeling: float = 0.56,
    k: float = 0.8,
    gamma_peeling: float = 1.30,
    gamma_carbon: float = 1.35,
    gamma_glass: float = 1.50,
    gamma_aramid: float = 1.45,
    eps_max: float = 0.006,
    step: Step = no_step,
) -> Any:
    """V_f in N. Stresses MPa, lengths mm, `beta` deg, numbers or arrays of one shape; the crack lies at 45 deg.

    The mean strength `f_cm` stands in both forms. Inside X the modulus counts in GPa. The lever arm is 0.9 d also for
    T-beams, which over-counts the flange. Rupture factors are those of application type B (type A: 1.20, 1.30, 1.25 for
    carbon, glass, aramid). The strain cap, optional in the document, is off in the test form and 0.006 in the design
    form (0.005 in the paper). Ours: the rupture strain never exceeds eps_fu.
    """
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    rho_f = step("rho_f", geometry.ratio_of_web(n=n, t_f=t_f, ratio=ratio, b_w=b_w), "-", "FRP ratio")
    X = step("X", f_cm ** (2 / 3) / (E_f / 1000.0 * rho_f), "-", _LAW)
    c, p = (c_aramid, p_aramid) if fibre == "aramid" else (c_rupture, p_rupture)
    gamma: Any = {"carbon": gamma_carbon, "glass": gamma_glass, "aramid": gamma_aramid}.get(fibre, gamma_glass)
    rupture = np.minimum(c * X**p, 1.0) * eps_fu
    if scheme == "full" or (scheme == "u" and anchored):
        eps_fe = step("eps_fe", rupture, "-", _LAW)
    else:
        rupture = step("eps_rupture", rupture, "-", _LAW)
        peeling = step("eps_peeling", c_peeling * X**p_peeling, "-", _LAW)
        eps_fe = step("eps_fe", np.minimum(peeling, rupture), "-", _LAW)
        gamma = np.where(peeling < rupture, gamma_peeling, gamma)
    if form == "design":
        gamma = step("gamma_f", gamma, "-", "partial factors")
        eps_fe = step("eps_fe_d", k * np.minimum(eps_fe, eps_max) / gamma, "-", "design value of the strain")
    force = 0.9 * eps_fe * E_f * rho_f * b_w * d * geometry.truss_factor_45(beta=beta)
    return step("V_f", force, "N", "truss at 45 deg")
