"""Kernel of spike anchors: weakest mechanism, force against slip, holes in space. Numbers or arrays of one shape."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np


def weakest(components: Sequence[Any]) -> tuple[Any, Any]:
    """Least of the components and its place among them; NaN means that a mechanism does not exist.

    Components are floats or arrays that broadcast; where all are NaN the value is NaN and the place -1. The first of
    equal components wins.
    """
    table = np.stack(np.broadcast_arrays(*(np.asarray(c, dtype=float) for c in components)))
    there = np.isfinite(table)
    filled = np.where(there, table, np.inf)
    place = np.where(there.any(axis=0), filled.argmin(axis=0), -1)
    value = np.where(place >= 0, filled.min(axis=0), np.nan)
    return value, place


def force(slip: Any, *, k: Any, F_u: Any, soft_slip: Any, residual: Any) -> Any:
    """Force in N at a growing slip (mm, not negative): straight to F_u, straight down to residual F_u, then constant.

    `k` N/mm, `soft_slip` mm from the peak to the residual force, `residual` as a share of F_u.
    """
    past = np.clip((slip - F_u / k) / soft_slip, 0.0, 1.0)
    return np.minimum(k * slip, F_u * (1.0 - (1.0 - residual) * past))


def area_ratio(*, count: Any, A_a: Any, f_fa: Any, area: Any, f_fu: Any) -> Any:
    """AMR: fibre of `count` anchors over that of the strip leg they hold, each area (mm2) times its strength (MPa).

    Equal fibres cancel and leave the ratio of areas.
    """
    return count * A_a * f_fa / (area * f_fu)


def closest(a: Any, b: Any, c: Any, d: Any) -> tuple[Any, Any]:
    """Points of the segments a-b and c-d that lie closest to one another; points as three coordinates in mm."""
    a, b, c, d = (np.asarray(p, dtype=float) for p in (a, b, c, d))
    u, v, w = b - a, d - c, a - c
    uu, vv, uv = float(u @ u), float(v @ v), float(u @ v)
    pairs = [(p, _onto(p, c, d)) for p in (a, b)] + [(_onto(p, a, b), p) for p in (c, d)]
    crossing = uu * vv - uv**2
    if crossing > 1e-12 * uu * vv:
        s = (uv * float(v @ w) - vv * float(u @ w)) / crossing
        t = (uu * float(v @ w) - uv * float(u @ w)) / crossing
        if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
            pairs.append((a + s * u, c + t * v))
    return min(pairs, key=lambda pair: float(np.linalg.norm(pair[0] - pair[1])))


def _onto(p: Any, a: Any, b: Any) -> Any:
    along = b - a
    length = float(along @ along)
    t = min(max(float((p - a) @ along) / length, 0.0), 1.0) if length > 0.0 else 0.0
    return a + t * along


def holes_apart(a: Any, b: Any, c: Any, d: Any, diameter: float) -> float:
    """Concrete in mm between two flat-ended holes of one `diameter` with axes a-b and c-d; negative where they meet.

    Each hole reaches diameter/2 times the sine of the angle between its axis and the line of closest approach: nothing
    where two holes face one another, its radius where they lie side by side.
    """
    one, other = closest(a, b, c, d)
    line = other - one
    distance = float(np.linalg.norm(line))
    if distance == 0.0:
        return -diameter
    reach = 0.0
    for first, last in ((a, b), (c, d)):
        axis = np.asarray(last, dtype=float) - np.asarray(first, dtype=float)
        cosine = float(line @ axis) / (distance * float(np.linalg.norm(axis)))
        reach += diameter / 2.0 * float(np.sqrt(max(1.0 - cosine**2, 0.0)))
    return distance - reach
