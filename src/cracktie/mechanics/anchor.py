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


def segment_distance(a: Any, b: Any, c: Any, d: Any) -> float:
    """Least distance in mm between the segments a-b and c-d; points as three coordinates in mm."""
    a, b, c, d = (np.asarray(p, dtype=float) for p in (a, b, c, d))
    u, v, w = b - a, d - c, a - c
    uu, vv, uv = float(u @ u), float(v @ v), float(u @ v)
    candidates = [_to_segment(p, c, d) for p in (a, b)] + [_to_segment(p, a, b) for p in (c, d)]
    crossing = uu * vv - uv**2
    if crossing > 1e-12 * uu * vv:
        s = (uv * float(v @ w) - vv * float(u @ w)) / crossing
        t = (uu * float(v @ w) - uv * float(u @ w)) / crossing
        if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
            candidates.append(float(np.linalg.norm(w + s * u - t * v)))
    return min(candidates)


def _to_segment(p: Any, a: Any, b: Any) -> float:
    along = b - a
    length = float(along @ along)
    t = min(max(float((p - a) @ along) / length, 0.0), 1.0) if length > 0.0 else 0.0
    return float(np.linalg.norm(p - a - t * along))
