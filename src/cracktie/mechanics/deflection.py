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


def curvature_at(moment: Any, curve_moment: Any, curve_curvature: Any) -> Any:
    """Curvature (1/mm) at `moment` (any shape, N mm) on the rising part of one moment-curvature line (points,).

    Straight between the points, through the origin; NaN above the largest moment of the line.
    """
    keep = np.isfinite(curve_moment)
    line_m = np.concatenate([[0.0], np.asarray(curve_moment, dtype=float)[keep]])
    line_c = np.concatenate([[0.0], np.asarray(curve_curvature, dtype=float)[keep]])
    rising = line_m > np.concatenate([[-np.inf], np.maximum.accumulate(line_m)[:-1]])
    line_m, line_c = line_m[rising], line_c[rising]
    return np.interp(moment, line_m, line_c, right=np.nan)


def beam_deflection(
    x: Any,
    moment: Any,
    *,
    span_length: float,
    x_0: float,
    curve_moment: Any,
    curve_curvature: Any,
    stiffness: float,
    cracking: float,
    load_factor: float = 1.0,
) -> float:
    """Deflection (mm) at `x_0` of a simple span under the moments `moment` (N mm) at the stations `x` (mm).

    `curve_*`: moment-curvature of the cracked section (points,); `stiffness`: E I of the uncracked section (N mm2);
    `cracking`: cracking moment (N mm). Tension stiffening after EN 1992-1-1:2004 7.4.3. NaN beyond the strength.
    """
    moment = np.asarray(moment, dtype=float)
    bare = curvature_at(moment, curve_moment, curve_curvature)
    mean = stiffened(moment / stiffness, bare, moment, cracking, load_factor)
    return float(deflection(x, mean, span_length, x_0))
