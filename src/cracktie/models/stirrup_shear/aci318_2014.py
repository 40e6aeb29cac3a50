"""ACI 318-14 section 22.5.10: stirrup contribution of the 45 degree truss."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from cracktie.clause import Applies, Limit, Ref, Status, Step, model, no_step
from cracktie.models.inch_pound import inch, inch2, newton, psi
from cracktie.models.stirrup_shear import governing


class Clauses(NamedTuple):
    """Where an edition of ACI 318 states each part of the stirrup term."""

    vertical: str
    inclined: str
    section: str = "22.5.1.2"
    root: str = "22.5.3.1, extended by us"
    steel: str = "20.2.2.4"


_HERE = Clauses("22.5.10.5.3", "22.5.10.5.4")


def leaning(where: str) -> Applies:
    """Condition shared by the codes: stirrups at 45 to 90 degrees to the axis."""
    return Applies(
        lambda x: (np.asarray(x["alpha_w"]) >= 45.0) & (np.asarray(x["alpha_w"]) <= 90.0),
        "stirrups lean at 45 to 90 degrees to the axis",
        where,
    )


YIELD_CAP = Limit(
    "f_yw", high=420.0, why="ACI 318 counts f_yt up to 420 MPa in design; the test form keeps the measured value"
)


@model(
    "stirrup_shear.aci318_2014",
    predicts="V_s",
    unit="N",
    source=Ref("ACI318_14", "22.5.10.5.3, 22.5.10.5.4, 22.5.1.2"),
    title="ACI 318-14, stirrups",
    status=(
        Status("memory", "coefficients recalled with high confidence; the two editions agree within 1.6 %"),
        Status(
            "checked",
            "vertical stirrups reproduce phi V_s = 36 kips printed for No. 4 at d/2, of an earlier edition",
            {"edition": "inch-pound", "form": "design"},
        ),
    ),
    limits=(YIELD_CAP,),
    applies=(leaning("22.5.10.5.2"),),
    adds_concrete=True,
    governs=governing.by_section_limit,
)
def v_s(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    d: Any,
    f_c: Any,
    b_w: Any,
    form: str,
    edition: str,
    f_yt_max: float = 420.0,
    f_yt_max_psi: float = 60000.0,
    k_max: float = 0.66,
    k_max_psi: float = 8.0,
    root_max: float = 8.3,
    root_max_psi: float = 100.0,
    step: Step = no_step,
) -> Any:
    """V_s in N, at most the section limit of 22.5.1.2. `A_sw` mm2, lengths mm, stresses MPa, `alpha_w` degrees.

    The cap on the yield strength (20.2.2.4, other than welded deformed wire) is a rule of design and is dropped in the
    test form; the section limit stands for crushing and stays. The limit is written as a limit of V_s because it reads
    V_c + V_s <= V_c + 0.66 root(f'c) b_w d. Its root is held at 8.3 MPa as that of V_c, our safe reading: 22.5.3.1
    names the concrete term only (from memory).
    """
    return truss(
        A_sw=A_sw,
        s_w=s_w,
        f_yw=f_yw,
        alpha_w=alpha_w,
        d=d,
        f_c=f_c,
        b_w=b_w,
        f_yt_max={"si": f_yt_max, "inch-pound": f_yt_max_psi}[edition] if form == "design" else None,
        k_max={"si": k_max, "inch-pound": k_max_psi}[edition],
        root_max={"si": root_max, "inch-pound": root_max_psi}[edition],
        edition=edition,
        clauses=_HERE,
        step=step,
    )


def truss(
    *,
    A_sw: Any,
    s_w: Any,
    f_yw: Any,
    alpha_w: Any,
    d: Any,
    f_c: Any,
    b_w: Any,
    f_yt_max: Any,
    k_max: Any,
    root_max: Any,
    edition: str,
    clauses: Clauses,
    step: Step,
) -> Any:
    """V_s in N of any edition; `f_yt_max` is None where the yield strength is not held, else in the edition's unit."""
    lean = np.radians(alpha_w)
    legs = step("legs", np.sin(lean) + np.cos(lean), "-", clauses.inclined)
    if edition == "si":
        f_yt = f_yw
        if f_yt_max is not None:
            f_yt = step("f_yt", np.minimum(f_yw, f_yt_max), "MPa", clauses.steel)
        steel = step("V_s_truss", A_sw * f_yt * legs * d / s_w, "N", clauses.vertical)
        root = step("root_f_c", np.minimum(np.sqrt(f_c), root_max), "MPa", clauses.root)
        most = step("V_s_max", k_max * root * b_w * d, "N", clauses.section)
        return step("V_s", np.minimum(steel, most), "N", clauses.section)
    f_yt = psi(step, "f_yw", f_yw)
    if f_yt_max is not None:
        f_yt = step("f_yt_psi", np.minimum(f_yt, f_yt_max), "psi", clauses.steel)
    depth = inch(step, "d", d)
    steel = inch2(step, "A_sw", A_sw) * f_yt * legs * depth / inch(step, "s_w", s_w)
    steel = step("V_s_truss_lbf", steel, "lbf", clauses.vertical)
    root = step("root_f_c_psi", np.minimum(np.sqrt(psi(step, "f_c", f_c)), root_max), "psi", clauses.root)
    most = step("V_s_max_lbf", k_max * root * inch(step, "b_w", b_w) * depth, "lbf", clauses.section)
    return newton(step, "V_s", step("V_s_lbf", np.minimum(steel, most), "lbf", clauses.section))
