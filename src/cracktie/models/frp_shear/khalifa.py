"""What the models after Khalifa share: stress ratio at rupture, bond ratios of 1998 and 2000, range of the fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from cracktie.clause import Applies, Step
from cracktie.mechanics import frp_geometry as geometry
from cracktie.models.frp_shear.conditions import TRUSS, not_anchored, only_test

ANCHORED = (
    "Khalifa and others leave the bond check out where the ends are effectively anchored: rupture and aggregate "
    "interlock govern (from memory, high confidence). What an anchor can deliver is not part of the value."
)
TEST_ONLY = only_test(
    "its factors (0.70 on V_f beside 0.85) belong to load factors no longer in use: no design form here", "design"
)
NO_SIDE_ANCHORS = not_anchored("no rule for side strips with anchored ends is known to us", schemes=("side",))
RHO_E_MAX = 1.1
"""GPa: end of the tests behind the rupture parabola, which turns up beyond 1.08 GPa."""


def stiffness(*, n: Any, t_f: Any, w_f: Any, s_f: Any, beta: Any, E_f: Any, b_w: Any, layout: str) -> Any:
    """rho_f E_f in GPa."""
    ratio = geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta)
    return geometry.ratio_of_web(n=n, t_f=t_f, ratio=ratio, b_w=b_w) * E_f / 1000.0


def _within(inputs: Mapping[str, Any]) -> Any:
    names = ("n", "t_f", "w_f", "s_f", "beta", "E_f", "b_w", "layout")
    return stiffness(**{n: inputs[n] for n in names}) <= RHO_E_MAX


WITHIN_FIT = Applies(
    _within,
    f"rho_f E_f at most {RHO_E_MAX} GPa: the parabola of the rupture ratio is a fit and turns up beyond",
    "rupture ratio",
)


def ratio_and_stiffness(
    *, n: Any, t_f: Any, w_f: Any, s_f: Any, beta: Any, E_f: Any, b_w: Any, layout: str, step: Step
) -> tuple[Any, Any]:
    """w_f/s_f along the axis and rho_f E_f in GPa, recorded."""
    ratio = step("r_f", geometry.along_axis(layout=layout, w_f=w_f, s_f=s_f, beta=beta), "-", TRUSS)
    rho_f = step("rho_f", geometry.ratio_of_web(n=n, t_f=t_f, ratio=ratio, b_w=b_w), "-", "FRP ratio")
    return ratio, step("rho_E_f", rho_f * E_f / 1000.0, "GPa", "FRP ratio times modulus")


def rupture(
    *, rho_E: Any, eps_fu: Any, q: tuple[float, float, float], R_max: float, eps_lock: float, step: Step
) -> Any:
    """f_fe/f_fu at rupture, capped for aggregate interlock; `rho_E` in GPa."""
    R = np.minimum(q[0] * rho_E**2 - q[1] * rho_E + q[2], R_max)
    R = step("R_rupture", R, "-", "rupture ratio")
    return step("R_closed", np.minimum(R, eps_lock / eps_fu), "-", "aggregate interlock")


def bond_1998(*, f_c: Any, t: Any, E_f: Any, eps_fu: Any, d_fv: Any, ends: float, c: float, step: Step) -> Any:
    """f_fe/f_fu at debonding after the 1998 paper."""
    tE = step("tE_f", t * E_f / 1000.0, "GPa mm", "bond ratio 1998")
    L_e = step("L_e", np.exp(6.134 - 0.58 * np.log(tE)), "mm", "bond ratio 1998")
    w_fe = step("w_fe", np.maximum(d_fv - ends * L_e, 0.0), "mm", "effective width")
    return step("R_bond", c * f_c ** (2 / 3) * w_fe / (tE**0.58 * eps_fu * d_fv), "-", "bond ratio 1998")


def bond_2000(
    *, f_c: Any, t: Any, E_f: Any, eps_fu: Any, d_fv: Any, ends: float, c: tuple[float, float, float], step: Step
) -> Any:
    """f_fe/f_fu at debonding after the 2000 paper."""
    tE = step("tE_f", t * E_f / 1000.0, "GPa mm", "bond ratio 2000")
    w_fe = step("w_fe", np.maximum(d_fv - ends * c[2], 0.0), "mm", "effective width")
    R = f_c ** (2 / 3) * w_fe / (eps_fu * d_fv) * (c[0] - c[1] * tE) * 1e-6
    return step("R_bond", R, "-", "bond ratio 2000")


def force(*, R: Any, n: Any, t_f: Any, ratio: Any, beta: Any, f_fu: Any, d_fv: Any, step: Step) -> Any:
    """V_f in N for the effective stress R f_fu."""
    f_fe = step("f_fe", R * f_fu, "MPa", "effective stress")
    a_fv = step("a_fv", geometry.area_per_length(n=n, t_f=t_f, ratio=ratio), "mm2/mm", TRUSS)
    return step("V_f", a_fv * f_fe * geometry.truss_factor_45(beta=beta) * d_fv, "N", "truss at 45 deg")
