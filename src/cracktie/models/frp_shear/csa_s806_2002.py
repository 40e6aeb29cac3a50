"""CAN/CSA-S806-02: FRP term with a fixed effective strain."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Applies, Ref, Status, Step, model, no_step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear import governing
from cracktie.models.frp_shear.conditions import APART, CROSSES, DEEP, TRUSS, USUAL_ANGLES, not_anchored

_CLAUSE = "shear of externally bonded FRP"


@model(
    "frp_shear.csa_s806_2002",
    predicts="V_f",
    unit="N",
    source=Ref("CSA_S806_02", _CLAUSE),
    title="CAN/CSA-S806-02, FRP term",
    status=Status("doubtful", "strains and phi_F recalled with medium confidence"),
    limits=(USUAL_ANGLES,),
    applies=(
        CROSSES,
        APART,
        DEEP,
        Applies(
            lambda i: i["scheme"] != "u" or bool(i["anchored"]),
            "the strain of U-wraps is recalled only for wraps anchored in, or reaching into, the compression zone",
            _CLAUSE,
        ),
        not_anchored("no rule for side strips with anchored ends is known to us", schemes=("side",)),
    ),
    anchored=(
        "CSA S806-02: effective strain 0.004 for U-wraps anchored in, or reaching into, the compression zone, 0.002 "
        "for side bonding (from memory, medium confidence)."
    ),
    adds_concrete=True,
    governs=governing.fixed_strain,
)
def v_f(
    *,
    n: Any,
    t_f: Any,
    w_f: Any,
    s_f: Any,
    beta: Any,
    E_f: Any,
    d_fv: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    eps_side: float = 0.002,
    eps_closed: float = 0.004,
    phi_F: float = 0.75,
    step: Step = no_step,
) -> Any:
    """V_f in N; phi_F is part of it in the design form. Modulus MPa, lengths mm, `beta` deg, arrays of one shape."""
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    a_fv = step("a_fv", geometry.area_per_length(n=n, t_f=t_f, ratio=ratio), "mm2/mm", TRUSS)
    strain = eps_side if scheme == "side" else eps_closed
    f_fe = step("f_fe", (phi_F * strain if form == "design" else strain) * E_f, "MPa", _CLAUSE)
    return step("V_f", a_fv * f_fe * d_fv * geometry.truss_factor_45(beta=beta), "N", _CLAUSE)
