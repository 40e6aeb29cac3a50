"""ACI 440.2R-17 chapter 11: FRP shear contribution. Clause numbers from memory."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Limit, Ref, Step, model, no_step
from cracktie.models.frp_shear import aci440, governing
from cracktie.models.frp_shear.aci440 import Constants, Places
from cracktie.models.frp_shear.conditions import APART, CROSSES, DEEP, USUAL_ANGLES

psi_f = aci440.psi_f
steel_and_frp_max = aci440.steel_and_frp_max
spacing_centres_max = aci440.spacing_centres_max

_AT = Places(
    area="11.4",
    force="11.4",
    stress="11.4",
    environment="9.4",
    closed="11.4.1.1",
    open="11.4.1.2",
    k_v="11.4.1.2",
    L_e="11.4.1.2",
    k_1="11.4.1.2",
    k_2="11.4.1.2",
)


@model(
    "frp_shear.aci440_2017",
    predicts="V_f",
    unit="N",
    source=Ref("ACI440_2R_17", "11.4"),
    title="ACI 440.2R-17, FRP term",
    status=aci440.STATUS,
    limits=(
        Limit("f_c", low=17.0, why="substrate of bonded systems, 1.2.1.4"),
        USUAL_ANGLES,
    ),
    applies=(CROSSES, APART, DEEP),
    anchored=aci440.ANCHORED,
    adds_concrete=True,
    governs=governing.by_strain_cap,
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
    eps_fu: Any,
    d_fv: Any,
    C_E: Any,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    edition: str,
    c_L: float = 23300.0,
    f_1: float = 27.0,
    c_v: float = 11900.0,
    c_L_psi: float = 2500.0,
    f_1_psi: float = 4000.0,
    c_v_in: float = 468.0,
    p_L: float = 0.58,
    k_v_max: float = 0.75,
    k_cap: float = 0.75,
    eps_max: float = 0.004,
    step: Step = no_step,
) -> Any:
    """V_f in N without psi_f. `f_c`, `E_f` MPa, lengths mm, `beta` deg, numbers or arrays of one shape.

    `eps_fu` is the mean measured strain in the test form and the guaranteed strain eps*_fu in the design form, where
    `C_E` (`aci440.ENVIRONMENT`) reduces it. The caps 0.004 and 0.75 eps_fu belong to the model and stay in both forms.
    With `anchored` the value is that of the free ends: the document has no other rule (see `anchored` of the model).
    Side bonding shallower than two anchorage lengths gives k_2 = 0 and V_f = 0.
    """
    if edition == "si":
        values = Constants(edition, c_L, p_L, f_1, c_v, k_v_max, k_cap, eps_max)
    else:
        values = Constants(edition, c_L_psi, p_L, f_1_psi, c_v_in, k_v_max, k_cap, eps_max)
    return aci440.contribution(
        f_c=f_c, n=n, t_f=t_f, w_f=w_f, s_f=s_f, beta=beta, E_f=E_f, eps_fu=eps_fu, d_fv=d_fv, C_E=C_E,
        scheme=scheme, layout=layout, form=form, values=values, at=_AT, step=step,
    )  # fmt: skip
