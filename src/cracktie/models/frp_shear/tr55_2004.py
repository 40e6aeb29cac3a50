"""Technical Report 55, second edition (2004): FRP shear contribution."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.frp_shear import governing, tr55
from cracktie.models.frp_shear.conditions import APART, CROSSES, DEEP, FIBRES, KNOWN_FIBRES, USUAL_ANGLES, not_anchored

_HOW = "two independent recollections agree on the strain limits, 0.7 and the free ends"
_FACTORS = _HOW + "; the partial factors are recalled with medium confidence"
_CLOSED = "that debonding is left out for closed wraps is our reading"


@model(
    "frp_shear.tr55_2004",
    predicts="V_f",
    unit="N",
    source=Ref("TR55_2004", "shear chapter"),
    title="Technical Report 55, second edition, FRP term",
    status=(
        Status("memory", _HOW, {"form": "test"}),
        Status("doubtful", _FACTORS, {"form": "design"}),
        Status("doubtful", _CLOSED, {"scheme": "full", "form": "test"}),
        Status("doubtful", f"{_FACTORS}; {_CLOSED}", {"scheme": "full", "form": "design"}),
    ),
    limits=(USUAL_ANGLES,),
    applies=(CROSSES, APART, DEEP, KNOWN_FIBRES, not_anchored(tr55.NO_RULE)),
    choices={"fibre": FIBRES},
    anchored=tr55.ANCHORED,
    governs=governing.by_strain_limits,
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
    fibre: str,
    scheme: str,
    layout: str,
    anchored: bool,
    form: str,
    c_debonding: float = 0.64,
    c_length: float = 0.7,
    eps_max: float = 0.004,
    c_tension: float = 0.18,
    cylinder_to_cube: float = 0.8,
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

    The tensile strength is the document's 0.18 f_cu^(2/3), numerically the 5 % value (0.21 x 0.8^(2/3) = 0.181): a
    measured mean never enters, nor a second 0.7. f_cu = f_c/0.8. Whether this edition projects the bond length of
    inclined fibres on the height is open; it does not here, which lowers V_f. The factor for manufacture is the
    largest of its range (1.05 to 1.2).
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
    f_ct = step("f_ct", c_tension * (f_c / cylinder_to_cube) ** (2 / 3), "MPa", "tensile strength")
    return tr55.contribution(
        E_f=E_f, eps_fu=eps_fu, f_ct=f_ct, n=n, t_f=t_f, w_f=w_f, s_f=s_f, beta=beta, d_fv=d_fv, scheme=scheme,
        layout=layout, c_debonding=c_debonding, c_length=c_length, eps_max=eps_max, inclined=False, step=step,
    )  # fmt: skip
