"""Roots of functions of one variable, many cases at once: bracketed, so that the admissible root is found.

Each case converges on its own and is then left alone: the root of a case does not depend on its neighbours.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from cracktie.errors import CracktieError


class NoBracket(CracktieError, ValueError):
    """The function has one sign at both ends, so no root is enclosed."""


def bisect(func: Callable[[Any], Any], low: Any, high: Any, halvings: int = 60) -> Any:
    """Point where `func` changes sign between `low` and `high`, by a fixed number of halvings.

    `func` takes and returns arrays of the broadcast shape of `low` and `high` and may jump. It must be positive (or 0)
    at `low` wherever a root is meant; where it is not, the result tends to `low`, and to `high` where it stays
    positive. Use it for feasibility ("the largest V for which ..."). Error: (high - low)/2^halvings.
    """
    low, high = (np.array(v, dtype=float) for v in np.broadcast_arrays(low, high))
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        holds = func(middle) >= 0.0
        low = np.where(holds, middle, low)
        high = np.where(holds, high, middle)
    return 0.5 * (low + high)


def chandrupatla(
    func: Callable[[Any], Any],
    low: Any,
    high: Any,
    *,
    rtol: float = 1e-13,
    atol: float = 0.0,
    most: int = 80,
) -> Any:
    """Root of a continuous function between `low` and `high`; shape of their broadcast.

    Chandrupatla's method (1997): inverse quadratic interpolation where it is safe, halving elsewhere; about ten
    evaluations for smooth functions. Raises `NoBracket` where the ends have one sign and neither is a root.
    """
    a, b = (np.array(v, dtype=float) for v in np.broadcast_arrays(high, low))
    f_a, f_b = np.asarray(func(a), dtype=float), np.asarray(func(b), dtype=float)
    one_sign = np.sign(f_a) * np.sign(f_b) > 0.0
    if np.any(one_sign) or np.any(~np.isfinite(f_a)) or np.any(~np.isfinite(f_b)):
        raise NoBracket(f"{int(np.count_nonzero(one_sign))} of {one_sign.size} cases enclose no root")
    c, f_c, t = a, f_a, np.full(a.shape, 0.5)
    done = (f_a == 0.0) | (f_b == 0.0)
    root = np.where(f_b == 0.0, b, a)
    for _ in range(most):
        if done.all():
            break
        x = a + t * (b - a)
        f_x = np.asarray(func(np.where(done, root, x)), dtype=float)
        same = np.sign(f_x) == np.sign(f_a)
        c, f_c = np.where(same, a, b), np.where(same, f_a, f_b)
        b, f_b = np.where(same, b, a), np.where(same, f_b, f_a)
        a, f_a = x, f_x
        best = np.where(np.abs(f_a) < np.abs(f_b), a, b)
        root = np.where(done, root, best)
        width = np.abs(b - a)
        tolerance = 0.5 * (rtol * np.abs(best) + atol) + np.finfo(float).tiny
        done = done | (f_a == 0.0) | (tolerance > width)
        t = _next_fraction(a, b, c, f_a, f_b, f_c, tolerance / np.where(width > 0.0, width, 1.0))
    return root if root.ndim else root[()]


def _next_fraction(a: Any, b: Any, c: Any, f_a: Any, f_b: Any, f_c: Any, smallest: Any) -> Any:
    """Where to look next, as a fraction of the way from a to b."""
    with np.errstate(all="ignore"):
        xi = (a - b) / (c - b)
        phi = (f_a - f_b) / (f_c - f_b)
        safe = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
        t = f_a / (f_b - f_a) * f_c / (f_b - f_c) + (c - a) / (b - a) * f_a / (f_c - f_a) * f_b / (f_c - f_b)
    t = np.where(safe & np.isfinite(t), t, 0.5)
    smallest = np.minimum(smallest, 0.5)
    return np.minimum(1.0 - smallest, np.maximum(smallest, t))


def bare(**values: Any) -> dict[str, Any]:
    """The values as plain float arrays: what a kernel needs of numbers that carry their formula along."""
    return {name: np.asarray(value, dtype=float) for name, value in values.items()}
