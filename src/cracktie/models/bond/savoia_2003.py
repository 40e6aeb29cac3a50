"""Savoia, Ferracuti and Mazzotti 2003: the law of Nakaba with other coefficients."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.bond.nakaba_2001 import nakaba


@model(
    "bond.savoia_2003",
    predicts="G_f",
    unit="N/mm",
    source=Ref("Savoia_2003", "bond-slip law"),
    title="Savoia and others 2003, bond-slip law",
    status=Status("doubtful", "exponent 2.86 and slip 0.051 mm recalled with medium confidence"),
)
def savoia(
    *,
    f_c: Any,
    c_tau: float = 3.5,
    p_tau: float = 0.19,
    slip_peak: float = 0.051,
    n_law: float = 2.86,
    step: Step = no_step,
) -> Any:
    """G_f in N/mm; law as `bond.nakaba_2001`. `f_c` MPa."""
    return nakaba(f_c=f_c, c_tau=c_tau, p_tau=p_tau, slip_peak=slip_peak, n_law=n_law, step=step)
