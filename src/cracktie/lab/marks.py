"""Two clocks without a shared signal: by pulses that both loggers recorded, or by sudden events seen in both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from cracktie.lab.channels import MAD_TO_SIGMA
from cracktie.lab.clocks import Synchronised

MOST_DRIFT, USUAL_DRIFT = 1e-3, 1e-4
"""Largest drift sought between marks, and one that two marks alone may hide; own choices."""
MANY = 30
"""Most marks a log may hold; more are no marks but a signal."""
SUDDEN = 8.0
"""Least height of a sudden step over the scatter of the steps; a starting value of our own."""
SUDDEN_SHARE = 0.03
"""Least height of a sudden step as a share of the signal's range; a starting value of our own."""
APART = 1.0
"""Seconds within which sudden steps are one event."""


def pulses(time: Any, values: Any) -> tuple[Any, float]:
    """Times at which a time-mark channel goes up, and the standard uncertainty of one, s.

    Up is through the middle between its lowest and highest reading; the edge lies between two rows, so u is the median
    step over sqrt(12). A channel that never moves has none.
    """
    t, x = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    keep = np.isfinite(t) & np.isfinite(x)
    t, x = t[keep], x[keep]
    if t.size < 2 or np.ptp(x) == 0.0:
        return np.zeros(0), 0.0
    high = x > 0.5 * (float(x.min()) + float(x.max()))
    rows = np.flatnonzero(~high[:-1] & high[1:])
    return 0.5 * (t[rows] + t[rows + 1]), float(np.median(np.diff(t))) / math.sqrt(12.0)


def sudden(time: Any, values: Any, *, falls_only: bool = False) -> tuple[Any, float]:
    """Times of sudden steps of a signal, and the standard uncertainty of one, s.

    A step between two rows is sudden beyond `SUDDEN` times the scatter of the steps and `SUDDEN_SHARE` of the range;
    the largest of those within `APART` seconds counts. u is one sample (the honest figure for what happened between two
    rows).
    """
    t, x = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    keep = np.isfinite(t) & np.isfinite(x)
    t, x = t[keep], x[keep]
    if t.size < 20 or np.ptp(x) == 0.0:
        return np.zeros(0), 0.0
    steps = np.diff(x)
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(steps - np.median(steps))))
    height = np.where(steps < 0.0, -steps, 0.0 if falls_only else steps)
    rows = np.flatnonzero((height > SUDDEN * scatter) & (height > SUDDEN_SHARE * float(np.ptp(x))))
    kept: list[int] = []
    for row in rows:
        if kept and t[row] - t[kept[-1]] < APART:
            kept[-1] = int(row) if height[row] > height[kept[-1]] else kept[-1]
        else:
            kept.append(int(row))
    at = np.array(kept, dtype=int)
    return 0.5 * (t[at] + t[at + 1]), float(np.median(np.diff(t)))


def match(
    a: Sequence[float], b: Sequence[float], u: float, *, what: str = "marks", single: bool = False
) -> Synchronised:
    """Shift (and drift, from three on) of clock B against A from times of the same marks; some may lack in either.

    `u` is the standard uncertainty of one difference, s. A shift with a drift up to `MOST_DRIFT` counts the marks it
    brings together within 3 u. The best is accepted if it brings three or more together, or all of both logs, and no
    other shift more than half as many: equal spacings, as of a pulse every second, leave open which belongs to which
    and are asked. With `single`, one mark in each is enough. A drift within its own 95 % is not taken off.
    """
    one, two = np.sort(np.asarray(a, dtype=float)), np.sort(np.asarray(b, dtype=float))
    n = f"{one.size} and {two.size} {what}"
    if one.size == 0 or two.size == 0 or max(one.size, two.size) > MANY:
        return _asked(f"{n}: none to compare" if min(one.size, two.size) == 0 else f"{n}: too many for marks")
    if one.size == two.size == 1 and single:
        return Synchronised("accepted", float(one[0] - two[0]), u, 1.0, math.inf, f"one of the {what} in each log")
    shift = one[:, None] - two[None, :]
    pairs = [(i, j, slope) for i, j in np.ndindex(*shift.shape) for slope in _slopes(shift, two, i, j)]
    found = [_together(shift, two, *pair, 3.0 * u) for pair in pairs]
    at = max(range(len(found)), key=lambda k: len(found[k][0]))
    (i, j, _), (rows, columns) = pairs[at], found[at]
    best = len(rows)
    reach = 6.0 * u + MOST_DRIFT * float(np.ptp(two))
    others = [
        len(f[0]) for p, f in zip(pairs, found, strict=True) if p[2] == 0 and abs(shift[p[:2]] - shift[i, j]) > reach
    ]
    rival = max(others, default=0)
    if rival > best / 2 or not (best >= 3 or best == one.size == two.size >= 2):
        why = f"the best shift brings {best} together, another one {rival}" if best > 1 else "no two go together"
        return _asked(f"{n}, {why}")
    said = f"{best} of {n} together, at most {rival} by any other shift"
    return _fitted(one[rows], two[columns], u, said, best / max(rival, 1))


def _slopes(shift: Any, two: Any, i: int, j: int) -> Any:
    """Drifts that bring the pair i, j and some other pair together, and none."""
    apart = two - two[j]
    with np.errstate(divide="ignore", invalid="ignore"):
        slopes = ((shift - shift[i, j]) / apart[None, :])[i + 1 :, j + 1 :]
    return np.concatenate(([0.0], slopes[np.abs(slopes) <= MOST_DRIFT]))


def _together(shift: Any, two: Any, i: int, j: int, slope: float, reach: float) -> tuple[Any, Any]:
    """Pairs (each mark once) that lie on the line through the pair i, j; without a drift, one of usual size is let
    pass."""
    off = np.abs(shift - shift[i, j] - slope * (two - two[j])[None, :])
    near = off <= reach + (USUAL_DRIFT * np.abs(two - two[j])[None, :] if slope == 0.0 else 0.0)
    best = np.where(near, off, np.inf)
    columns = np.flatnonzero(near.any(axis=0))
    rows = best[:, columns].argmin(axis=0)
    _, first = np.unique(rows, return_index=True)
    return rows[first], columns[first]


def _fitted(a: Any, b: Any, u: float, reason: str, ratio: float) -> Synchronised:
    from cracktie.lab.uncertainty import coverage_factor

    shift, reference = a - b, float(np.mean(b))
    offset, at = float(np.mean(shift)), b - reference
    if len(b) < 3:
        return Synchronised("accepted", offset, u / math.sqrt(len(b)), 1.0, ratio, reason)
    slope = float(at @ shift / (at @ at))
    rest = shift - offset - slope * at
    scatter = max(u, math.sqrt(float((rest**2).sum()) / (len(b) - 2)))
    u_slope = scatter / math.sqrt(float(at @ at))
    bound = coverage_factor(0.95, len(b) - 2) * u_slope
    if abs(slope) <= bound:
        whole = math.hypot(scatter / math.sqrt(len(b)), u_slope * float(np.abs(at).max()))
        return Synchronised("accepted", offset, whole, 1.0, ratio, f"{reason}; no drift beyond {1e6 * bound:.0f} ppm")
    told = f"{reason}; drift of {1e6 * slope:+.0f} +- {1e6 * bound:.0f} ppm taken off"
    return Synchronised("accepted", offset, scatter / math.sqrt(len(b)), 1.0, ratio, told, slope, reference)


def _asked(reason: str) -> Synchronised:
    return Synchronised("asked", math.nan, math.nan, 0.0, 0.0, reason)
