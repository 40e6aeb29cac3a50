"""Technical Report 55, third edition (2012): FRP shear contribution."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.frp_shear import governing, tr55
from cracktie.models.frp_shear.conditions import APART, CROSSES, DEEP, FIBRES, KNOWN_FIBRES, USUAL_ANGLES, not_anchored

_HOW = (
    "two independent recollections agree on the strain limits, 0.7 and the free ends; that 0.5 with f_ctk belongs to "
    "this edition is recalled with medium confidence"
)
_CLOSED = _HOW + "; that debonding is left out for closed wraps is our reading"
_FACTORS = "; the partial factors are recalled with medium confidence"


@model(
    "frp_shear.tr55_2012",
    predicts="V_f",
    unit="N",
    source=Ref("TR55_2012", "shear chapter"),
    title="Technical Report 55, third edition, FRP term",
    status=(
        Status("doubtful", _HOW, {"form": "test"}),
        Status("doubtful", _HOW + _FACTORS, {"form": "design"}),
        Status("doubtful", _CLOSED, {"scheme": "full", "form": "test"}),
        Status("doubtful", _CLOSED + _FACTORS, {"scheme": "full", "form": "design"}),
    ),
    limits=(USUAL_ANGLES,),
    applies=(CROSSES, APART, DEEP, KNOWN_FIBRES, not_anchored(tr55.NO_RULE)),
    choices={"fibre": FIBRES},
    anchored=tr55.ANCHORED,
    governs=governing.by_strain_limits,
)
def v_f(
    *,
    f_ctk: Any,
    n: Any,
    t_f: Any,
    w_f: Any,
    s_f: Any,
    beta: Any,
    E_f: Any,
    eps_fu: Any,
    d_fv: Any,
    fibre: str,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    c_debonding: float = 0.5,
    c_length: float = 0.7,
    eps_max: float = 0.004,
    gamma_E_carbon: float = 1.1,
    gamma_E_glass: float = 1.8,
    gamma_E_aramid: float = 1.1,
    gamma_eps_carbon: float = 1.25,
    gamma_eps_glass: float = 1.95,
    gamma_eps_aramid: float = 1.35,
    gamma_m: float = 1.2,
    step: Step = no_step,
) -> Any:
    """V_f in N. Stresses MPa, lengths mm, `beta` deg, numbers or arrays of one shape.

    `f_ctk` is the 5 % value in both forms. The factor for manufacture is the largest of its range (1.05 to 1.2),
    carried over from the second edition.
    """
    if form == "design":
        gamma_E, gamma_eps = {
            "carbon": (gamma_E_carbon, gamma_eps_carbon),
            "glass": (gamma_E_glass, gamma_eps_glass),
            "aramid": (gamma_E_aramid, gamma_eps_aramid),
        }.get(fibre, (gamma_E_glass, gamma_eps_glass))
        E_f, eps_fu = tr55.factored(
            E_f=E_f, eps_fu=eps_fu, gamma_E=gamma_E, gamma_eps=gamma_eps, gamma_m=gamma_m, step=step
        )
    return tr55.contribution(
        E_f=E_f, eps_fu=eps_fu, f_ct=f_ctk, n=n, t_f=t_f, w_f=w_f, s_f=s_f, beta=beta, d_fv=d_fv, scheme=scheme,
        layout=layout, c_debonding=c_debonding, c_length=c_length, eps_max=eps_max, inclined=True, step=step,
    )  # fmt: skip
