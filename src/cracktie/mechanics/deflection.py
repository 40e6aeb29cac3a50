"""Deflection of a simple span from its curvatures, with tension stiffening. Shear deformation is not included.

After diagonal cracking a beam that is weak in shear deflects more than these expressions say.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def unit_moment(x: Any, span_length: Any, x_0: Any) -> Any:
    """Moment (N mm) along `x` (mm from the left support) of a unit force at `x_0`."""
    return np.where(x <= x_0, x * (span_length - x_0), x_0 * (span_length - x)) / span_length


def deflection(x: Any, curvature: Any, span_length: Any, x_0: Any) -> Any:
    """Deflection (mm, down) at `x_0`: integral of curvature (1/mm, sagging) times unit moment along the last axis.

    Trapezoidal rule on the stations `x`, ascending from 0 to the span. Put stations at the loads and at `x_0`, where
    the integrand has kinks; the error then falls with the square of the step.
    """
    product = np.asarray(curvature) * unit_moment(np.asarray(x, dtype=float), span_length, x_0)
    return (0.5 * (product[..., 1:] + product[..., :-1]) * np.diff(np.asarray(x, dtype=float))).sum(axis=-1)


def stiffened(state_1: Any, state_2: Any, moment: Any, cracking: Any, load_factor: Any = 1.0) -> Any:
    """Mean curvature between uncracked and cracked, EN 1992-1-1:2004 7.4.3 (7.18), (7.19).

    zeta = 1 - load_factor (M_cr/M)^2 above the cracking moment (0 below); `load_factor` 1.0 for a first short-term
    loading, 0.5 for sustained or repeated loading. Moments N mm.
    """
    moment, cracking = np.asarray(moment, dtype=float), np.asarray(cracking, dtype=float)
    ratio = cracking / np.maximum(np.abs(moment), 1e-300)
    zeta = np.where(np.abs(moment) > cracking, 1.0 - load_factor * np.minimum(ratio, 1.0) ** 2, 0.0)
    return zeta * state_2 + (1.0 - zeta) * state_1


def branson(moment: Any, cracking: Any, I_gross: Any, I_cracked: Any) -> Any:
    """Effective second moment of area (mm4) of ACI 318-14 (24.2.3.5a); gross up to the cracking moment."""
    share = np.minimum(cracking / np.maximum(moment, 1e-300), 1.0) ** 3
    return np.minimum(share * I_gross + (1.0 - share) * I_cracked, I_gross)


def bischoff(moment: Any, cracking: Any, I_gross: Any, I_cracked: Any, share: float = 2.0 / 3.0) -> Any:
    """Effective second moment of area (mm4) of ACI 318-19 24.2.3.5; `share` 1 gives the mean form of Bischoff (2005).

    Gross up to `share` times the cracking moment, where the document allows for restrained shrinkage.
    """
    ratio = np.minimum(share * cracking / np.maximum(moment, 1e-300), 1.0)
    return np.minimum(I_cracked / (1.0 - ratio**2 * (1.0 - I_cracked / I_gross)), I_gross)
