"""Beams the tests of the FRP models share. Invented, except where a source stands beside them."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Keep, evaluate
from cracktie.models.inch_pound import INCH, PSI

COMMON: dict[str, Any] = {
    "n": 1, "beta": 90.0, "theta": 45.0, "layout": "strips", "anchored": False, "form": "test", "edition": "si",
    "C_E": 1.0, "eta_a": 0.85, "FC": 1.0, "fibre": "carbon", "frp_form": "sheet", "A_sw": 0.0, "s_w": 100.0,
    "E_s": 200e3, "r_corner": 25.0, "h_flange": 0.0, "z_t": 0.0,
}  # fmt: skip

RECTANGULAR: dict[str, Any] = {
    **COMMON, "scheme": "full", "b_w": 300.0, "h": 500.0, "d": 450.0, "d_fv": 450.0, "d_frp": 500.0, "f_c": 30.0,
    "f_cm": 30.0, "f_ctm": 2.3, "f_ctk": 1.6, "t_f": 0.17, "E_f": 230e3, "f_fu": 3400.0, "eps_fu": 3400.0 / 230e3,
    "w_f": 100.0, "s_f": 200.0,
}  # fmt: skip

TEE: dict[str, Any] = {
    **COMMON, "scheme": "u", "b_w": 150.0, "h": 405.0, "d": 360.0, "d_fv": 260.0, "d_frp": 405.0, "h_flange": 100.0,
    "z_t": 100.0, "f_c": 35.0, "f_cm": 35.0, "f_ctm": 2.7, "f_ctk": 1.89, "t_f": 0.165, "E_f": 228e3, "f_fu": 3790.0,
    "eps_fu": 3790.0 / 228e3, "w_f": 50.0, "s_f": 125.0,
}  # fmt: skip
"""Shape and materials of the T-beams of Khalifa and Nanni 2000 as told second-hand, not compared with the paper."""

ACI_TEE: dict[str, Any] = {
    **COMMON, "scheme": "u", "edition": "inch-pound", "form": "design", "C_E": 0.95, "f_c": 3000.0 * PSI,
    "t_f": 0.0065 * INCH, "w_f": 10.0 * INCH, "s_f": 12.0 * INCH, "E_f": 33.0e6 * PSI, "eps_fu": 0.017,
    "d_fv": 16.0 * INCH, "b_w": 12.0 * INCH, "d": 22.0 * INCH,
}  # fmt: skip
"""U-wrapped T-beam example of ACI 440.2R, inputs from memory."""


def value(model: str, beam: dict[str, Any], **changes: Any) -> float:
    """V_f in N of `frp_shear.MODEL`."""
    return float(evaluate(f"frp_shear.{model}", {**beam, **changes}).value)


def steps(model: str, beam: dict[str, Any], *names: str, **changes: Any) -> list[float]:
    """Named intermediates of `frp_shear.MODEL`."""
    keep = Keep(*names)
    evaluate(f"frp_shear.{model}", {**beam, **changes}, step=keep)
    return [float(keep.values[n]) for n in names]
