"""Kim and Smith 2010: pull-out and rupture of isolated straight FRP anchors in uncracked concrete, mean values.

Every coefficient is recalled with medium to high confidence and was never compared with the paper; that is why each
title says 'after Kim and Smith'.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.models.anchor.hosts import BLIND_END, HOSTS

K_CONE = 9.68
"""N/(mm^1.5 MPa^0.5)"""
TAU_LOW, TAU_HIGH = 4.62, 9.07
"""MPa on the wall of the hole, for f_c below and from F_SPLIT."""
F_SPLIT = 20.0
H_SPLIT = 50.0
ETA_STRAIGHT = 0.59

_KEY = "KimSmith2010"
_HOW = "two independent recollections agree on the coefficients with medium to high confidence; the paper was not read"
_STATUS = Status("doubtful", _HOW)
_CHOICES = {"host": HOSTS}
DEEPEST = Limit("h_ef", high=100.0, why="deepest embedments of the tests, from memory, medium confidence")


@model(
    "anchor.kim_smith_2010.cone",
    predicts="N_cc",
    unit="N",
    source=Ref(_KEY, "concrete cone"),
    title="Concrete cone after Kim and Smith 2010, not compared with the paper",
    status=_STATUS,
    limits=(Limit("h_ef", high=H_SPLIT, why="the cone formula is published for embedments below 50 mm"),),
    applies=(BLIND_END,),
    choices=_CHOICES,
)
def cone(*, h_ef: Any, f_c: Any, host: str, k_cone: float = K_CONE, step: Step = no_step) -> Any:
    """N_cc in N of a single dowel far from edges, normal to the face. `h_ef` mm, `f_c` MPa (cylinders, mean)."""
    return step("N_cc", k_cone * h_ef**1.5 * np.sqrt(f_c), "N", "concrete cone")


@model(
    "anchor.kim_smith_2010.combined",
    predicts="N_comb",
    unit="N",
    source=Ref(_KEY, "combined cone and bond"),
    title="Combined cone and bond after Kim and Smith 2010, not compared with the paper",
    status=_STATUS,
    limits=(
        Limit(
            "h_ef", H_SPLIT, 100.0, "published from 50 mm; deepest tests about 100 mm, from memory, medium confidence"
        ),
    ),
    applies=(BLIND_END,),
    choices=_CHOICES,
)
def combined(
    *,
    h_ef: Any,
    d_0: Any,
    f_c: Any,
    host: str,
    tau_low: float = TAU_LOW,
    tau_high: float = TAU_HIGH,
    f_split: float = F_SPLIT,
    step: Step = no_step,
) -> Any:
    """N_comb in N: mean bond stress on the wall of the HOLE (`d_0`, not the dowel). mm, MPa (cylinders, mean)."""
    tau = step("tau_0", np.where(f_c < f_split, tau_low, tau_high), "MPa", text="tau_low below f_split, else tau_high")
    return step("N_comb", tau * np.pi * d_0 * h_ef, "N", "combined cone and bond")


@model(
    "anchor.kim_smith_2010.pullout",
    predicts="N_po",
    unit="N",
    source=Ref(_KEY, "pull-out, both branches"),
    title="Pull-out as published after Kim and Smith 2010, not compared with the paper",
    status=_STATUS,
    limits=(DEEPEST,),
    applies=(BLIND_END,),
    choices=_CHOICES,
)
def pullout(
    *,
    h_ef: Any,
    d_0: Any,
    f_c: Any,
    host: str,
    k_cone: float = K_CONE,
    tau_low: float = TAU_LOW,
    tau_high: float = TAU_HIGH,
    f_split: float = F_SPLIT,
    h_split: float = H_SPLIT,
    step: Step = no_step,
) -> Any:
    """N_po in N: the cone below 50 mm of embedment, the combined mode from there on. mm, MPa.

    The two formulas do not meet at 50 mm in general: the value may jump there by some 20 %, and either may exceed the
    other mode. `anchor.own_safe_pullout` takes the lesser of both at every depth.
    """
    tau = step("tau_0", np.where(f_c < f_split, tau_low, tau_high), "MPa", text="tau_low below f_split, else tau_high")
    value = np.where(h_ef < h_split, k_cone * h_ef**1.5 * np.sqrt(f_c), tau * np.pi * d_0 * h_ef)
    return step("N_po", value, "N", "cone below h_split, combined mode from there")


@model(
    "anchor.kim_smith_2010.fibre",
    predicts="F_fs",
    unit="N",
    source=Ref(_KEY, "anchor rupture"),
    title="Rupture of a straight anchor after Kim and Smith 2010, not compared with the paper",
    status=Status("doubtful", _HOW + "; 0.59 belongs to anchors rolled by hand from dry sheet"),
    choices=_CHOICES,
)
def fibre(*, A_a: Any, f_fa: Any, host: str, eta_str: float = ETA_STRAIGHT, step: Step = no_step) -> Any:
    """F_fs in N. `A_a` dry-fibre area in mm2 (width times thickness of the rolled sheet), `f_fa` MPa of flat coupons.

    Made ropes and bundles do better: put a tested efficiency in place of 0.59 where there is one.
    """
    return step("F_fs", eta_str * A_a * f_fa, "N", "anchor rupture")
