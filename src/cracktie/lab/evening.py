"""A leg between the crack and a held end evens out when its bond has gone: when, as far as its gauges tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cracktie.lab.legs import FULL, PERSISTENT_ROWS, Leg, Search

EVEN, UNEVEN = 0.75, 0.55
"""Strain far from the crack over that at the crack: a leg that is free between crack and held end, and a bonded one."""
NEAR_END = 0.4
"""Distance of the far gauge from the held end over that of the gauge at the crack, beyond which it tells nothing."""
IDLE = 150e-6
"""Strain of a gauge on the anchor below which the anchor carries nothing."""


@dataclass(frozen=True)
class Evened:
    """From which row on a leg is even: rows of the record between which it became so."""

    before: int
    row: int
    near: int
    far: int


def evens_out(search: Search, leg: Leg, own: Sequence[int], anchors: Sequence[int]) -> Evened | None:
    """When the gauge farthest from the crack comes to `EVEN` of that at the crack, after it had been below `UNEVEN`.

    Gauges on the far side of the crack, and under the fan, which takes over the force there, count only where there are
    no others.
    """
    heights = {g: leg.gauges[i].z for i, g in enumerate(own) if leg.gauges[i].z is not None}
    if len(heights) < 2:
        return None
    largest = {g: float(np.nanmax(search.strain[g], initial=-np.inf)) for g in heights}
    near = max(heights, key=lambda g: largest[g])
    z = float(heights[near] or 0)
    toward = [g for g in heights if g != near and _nearer(leg, float(heights[g] or 0), z)]
    outside = [g for g in toward if leg.fan_from is None or float(heights[g] or 0) < leg.fan_from]
    others = outside or toward or [g for g in heights if g != near]
    if not others:
        return None
    far = max(others, key=lambda g: abs(float(heights[g] or 0) - z))
    if far in toward and leg.ends and _to_end(leg, float(heights[far] or 0)) > NEAR_END * _to_end(leg, z):
        return None  # the plateau has passed a gauge near the crack, no more
    found = _ratio_rises(search, near, far, anchors)
    if found is not None and far not in toward and jump(search, found) == found.row:
        return None  # below the crack only a leap tells a freed leg from a plateau on its way
    return found


def _nearer(leg: Leg, z: float, than: float) -> bool:
    """Whether a height lies nearer an end that could let go than another; any does where no end is known."""
    return not leg.ends or _to_end(leg, z) < _to_end(leg, than)


def _to_end(leg: Leg, z: float) -> float:
    """Distance to the nearest end that could let go, mm."""
    return min(abs(z - end) for end in leg.ends)


def _ratio_rises(search: Search, near: int, far: int, anchors: Sequence[int]) -> Evened | None:
    a, b = search.strain[near], search.strain[far]
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero(search.loading & (np.fmax(a, b) >= FULL) & np.isfinite(a) & np.isfinite(b))
    if rows.size < 2 * PERSISTENT_ROWS:
        return None
    ratio = b[rows] / np.maximum(a[rows], 1e-9)
    for g in anchors:  # an anchor that carries nothing yet: the bond has not gone
        ratio = np.where(search.strain[g, rows] < IDLE, np.minimum(ratio, 0.5 * (EVEN + UNEVEN)), ratio)
    low = np.flatnonzero(ratio < UNEVEN)
    if low.size < PERSISTENT_ROWS:
        return None
    even = np.convolve((ratio > EVEN).astype(int), np.ones(PERSISTENT_ROWS, dtype=int), "valid") == PERSISTENT_ROWS
    up = np.flatnonzero(even)
    up = up[up > low[PERSISTENT_ROWS - 1]]
    if not up.size:
        return None
    k = int(up[0])
    last = low[low < k]
    return Evened(int(search.grid[rows[int(last[-1])]]), int(search.grid[rows[k]]), near, far)


def jump(search: Search, evened: Evened) -> int:
    """Row before the far gauge jumps where it does, else the row where the leg is even."""
    first, last = search.at(evened.before), search.at(evened.row)
    e = search.strain[evened.far, first : last + 1]
    if e.size < 2 or not np.isfinite(e).all():
        return evened.row
    steps = np.diff(e)
    k = int(np.argmax(steps))
    return int(search.grid[first + k]) if steps[k] > 0.5 * (e[-1] - e[0]) else evened.row
