"""What the 2008 and 2017 editions of ACI 440.2R share: strain laws, tables and limits of chapter 11.

The inch-pound edition is evaluated in its own units (psi, in, kip) with its own rounded constants: 468 in and 2500 in
are 11 887 mm and 23 116 mm, printed in the metric edition as 11 900 and 23 300, so the two differ by 1 to 2 %.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.clause import Status, Step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear.conditions import TRUSS
from cracktie.models.inch_pound import INCH, KIP, LBF, PSI, inch, psi

ENVIRONMENT: Mapping[tuple[str, str], float] = {
    ("carbon", "interior"): 0.95,
    ("carbon", "exterior"): 0.85,
    ("carbon", "aggressive"): 0.85,
    ("glass", "interior"): 0.75,
    ("glass", "exterior"): 0.65,
    ("glass", "aggressive"): 0.50,
    ("aramid", "interior"): 0.85,
    ("aramid", "exterior"): 0.75,
    ("aramid", "aggressive"): 0.70,
}
"""C_E by (fibre, exposure), Table 9.4 (2017) or 9.1 (2008); from memory with high confidence."""

STATUS = (
    Status(
        "memory",
        "two independent recollections agree on every coefficient; constants, k_2 and caps also met in public text; "
        "the two unit editions agree within 3 %; the T-beam example is met as recalled",
    ),
    Status(
        "doubtful",
        "the strain law of the unanchored scheme, which the document lets tests replace; clause text recalled",
        {"anchored": True},
    ),
    Status("memory", "closed wraps have no ends to anchor", {"scheme": "full", "anchored": True}),
)

ANCHORED = (
    "ACI 440.2R, 11.4.1.2: anchorage at the ends may develop larger forces; its effectiveness and the stress it gives "
    "must be shown by representative tests, and the effective strain may in no case exceed 0.004 (from memory, high "
    "confidence). The value here is the one without anchorage; `eps_fe_cap` is the most that tests could justify. "
    "Section 1.2 of the 2017 edition adds that no design guideline for anchorage exists."
)


@dataclass(frozen=True)
class Places:
    """Where the edition prints each formula."""

    area: str
    force: str
    stress: str
    environment: str
    closed: str
    open: str
    k_v: str
    L_e: str
    k_1: str
    k_2: str


@dataclass(frozen=True)
class Constants:
    """Coefficients of one unit edition."""

    edition: str
    c_L: float
    p_L: float
    f_1: float
    c_v: float
    k_v_max: float
    k_cap: float
    eps_max: float


def psi_f(scheme: str) -> float:
    """Additional reduction factor on V_f: 0.95 for closed wraps, 0.85 for U-wraps and side bonding."""
    return 0.95 if scheme == "full" else 0.85


def steel_and_frp_max(*, f_c: Any, b_w: Any, d: Any, edition: str) -> Any:
    """Largest V_s + V_f in N: 0.66 sqrt(f'c) b_w d, or 8 sqrt(f'c) b_w d in psi and in."""
    if edition == "si":
        return 0.66 * np.sqrt(f_c) * b_w * d
    return 8.0 * np.sqrt(f_c / PSI) * b_w * d / INCH**2 * LBF


def spacing_centres_max(*, w_f: Any, d: Any) -> Any:
    """Largest strip spacing in mm, centre to centre along the axis: w_f + d/4 (a quarter of d is the CLEAR gap)."""
    return w_f + d / 4.0


def open_strain(
    *, f_c: Any, stiffness: Any, eps_fu: Any, d_fv: Any, ends: float, values: Constants, at: Places, step: Step,
) -> Any:  # fmt: skip
    """kappa_v eps_fu of U-wraps (`ends` 1) and side bonding (`ends` 2), uncapped; all in the edition's units."""
    inches = values.edition == "inch-pound"
    L_e = step("L_e_in" if inches else "L_e", values.c_L / stiffness**values.p_L, "in" if inches else "mm", at.L_e)
    k_1 = step("k_1", (f_c / values.f_1) ** (2 / 3), "-", at.k_1)
    k_2 = step("k_2", np.maximum((d_fv - ends * L_e) / d_fv, 0.0), "-", at.k_2)
    k_v = np.minimum(k_1 * k_2 * L_e / (values.c_v * eps_fu), values.k_v_max)
    return step("k_v", k_v, "-", at.k_v) * eps_fu


def contribution(
    *, f_c: Any, n: Any, t_f: Any, w_f: Any, s_f: Any, beta: Any, E_f: Any, eps_fu: Any, d_fv: Any, C_E: Any,
    scheme: str, layout: str, form: str, values: Constants, at: Places, step: Step,
) -> Any:  # fmt: skip
    """V_f in N without psi_f; arguments as in the registered models."""
    inches = values.edition == "inch-pound"
    if form == "design":
        eps_fu = step("eps_fu_d", C_E * eps_fu, "-", at.environment)
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    if inches:
        f_c, E_f = psi(step, "f_c", f_c), psi(step, "E_f", E_f)
        t_f, d_fv = inch(step, "t_f", t_f), inch(step, "d_fv", d_fv)
    closed = np.minimum(values.eps_max, values.k_cap * eps_fu)
    step("eps_fe_cap", closed, "-", at.closed if scheme == "full" else at.open)
    if scheme == "full":
        eps_fe = step("eps_fe", closed, "-", at.closed)
    else:
        eps_v = open_strain(
            f_c=f_c, stiffness=n * t_f * E_f, eps_fu=eps_fu, d_fv=d_fv, ends=1.0 if scheme == "u" else 2.0,
            values=values, at=at, step=step,
        )  # fmt: skip
        eps_fe = step("eps_fe", np.minimum(eps_v, values.eps_max), "-", at.open)
    a_fv = geometry.area_per_length(n=n, t_f=t_f, ratio=ratio)
    across = geometry.truss_factor_45(beta=beta)
    if not inches:
        a_fv = step("a_fv", a_fv, "mm2/mm", at.area)
        return step("V_f", a_fv * step("f_fe", eps_fe * E_f, "MPa", at.stress) * across * d_fv, "N", at.force)
    f_fe = step("f_fe_ksi", eps_fe * E_f / 1000.0, "ksi", at.stress)
    force = step("V_f_kip", step("a_fv_in", a_fv, "in2/in", at.area) * f_fe * across * d_fv, "kip", at.force)
    return step("V_f", force * KIP, "N", text="unit of the edition")
