"""Measurement uncertainty after JCGM 100:2008 (GUM): first order, with correlation and degrees of freedom."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError


@dataclass(frozen=True)
class Propagated:
    """Value with its combined standard uncertainty.

    `sensitivities` are the partial derivatives, `contributions` are |c_i| u_i; both in the order of the inputs.
    `dof` is the effective number of degrees of freedom (infinite where every input is known that well).
    """

    value: float
    u: float
    sensitivities: Mapping[str, float]
    contributions: Mapping[str, float]
    dof: float

    def expanded(self, level: float = 0.95) -> float:
        """Half-width k u of the interval of that coverage, with Student's t for `dof` cut to a whole number."""
        return coverage_factor(level, self.dof) * self.u

    def dominant(self) -> str:
        """Name of the input with the largest contribution."""
        return max(self.contributions, key=lambda name: self.contributions[name])


def propagate(
    function: Callable[..., float],
    values: Mapping[str, float],
    u: Mapping[str, float],
    *,
    correlation: Mapping[tuple[str, str], float] | None = None,
    dof: Mapping[str, float] | None = None,
    sensitivities: Mapping[str, float] | None = None,
) -> Propagated:
    """Law of propagation of uncertainty, GUM 5.1.2 and 5.2.2.

    `function` takes the inputs as keywords; inputs missing in `u` are exact. Sensitivities are central
    differences over +-u/100 unless given. `correlation` maps pairs of names to coefficients in [-1, 1].
    With correlated inputs of finite `dof` the effective number is the uncorrelated formula (GUM G.4.1 note
    assumes independence); it is then an estimate. Raises `ModelInputError` for unknown names, negative
    uncertainties and a correlation matrix that no set of inputs can have.
    """
    names = [name for name in values if u.get(name, 0.0) != 0.0]
    _check(values, u, correlation or {}, dof or {})
    value = float(function(**values))
    slopes = {
        name: _slope(function, values, name, u[name])
        if sensitivities is None or name not in sensitivities
        else float(sensitivities[name])
        for name in names
    }
    signed = np.array([slopes[name] * u[name] for name in names])
    matrix = np.eye(len(names))
    for (a, b), r in (correlation or {}).items():
        if a in names and b in names:
            matrix[names.index(a), names.index(b)] = matrix[names.index(b), names.index(a)] = r
    if names and np.linalg.eigvalsh(matrix).min() < -1e-9:
        raise ModelInputError(
            "these correlation coefficients contradict each other (matrix not positive semi-definite)"
        )
    combined = math.sqrt(max(0.0, float(signed @ matrix @ signed))) if names else 0.0
    contributions = {name: abs(float(c)) for name, c in zip(names, signed, strict=True)}
    effective = welch_satterthwaite(
        combined, list(contributions.values()), [(dof or {}).get(name, math.inf) for name in names]
    )
    return Propagated(value, combined, slopes, contributions, effective)


def welch_satterthwaite(u: float, contributions: Sequence[float], dof: Sequence[float]) -> float:
    """Effective degrees of freedom u^4 / sum(c_i^4 / dof_i), GUM (G.2b); infinite where no input limits it."""
    total = sum(c**4 / n for c, n in zip(contributions, dof, strict=True) if math.isfinite(n))
    return math.inf if total == 0.0 else u**4 / total


def coverage_factor(level: float, dof: float = math.inf) -> float:
    """Two-sided Student factor; `dof` is cut to the next lower whole number as GUM G.4.1 asks."""
    from scipy import special  # the quantiles of scipy.stats, which takes long to import

    if not 0.0 < level < 1.0:
        raise ModelInputError(f"coverage {level} is not between 0 and 1; write for example 0.95")
    if dof < 1.0:
        raise ModelInputError(f"{dof:.3g} degrees of freedom give no interval; at least 1 is needed")
    if math.isinf(dof):
        return float(special.ndtri(0.5 + level / 2))
    return float(special.stdtrit(math.floor(dof + 1e-9), 0.5 + level / 2))


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value known to lie within +-half_width, GUM 4.3.7."""
    return half_width / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """Standard uncertainty for +-half_width with the middle more likely than the ends, GUM 4.3.9."""
    return half_width / math.sqrt(6.0)


def mean_and_u(readings: Any) -> tuple[float, float, int]:
    """Mean, its standard uncertainty s/sqrt(n) and n - 1, GUM 4.2; needs at least two readings."""
    array = np.asarray(readings, dtype=float)
    array = array[np.isfinite(array)]
    if array.size < 2:
        raise ModelInputError(f"{array.size} readings give no scatter; at least 2 are needed")
    return float(array.mean()), float(array.std(ddof=1) / math.sqrt(array.size)), int(array.size - 1)


def correlation_of_means(a: Any, b: Any) -> float:
    """Correlation coefficient of two means from readings taken in pairs, GUM 5.2.3."""
    return float(np.corrcoef(np.asarray(a, dtype=float), np.asarray(b, dtype=float))[0, 1])


def _slope(function: Callable[..., float], values: Mapping[str, float], name: str, u: float) -> float:
    h = u / 100.0
    up = float(function(**{**values, name: values[name] + h}))
    down = float(function(**{**values, name: values[name] - h}))
    return (up - down) / (2.0 * h)


def _check(
    values: Mapping[str, float],
    u: Mapping[str, float],
    correlation: Mapping[tuple[str, str], float],
    dof: Mapping[str, float],
) -> None:
    unknown = [name for name in (*u, *dof, *(n for pair in correlation for n in pair)) if name not in values]
    if unknown:
        raise ModelInputError(
            f"uncertainty given for {unknown[0]!r}, which is no input; inputs are {', '.join(values)}"
        )
    for name, value in u.items():
        if not value >= 0.0 or math.isinf(value):
            raise ModelInputError(
                f"standard uncertainty of {name!r} is {value}; a finite number of 0 or more is needed"
            )
    for pair, r in correlation.items():
        if not -1.0 <= r <= 1.0 or pair[0] == pair[1]:
            raise ModelInputError(f"correlation of {pair} is {r}; it joins two inputs and lies between -1 and 1")


@dataclass(frozen=True)
class FittedLine:
    """y = intercept + slope (x - origin) by least squares, with standard uncertainties, their correlation r, and the
    standard deviation s of the residuals on `dof` degrees of freedom."""

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    r: float
    s: float
    dof: int
    origin: float

    def at(self, x: float) -> tuple[float, float]:
        """Value of the line at x and its standard uncertainty, both coefficients with their correlation."""
        h = x - self.origin
        variance = self.u_intercept**2 + (h * self.u_slope) ** 2 + 2.0 * h * self.r * self.u_intercept * self.u_slope
        return self.intercept + self.slope * h, math.sqrt(max(variance, 0.0))


def fitted_line(x: Any, y: Any, *, origin: float = 0.0) -> FittedLine:
    """Calibration line, GUM H.3: every y as uncertain as the other, x exact; needs three points with different x."""
    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if a.size < 3 or a.shape != b.shape or np.ptp(a) == 0.0:
        raise ModelInputError(f"{a.size} points do not make a line with uncertainty; at least 3 with different x")
    xm, ym = float(a.mean()), float(b.mean())
    da, db = a - xm, b - ym
    spread = float(da @ da)
    slope = float(da @ db) / spread
    rest = db - slope * da
    s = math.sqrt(float(rest @ rest) / (a.size - 2))
    u_slope = s / math.sqrt(spread)
    middle = s / math.sqrt(a.size)
    u_intercept = math.hypot(middle, (xm - origin) * u_slope)
    r = -(xm - origin) * u_slope / u_intercept if u_intercept > 0.0 else 0.0
    return FittedLine(ym - slope * (xm - origin), slope, u_intercept, u_slope, r, s, int(a.size - 2), origin)
