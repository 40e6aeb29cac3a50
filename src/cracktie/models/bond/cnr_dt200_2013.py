"""CNR-DT 200 R1/2013 section 4.1: fracture energy, bond law and strength of a bonded joint."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.bond.conditions import COVERED

_HOW = "two independent recollections agree on the design form; the end slip 0.25 mm is recalled with medium confidence"
_STATUS = (
    Status("doubtful", _HOW + "; the mean coefficients 0.063 and 0.077 mm are less certain"),
    Status("memory", _HOW, {"form": "design"}),
)
_FORMS: dict[str, tuple[str, ...]] = {"frp_form": ("sheet", "laminate")}


def _energy(
    step: Step, *, f_cm: Any, f_ctm: Any, cover: Any, FC: Any, frp_form: str, form: str, k: tuple[float, ...]
) -> Any:
    """Gamma_F in N/mm, not yet a step; `k` = mean sheet, mean laminate, design sheet, design laminate."""
    wide = np.maximum(cover, 0.25)
    k_b = step("k_b", np.maximum(np.sqrt((2.0 - wide) / (1.0 + wide)), 1.0), "-", "4.1, width factor")
    k_G = k[2 * (form == "design") + (frp_form == "laminate")]
    root = np.sqrt(f_cm * f_ctm)
    return k_b * k_G * root / FC if form == "design" else k_b * k_G * root


@model(
    "bond.cnr_dt200_2013",
    predicts="G_f",
    unit="N/mm",
    source=Ref("CNR_DT200_R1_13", "4.1"),
    title="CNR-DT 200 R1/2013, bond-slip law",
    status=_STATUS,
    applies=(COVERED,),
    choices=_FORMS,
)
def law(
    *,
    f_cm: Any,
    f_ctm: Any,
    cover: Any,
    FC: Any,
    frp_form: str,
    form: str,
    k_G_sheet_mean: float = 0.077,
    k_G_laminate_mean: float = 0.063,
    k_G_sheet: float = 0.037,
    k_G_laminate: float = 0.023,
    s_u: float = 0.25,
    slip_rise: float = 0.025,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm. `f_cm`, `f_ctm` mean strengths in MPa in both forms; `FC` acts in the design form only.

    The bond length of the document belongs to a law that falls from its largest stress at once. Ours: a rise over
    `slip_rise` mm, without which no state at small slips exists.
    """
    k = (k_G_sheet_mean, k_G_laminate_mean, k_G_sheet, k_G_laminate)
    G = _energy(step, f_cm=f_cm, f_ctm=f_ctm, cover=cover, FC=FC, frp_form=frp_form, form=form, k=k)
    step("tau_max", 2.0 * G / s_u, "MPa", "4.1, bond strength f_bd")
    step("slip_0", slip_rise, "mm", "assumed")
    step("slip_f", s_u, "mm", "4.1, end slip s_u")
    return step("G_f", G, "N/mm", "4.1, Gamma_F")


@model(
    "bond.cnr_dt200_2013.strength",
    predicts="P_u",
    unit="N",
    source=Ref("CNR_DT200_R1_13", "4.1"),
    title="CNR-DT 200 R1/2013, strength of a bonded joint",
    status=_STATUS,
    applies=(COVERED,),
    choices=_FORMS,
)
def strength(
    *,
    f_cm: Any,
    f_ctm: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    w_f: Any,
    L_b: Any,
    cover: Any,
    FC: Any,
    frp_form: str,
    form: str,
    k_G_sheet_mean: float = 0.077,
    k_G_laminate_mean: float = 0.063,
    k_G_sheet: float = 0.037,
    k_G_laminate: float = 0.023,
    s_u: float = 0.25,
    gamma_Rd_length: float = 1.25,
    gamma_fd: float = 1.20,
    l_ed_min: float = 200.0,
    step: Step = no_step,
) -> Any:
    """P_u in N of a strip of width `w_f` bonded over `L_b` mm; else as the law.

    In the test form both partial factors are 1 and l_ed has no floor of 200 mm.
    """
    k = (k_G_sheet_mean, k_G_laminate_mean, k_G_sheet, k_G_laminate)
    G = _energy(step, f_cm=f_cm, f_ctm=f_ctm, cover=cover, FC=FC, frp_form=frp_form, form=form, k=k)
    G = step("Gamma_F", G, "N/mm", "4.1")
    t = n * t_f
    design = form == "design"
    f_bd = step("f_bd", 2.0 * G / s_u, "MPa", "4.1")
    l_ed = np.sqrt(np.pi**2 * E_f * t * G / 2.0) / ((gamma_Rd_length if design else 1.0) * f_bd)
    l_ed = step("l_ed", np.maximum(l_ed, l_ed_min) if design else l_ed, "mm", "4.1, bond length")
    f_fdd = np.sqrt(2.0 * E_f * G / t) / (gamma_fd if design else 1.0)
    f_fdd = step("f_fdd", f_fdd, "MPa", "4.1, debonding stress")
    short = step("lambda_1", np.minimum(L_b / l_ed, 1.0), "-", "4.1, short bond lengths")
    beta_L = step("beta_L", short * (2.0 - short), "-", "4.1, short bond lengths")
    return step("P_u", beta_L * f_fdd * t * w_f, "N", "4.1")
