"""A small model for tests only: it uses every construction a sheet must write. Its formula means nothing."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit, Model, Ref, Status, Step, no_step


def tiny(
    *,
    f_c: Any,
    n: Any,
    t_f: Any,
    E_f: Any,
    eps_fu: Any,
    beta: Any,
    theta: Any,
    d_fv: Any,
    scheme: str,
    k_bond: float = 23300.0,
    eps_max: float = 0.004,
    step: Step = no_step,
) -> Any:
    """Powers, fractions of integers, np.where, extremes, trigonometry, logic, an opaque step and a bare constant."""
    l_e = step("L_e", k_bond / (n * t_f * E_f) ** 0.58, "mm", "(1)")
    k_1 = step("k_1", (f_c / 27.0) ** (2 / 3) * np.exp(-np.log(f_c) / 12), "-", "(2)")
    ends = step("ends", {"side": 2.0, "u": 1.0, "full": 0.0}[scheme], "-", "(3)")
    k_2 = step("k_2", np.maximum(d_fv - ends * l_e, 0.0) / d_fv, "-", "(3)")
    thick = (n * t_f > 0.5) & ~(f_c < 25.0)
    k_t = step("k_t", np.where(thick, 1 - (2 - k_2), np.where(k_2 <= 0.2, -k_1, k_1**2 / 3)), "-", "(4)")
    root = step("root", _kernel(np.asarray(f_c, dtype=float)), "-", "(5)", text="root of x^3 = f_c by iteration")
    eps = step("eps_fe", np.minimum(np.minimum(np.abs(k_t) * eps_fu, eps_max), 0.75 * eps_fu), "-", "(6)")
    lean = np.sin(np.radians(beta)) / np.tan(np.radians(theta)) + np.cos(np.radians(beta))
    angle = step("angle", np.degrees(np.arctan(np.sqrt(f_c) / root)), "deg", "(7)")
    return step("V_f", 2 * n * t_f * E_f * eps * lean**2 * d_fv * (1 + 0.001 * angle), "N", "(8)")


def _kernel(x: Any) -> Any:
    return np.cbrt(x)


TINY = Model(
    id="local.tiny",
    func=tiny,
    predicts="V_f",
    unit="N",
    source=Ref("TINY", "no document"),
    title="Test model without meaning",
    status=(
        Status("own", "made for tests"),
        Status("doubtful", "made for tests, side", when={"scheme": "side"}),
    ),
    limits=(Limit("f_c", 20.0, 40.0, "range made up for tests"),),
    applies=(Applies(lambda x: np.asarray(x["d_fv"]) > 150.0, "the FRP must be more than 150 mm deep", "(0)"),),
)
