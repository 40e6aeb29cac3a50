"""Ratios between beams and ratios of differences, each with its interval; no percentage stands without one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from cracktie.stats.scatter import Scatter, log_sd


@dataclass(frozen=True)
class Ratio:
    """A ratio with its interval at `level`. `bound` marks a lower bound: no upper limit may be read from it.

    `critical` is the smallest ratio that this scatter and these numbers of beams could tell from 1. `verdict` is
    'resolved', 'not resolved' or 'lower bound'; never 'no effect'.
    """

    value: float
    low: float
    high: float | None
    level: float
    critical: float
    n: tuple[int, int]
    scatter: Scatter
    bound: bool
    verdict: str

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        dof = self.scatter.dof if math.isfinite(self.scatter.dof) else None
        return {
            "value": self.value, "low": self.low, "high": self.high, "level": self.level, "critical": self.critical,
            "n": list(self.n), "cv": self.scatter.cv, "dof": dof, "scatter": self.scatter.origin,
            "bound": self.bound, "verdict": self.verdict,
        }  # fmt: skip


def t_quantile(p: float, dof: float) -> float:
    """Student's quantile; the normal one for infinite degrees of freedom."""
    from scipy import special

    return float(special.ndtri(p) if math.isinf(dof) else special.stdtrit(dof, p))


def ratio(
    upper: Sequence[float], lower: Sequence[float], scatter: Scatter, *, bound: bool = False, level: float = 0.95
) -> Ratio:
    """Ratio of geometric means upper/lower with a t interval on ln V.

    `bound`: one of `upper` is a lower bound (that beam failed otherwise); the interval then has no upper limit.
    Raises `ValueError` for empty or non-positive values.
    """
    if not upper or not lower or min(*upper, *lower) <= 0:
        raise ValueError("a ratio needs at least one positive value on each side")
    difference = sum(map(math.log, upper)) / len(upper) - sum(map(math.log, lower)) / len(lower)
    u = scatter.s * math.sqrt(1 / len(upper) + 1 / len(lower))
    half = t_quantile(0.5 + level / 2, scatter.dof) * u
    low, high = math.exp(difference - half), math.exp(difference + half)
    if bound:
        verdict = "lower bound, above 1" if low > 1 else "lower bound"
    else:
        verdict = "resolved" if low > 1 or high < 1 else "not resolved"
    value = math.exp(difference)
    sizes = (len(upper), len(lower))
    return Ratio(value, low, None if bound else high, level, math.exp(half), sizes, scatter, bound, verdict)


def critical_ratios(n: tuple[int, int], dof: float, cvs: Sequence[float] = (0.05, 0.08, 0.15)) -> dict[float, float]:
    """Critical ratio for other coefficients of variation, each taken as exactly known (normal quantile)."""
    z = t_quantile(0.975, math.inf)
    return {cv: math.exp(z * log_sd(cv) * math.sqrt(1 / n[0] + 1 / n[1])) for cv in cvs}


def difference_ratio(
    top: float, bottom: float, common: float, u: tuple[float, float, float], dof: float, *, level: float = 0.95
) -> tuple[float, float | None, float | None]:
    """(top - common)/(bottom - common) with Fieller's interval; `u` holds the standard uncertainties of the three.

    The shared `common` correlates numerator and denominator. Limits are None where the denominator cannot be told
    from zero at this level (the interval is then unbounded). Source: Fieller (1954), J. R. Stat. Soc. B 16, 175-185.
    """
    numerator, denominator = top - common, bottom - common
    v11, v22, v12 = u[0] ** 2 + u[2] ** 2, u[1] ** 2 + u[2] ** 2, u[2] ** 2
    t2 = t_quantile(0.5 + level / 2, dof) ** 2
    a = denominator**2 - t2 * v22
    value = numerator / denominator if denominator else math.nan
    if a <= 0:
        return value, None, None
    b = numerator * denominator - t2 * v12
    root = math.sqrt(max(b**2 - a * (numerator**2 - t2 * v11), 0.0))
    return value, (b - root) / a, (b + root) / a
