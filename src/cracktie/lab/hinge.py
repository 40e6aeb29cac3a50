"""Two straight lines that meet: least squares over the place of the kink."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Hinge:
    """Kink at abscissa `at` (standard uncertainty `u_at`) with ordinate `value` (`u_value`).

    `p_value` belongs to the F-test of the second line (one more slope, one more place).
    """

    at: float
    value: float
    u_at: float
    u_value: float
    slope_before: float
    slope_after: float
    p_value: float


def fit_hinge(x: Any, y: Any, *, candidates: int = 80) -> Hinge | None:
    """Continuous two-line fit; None for fewer than six points or points without spread.

    The sum of squares is searched on a grid of quantiles of x and refined between the neighbours of the best.
    """
    from scipy import optimize, special

    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if a.size < 6 or np.ptp(a) == 0.0:
        return None
    origin, width = float(a.min()), float(np.ptp(a))
    s = (a - origin) / width
    grid = np.unique(np.quantile(s, np.linspace(0.03, 0.97, candidates)))
    grid = grid[(grid > s.min()) & (grid < s.max())]
    if grid.size < 2:
        return None
    sums = _sums(s, b, grid)
    best = int(np.argmin(sums))
    low, high = grid[max(0, best - 1)], grid[min(grid.size - 1, best + 1)]
    found = optimize.minimize_scalar(
        lambda k: _fit(s, b, k)[0], bounds=(low, high), method="bounded", options={"xatol": 1e-9}
    )
    place = float(found.x) if found.fun <= sums[best] else float(grid[best])
    sse, coefficients = _fit(s, b, place)
    line = np.polyfit(s, b, 1)
    sse_line = float(((b - np.polyval(line, s)) ** 2).sum())
    dof = a.size - 4
    variance = sse / dof if dof > 0 else 0.0
    scale = float(np.ptp(b)) ** 2 * a.size
    if sse <= 1e-20 * scale:
        p_value = 0.0 if sse_line > 1e-18 * scale else 1.0
    else:
        p_value = float(special.fdtrc(2, dof, max(0.0, (sse_line - sse) / 2.0 / variance)))
    level, slope, change = coefficients
    u_place = _place_error(s, place, change, variance)
    u_value = math.hypot(u_place * abs(slope + 0.5 * change), math.sqrt(variance / a.size) * 2.0)
    return Hinge(
        origin + width * place,
        float(level + slope * place),
        width * u_place,
        u_value,
        float(slope / width),
        float((slope + change) / width),
        p_value,
    )


def _sums(s: Any, y: Any, places: Any) -> Any:
    """Sums of squares of the fits with a kink at each of the places: what a kink adds to the straight line's fit."""
    basis, _ = np.linalg.qr(np.column_stack((np.ones_like(s), s)))
    rest = y - basis @ (basis.T @ y)
    bends = np.maximum(s[:, None] - places, 0.0)
    bends -= basis @ (basis.T @ bends)
    lengths = np.maximum((bends**2).sum(axis=0), 1e-30)
    return rest @ rest - (rest @ bends) ** 2 / lengths


def _fit(s: Any, y: Any, place: float) -> tuple[float, Any]:
    matrix = np.column_stack((np.ones_like(s), s, np.maximum(s - place, 0.0)))
    coefficients, *_ = np.linalg.lstsq(matrix, y, rcond=None)
    return float(((y - matrix @ coefficients) ** 2).sum()), coefficients


def _place_error(s: Any, place: float, change: float, variance: float) -> float:
    """First-order standard error of the place, from the linearised fit of level, slopes and place."""
    if variance == 0.0 or change == 0.0:
        return 0.0
    after = (s > place).astype(float)
    matrix = np.column_stack((np.ones_like(s), s, np.maximum(s - place, 0.0), -change * after))
    covariance = variance * np.linalg.pinv(matrix.T @ matrix)
    return math.sqrt(max(0.0, float(covariance[3, 3])))
