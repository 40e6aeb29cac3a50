"""Pull-out of spike anchors as this tool reads the published formulas: lesser of both modes, edges, rows, cracks, bend.

The formulas are those of Kim and Smith and of Cook and others for one straight dowel far from edges in uncracked
concrete; everything that is put around them here is ours.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.anchor import cook_1998, factors, kim_smith_2010
from cracktie.models.anchor.hosts import BLIND_END, ENTERS, HOSTS, ROOM, YES_NO, depth
from cracktie.models.anchor.kim_smith_2010 import F_SPLIT, K_CONE, TAU_HIGH, TAU_LOW
from cracktie.models.anchor.own_ranges import told

_OURS = Ref("CRACKTIE", "pull-out of spike anchors")
_AFTER = "coefficients after Kim and Smith 2010, recalled with medium to high confidence and not compared; "
_FACTORS = _AFTER + "factors for edges, rows and splitting by analogy with ACI 318-19 chapter 17, for cracks our own"
_CHOICES = {"host": HOSTS, "cracked": YES_NO, "splitting_steel": YES_NO}
_EDGE = "analogy with ACI 318-19 17.6"
_OWN = "our assumption"


@model(
    "anchor.own_safe_pullout",
    predicts="N_po",
    unit="N",
    source=_OURS,
    title="Pull-out, lesser of cone and combined mode at every embedment (own reading after Kim and Smith 2010)",
    status=Status("doubtful", _AFTER + "taking the lesser of both at every depth is ours"),
    applies=(BLIND_END,),
    choices={"host": HOSTS},
)
def safe_pullout(
    *,
    h_ef: Any,
    d_0: Any,
    f_c: Any,
    host: str,
    k_cone: float = K_CONE,
    tau_low: float = TAU_LOW,
    tau_high: float = TAU_HIGH,
    f_split: float = F_SPLIT,
    step: Step = no_step,
) -> Any:
    """N_po in N of one dowel normal to the face, far from edges, uncracked concrete. mm, MPa (cylinders, mean)."""
    N_cc = kim_smith_2010.cone(h_ef=h_ef, f_c=f_c, host=host, k_cone=k_cone, step=step)
    N_comb = kim_smith_2010.combined(
        h_ef=h_ef, d_0=d_0, f_c=f_c, host=host, tau_low=tau_low, tau_high=tau_high, f_split=f_split, step=step
    )
    return step("N_po", np.minimum(N_cc, N_comb), "N", "our reading")


@model(
    "anchor.own_cone",
    predicts="N_cone",
    unit="N",
    source=_OURS,
    title="Cone of a spike anchor with edge, row, crack and bend (own, after Kim and Smith 2010)",
    status=Status("doubtful", _FACTORS),
    revision=2,
    applies=(BLIND_END, ENTERS),
    choices=_CHOICES,
)
def cone(
    *,
    h_ef: Any,
    f_c: Any,
    theta_b: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    host: str,
    cracked: bool,
    splitting_steel: bool,
    k_cone: float = K_CONE,
    k_cracked: float = 0.7,
    ac: float = 2.0,
    mu: float = 0.0,
    step: Step = no_step,
) -> Any:
    """N_cone in N of one anchor of a row. mm, MPa, deg; `h_ef` along the dowel, its tip is `h_n` deep.

    Ours: `k_cracked` 0.7, range 0.7 to 1 (7.7/11 of EN 1992-4, 1/1.4 of ACI 318). `mu` 0, range 0 to 0.3: friction of
    the fibres around the edge of the hole; nothing published supports it, and 0.3 already means 1.60 at 90 deg.
    """
    h_n = depth(step, host=host, h_ef=h_ef, theta_b=theta_b)
    N_cc = kim_smith_2010.cone(h_ef=h_n, f_c=f_c, host=host, k_cone=k_cone, step=step)
    radius = step("c_cr", 1.5 * h_n, "mm", _EDGE)
    k = _around(
        step, radius=radius, area="A_Nc", h=h_n, c_edge=c_edge, s_a=s_a, n_a=n_a, cracked=cracked,
        splitting_steel=splitting_steel, ac=ac,
    )  # fmt: skip
    k_cr = step("k_cr", k_cracked if cracked else 1.0, "-", told("anchor.own_cone", "k_cracked"))
    k_mu = step("k_mu", np.exp(mu * np.radians(theta_b)), "-", told("anchor.own_cone", "mu"))
    return step("N_cone", k * k_cr * k_mu * N_cc, "N", _OWN)


@model(
    "anchor.own_combined",
    predicts="N_comb_r",
    unit="N",
    source=_OURS,
    title="Combined cone and bond of a spike anchor with edge, row, crack and bend (own, after Kim and Smith 2010)",
    status=Status("doubtful", _FACTORS),
    applies=(BLIND_END, ENTERS),
    choices=_CHOICES,
)
def combined(
    *,
    h_ef: Any,
    d_0: Any,
    f_c: Any,
    theta_b: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    host: str,
    cracked: bool,
    splitting_steel: bool,
    tau_low: float = TAU_LOW,
    tau_high: float = TAU_HIGH,
    f_split: float = F_SPLIT,
    tau_ref: float = 7.6,
    k_cracked: float = 0.5,
    ac: float = 2.0,
    mu: float = 0.0,
    step: Step = no_step,
) -> Any:
    """N_comb_r in N of one anchor of a row. mm, MPa, deg; bond on the wall of the hole `d_0` along the dowel.

    Ours: `k_cracked` 0.5, range 0.3 to 0.6 (adhesives differ). The distance c_Na over which edges and neighbours count
    is that of ACI 318-19 with the hole for the dowel (wider, so safer). EN 1992-4 bounds it by 1.5 h_ef, which
    would let a deeper anchor near an edge be the weaker one. `mu` 0, range 0 to 0.3, as for the cone.
    """
    N_comb = kim_smith_2010.combined(
        h_ef=h_ef, d_0=d_0, f_c=f_c, host=host, tau_low=tau_low, tau_high=tau_high, f_split=f_split, step=step
    )
    tau = np.where(f_c < f_split, tau_low, tau_high)
    radius = step("c_Na", 10.0 * d_0 * np.sqrt(tau / tau_ref), "mm", _EDGE)
    k = _around(
        step, radius=radius, area="A_Na", h=h_ef, c_edge=c_edge, s_a=s_a, n_a=n_a, cracked=cracked,
        splitting_steel=splitting_steel, ac=ac,
    )  # fmt: skip
    k_cr = step("k_cr", k_cracked if cracked else 1.0, "-", told("anchor.own_combined", "k_cracked"))
    k_mu = step("k_mu", np.exp(mu * np.radians(theta_b)), "-", told("anchor.own_combined", "mu"))
    return step("N_comb_r", k * k_cr * k_mu * N_comb, "N", _OWN)


@model(
    "anchor.own_bond",
    predicts="N_bond_r",
    unit="N",
    source=_OURS,
    title="Bond pull-out of a spike anchor with edge, row, crack and bend (own, on the uniform bond model)",
    status=Status(
        "own",
        "uniform bond model of Cook and others with the user's bond strengths; factors for edges, rows and splitting "
        "by analogy with ACI 318-19 chapter 17, for cracks our own; beyond the range of the tests our extension",
    ),
    revision=2,
    applies=(BLIND_END, ENTERS, ROOM),
    choices=_CHOICES,
)
def bond(
    *,
    h_ef: Any,
    d_a: Any,
    d_0: Any,
    tau_a: Any,
    tau_0: Any,
    theta_b: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    host: str,
    cracked: bool,
    splitting_steel: bool,
    tau_ref: float = 7.6,
    k_cracked: float = 0.5,
    ac: float = 2.0,
    mu: float = 0.0,
    step: Step = no_step,
) -> Any:
    """N_bond_r in N of one anchor of a row. mm, MPa, deg; bond strengths as in `anchor.cook_1998`.

    Ours: `k_cracked` 0.5, range 0.3 to 0.6 (adhesives differ); `mu` 0, range 0 to 0.3, as for the cone. c_Na follows
    the stress at the dowel, or that at the hole if it gives more. Outside the 4.5 to 25 dowel diameters of the tests
    the mode still exists, so it keeps a value: below, the same mean stress; above, only the first 25 diameters count.
    """
    h_b = step("h_bond", np.minimum(h_ef, cook_1998.LONGEST * d_a), "mm", _OWN)
    N_bond = cook_1998.bond(h_ef=h_b, d_a=d_a, d_0=d_0, tau_a=tau_a, tau_0=tau_0, host=host, step=step)
    wide = np.maximum(d_a * np.sqrt(tau_a / tau_ref), d_0 * np.sqrt(tau_0 / tau_ref))
    radius = step("c_Na", 10.0 * wide, "mm", _EDGE)
    k = _around(
        step, radius=radius, area="A_Na", h=h_ef, c_edge=c_edge, s_a=s_a, n_a=n_a, cracked=cracked,
        splitting_steel=splitting_steel, ac=ac,
    )  # fmt: skip
    k_cr = step("k_cr", k_cracked if cracked else 1.0, "-", told("anchor.own_bond", "k_cracked"))
    k_mu = step("k_mu", np.exp(mu * np.radians(theta_b)), "-", told("anchor.own_bond", "mu"))
    return step("N_bond_r", k * k_cr * k_mu * N_bond, "N", _OWN)


def _around(
    step: Step,
    *,
    radius: Any,
    area: str,
    h: Any,
    c_edge: Any,
    s_a: Any,
    n_a: Any,
    cracked: bool,
    splitting_steel: bool,
    ac: float,
) -> Any:
    """Share of the row, edge and splitting factors multiplied."""
    share = factors.share_of_row(step, area, radius=radius, c_edge=c_edge, s_a=s_a, n_a=n_a, where=_EDGE)
    psi_ed = step("psi_ed", factors.edge(c_edge=c_edge, radius=radius), "-", _EDGE)
    value = factors.splitting(
        c_edge=c_edge, radius=radius, h_ef=h, ac=ac, cracked=cracked, splitting_steel=splitting_steel
    )
    return share * psi_ed * step("psi_cp", value, "-", _EDGE)
