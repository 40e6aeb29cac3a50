"""Stiffness of an anchor against slip of the fan: embedded dowel and free length at the bend in series."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.anchor.hosts import HOSTS
from cracktie.models.anchor.own_ranges import told

_ID = "anchor.own_stiffness"


@model(
    _ID,
    predicts="k_anchor",
    unit="N/mm",
    source=Ref("CRACKTIE", "stiffness of spike anchors"),
    title="Stiffness of a spike anchor before its peak (own)",
    status=Status("own", "elastic bar in an elastic bed; few load-slip curves are published and none was compared"),
    choices={"host": HOSTS},
)
def stiffness(
    *,
    h_ef: Any,
    d_a: Any,
    d_0: Any,
    A_a: Any,
    E_fa: Any,
    theta_b: Any,
    r_edge: Any,
    host: str,
    k_bed: float = 100.0,
    l_0: float = 20.0,
    c_dowel: float = 0.5,
    step: Step = no_step,
) -> Any:
    """k_anchor in N/mm of one anchor. mm, mm2 (dry fibre), MPa, deg.

    Ours: bed of the dowel `k_bed` 100, range 50 to 200 MPa/mm (slip modulus on the wall of the hole); free length
    r_edge theta_b + `c_dowel` d_a + `l_0` with `c_dowel` 0.5, range 0 to 1, and `l_0` 20, range 0 to 50 mm. The far end
    of the dowel is free; for dowels through flange or web, held there, the value is a lower bound. The lap of the fan
    is taken as rigid.
    """
    EA = step("EA_a", E_fa * A_a, "N", "dry fibre")
    lam = step("lambda_a", np.sqrt(np.pi * d_0 * k_bed / EA), "1/mm", told(_ID, "k_bed"))
    k_emb = step("k_emb", EA * lam * np.tanh(lam * h_ef), "N/mm", "bar in an elastic bed")
    l_free = step("l_free", r_edge * np.radians(theta_b) + c_dowel * d_a + l_0, "mm", told(_ID, "c_dowel", "l_0"))
    return step("k_anchor", 1.0 / (1.0 / k_emb + l_free / EA), "N/mm", "in series")
