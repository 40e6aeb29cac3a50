"""Characteristic values from a few results: EN 1990 Annex D, guaranteed values, tolerance factors.

These rules answer different questions and give different numbers; each result names its rule.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from cracktie.errors import ModelInputError

K_UNKNOWN: Mapping[int, float] = MappingProxyType(
    {3: 3.37, 4: 2.63, 5: 2.33, 6: 2.18, 8: 2.00, 10: 1.92, 20: 1.76, 30: 1.73}
)
"""k_n for the 5 % fractile, V_X unknown: EN 1990:2002 Table D1, from memory; t_0.95 sqrt(1 + 1/n) within 0.8 %."""
K_KNOWN: Mapping[int, float] = MappingProxyType(
    {1: 2.31, 2: 2.01, 3: 1.89, 4: 1.83, 5: 1.80, 6: 1.77, 8: 1.74, 10: 1.72, 20: 1.68, 30: 1.67}
)
"""k_n for the 5 % fractile, V_X known: EN 1990:2002 Table D1, from memory; 1.64 sqrt(1 + 1/n)."""
K_INFINITE = 1.64
FLOOR = 0.10
"""Least V_X where it is not known from before (EN 1990:2002 D.7.1, from memory)."""
GUARANTEED_TESTS = 20
"""Tests a guaranteed value should rest on (ACI 440.2R-17 4.3, from memory)."""


def k_n(n: int, *, known: bool = False) -> float:
    """Factor of EN 1990 Table D1; between its rows linear in 1/n. Refused below n = 3 with V_X unknown."""
    table = K_KNOWN if known else K_UNKNOWN
    if n < min(table):
        fix = "" if known else "; test more, or state V_X from earlier tests"
        raise ModelInputError(f"{n} results are too few for Table D1 of EN 1990 (it begins at {min(table)}){fix}")
    rows = sorted(table)
    if n >= rows[-1]:
        share = rows[-1] / n
        return K_INFINITE + share * (table[rows[-1]] - K_INFINITE)
    above = next(row for row in rows if row >= n)
    if above == n:
        return table[n]
    below = rows[rows.index(above) - 1]
    share = (1 / n - 1 / above) / (1 / below - 1 / above)
    return table[above] + share * (table[below] - table[above])


def five_percent(mean: float, s: float, n: int, *, known_cv: float | None = None, floor: float = FLOOR) -> float:
    """5 % fractile m (1 - k_n V_X) after EN 1990 D.7.2, normal distribution.

    V_X is `known_cv` where stated (row 'V_X known'), else s/m and not less than `floor` (row 'V_X unknown').
    """
    if not mean > 0.0 or not s >= 0.0:
        raise ModelInputError(f"mean {mean:g} and standard deviation {s:g} do not fit a strength; both are positive")
    if known_cv is not None:
        return mean * (1.0 - k_n(n, known=True) * known_cv)
    return mean * (1.0 - k_n(n) * max(s / mean, floor))


def five_percent_lognormal(values: Sequence[float], *, known_cv: float | None = None, floor: float = FLOOR) -> float:
    """5 % fractile exp(m_y - k_n s_y) after EN 1990 D.7.2, log-normal distribution; m_y is the mean of ln x.

    s_y is sqrt(ln(1 + V_X^2)) of a stated `known_cv`, else the standard deviation of ln x and not less than that of
    `floor` (row 'V_X unknown').
    """
    if not values or not min(values) > 0.0:
        raise ModelInputError("a log-normal fractile needs values above 0")
    logs = [math.log(v) for v in values]
    n = len(logs)
    mean = math.fsum(logs) / n
    if known_cv is not None:
        return math.exp(mean - k_n(n, known=True) * math.sqrt(math.log1p(known_cv**2)))
    factor = k_n(n)
    s = math.sqrt(math.fsum((y - mean) ** 2 for y in logs) / (n - 1))
    return math.exp(mean - factor * max(s, math.sqrt(math.log1p(floor**2))))


def guaranteed(mean: float, s: float) -> float:
    """Mean less three standard deviations (ACI 440.2R-17 4.3, from memory)."""
    return mean - 3.0 * s


def tolerance_factor(n: int, *, confidence: float, fractile: float = 0.05) -> float:
    """One-sided tolerance factor of a normal sample: t'(confidence; n - 1, z sqrt(n))/sqrt(n), noncentral t."""
    from scipy import special

    if n < 2 or not 0.0 < confidence < 1.0 or not 0.0 < fractile < 0.5:
        raise ModelInputError("a tolerance factor needs n >= 2, a confidence in (0, 1) and a fractile in (0, 0.5)")
    shift = -float(special.ndtri(fractile)) * math.sqrt(n)
    return float(special.nctdtrit(n - 1, shift, confidence)) / math.sqrt(n)
