"""A strip across a crack: two bonded lengths that carry one force; the opening is the sum of their slips.

The side that first comes to its largest force drives from there; the other one unloads along its secant. So an
unanchored upper length of a U-wrap, the shorter length of a side strip or a later failing anchor decides, wherever
it is. Cases and units as in `cracktie.mechanics.strip`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.mechanics.bond_law import cases, refuse
from cracktie.mechanics.strip import POINTS, TOLERANCE, Path, Side, follow, gauge_strain, number_of, profile


@dataclass(frozen=True)
class StripPath:
    """States of a strip across a crack in path order, snap-backs included; arrays (points,) of one case.

    `opening` [mm], `force` [N]; `upper`, `lower` the far-end states of the two sides as (points, 4) arrays: far slip
    [mm], far strain, slipping length [mm] and the share by which slips and strains of that state are reduced because
    the side has unloaded along its secant.
    """

    opening: Any
    force: Any
    upper: Any
    lower: Any


def _same_size(upper: Side, lower: Side) -> int:
    if upper.size != lower.size:
        raise ModelInputError(f"strip across a crack: {upper.size} upper and {lower.size} lower lengths; give as many")
    return upper.size


def strip_forces(
    upper: Side,
    lower: Side,
    openings: Any,
    *,
    strength: Any = np.inf,
    end_strength: Any = np.inf,
    points: int = POINTS // 2,
) -> Any:
    """Force [N] of strips at growing crack openings along the fibres [mm]; returns (cases, openings).

    `openings` (openings,) or (cases, openings), increasing. Once the force has passed `strength` [N] or the force at a
    fixed far end `end_strength` [N] the strip is torn and carries nothing. Raises `ModelInputError`.
    """
    from cracktie.mechanics import crossing_kernel

    where, size = "strip across a crack", _same_size(upper, lower)
    points = max(number_of(points, upper), number_of(points, lower))
    grid = np.atleast_1d(np.asarray(openings, dtype=float))
    grid = np.ascontiguousarray(np.broadcast_to(grid, (size, grid.shape[-1])))
    rising = (np.diff(grid, axis=1) > 0.0).all(axis=1) & (grid[:, 0] >= 0.0) & (grid[:, -1] > 0.0)
    refuse(where, "last opening", grid[:, -1], rising & np.isfinite(grid).all(axis=1), "openings must increase from 0")
    x = cases(where, size=np.ones(size), strength=strength, end_strength=end_strength)
    for name in ("strength", "end_strength"):
        refuse(where, name, x[name], x[name] > 0.0, "it must be a force above 0 N")
    forces, places = np.empty(grid.shape), np.empty(grid.shape)
    crossing_kernel.strip_forces(
        upper.law.code, *upper.arrays, lower.law.code, *lower.arrays,
        grid, x["strength"], x["end_strength"], points, forces, places, TOLERANCE,
    )  # fmt: skip
    return forces


def follow_strip(upper: Side, lower: Side, *, opening_max: float, points: int = POINTS) -> StripPath:
    """Path of one strip (one case) to an opening of at least `opening_max` [mm], with the states of both sides."""
    from cracktie.mechanics import crossing_kernel as kernel

    if _same_size(upper, lower) != 1:
        raise ModelInputError("path of a strip: give one case; `strip_forces` runs many")
    sides = [follow(s, slip_max=opening_max, points=points) for s in (upper, lower)]
    one, two = (np.concatenate([s.slip, s.force, s.far_slip, s.far_strain, s.active, s.far_force]) for s in sides)
    trace = np.empty((5, 6 * points))
    count = kernel.couple(one, two, trace)
    trace = trace[:, :count]
    share = trace[kernel.SHARE]
    up, low = np.where(share < 0.0, -share, 1.0), np.where(share < 0.0, 1.0, share)
    return StripPath(
        trace[kernel.OPENING], trace[kernel.TOTAL],
        _states(sides[0], trace[kernel.FIRST], up), _states(sides[1], trace[kernel.SECOND], low),
    )  # fmt: skip


def _states(path: Path, at: Any, share: Any) -> Any:
    places = np.arange(path.slip.shape[1])
    far = [np.interp(at, places, line[0]) for line in (path.far_slip, path.far_strain, path.active)]
    return np.column_stack([*far, share])


def at_openings(path: StripPath, openings: Any) -> StripPath:
    """States under a growing opening [mm]: for each of `openings` (openings,) the first state of the path that has it.

    What a snap-back hides is jumped over. NaN beyond the path.
    """
    wanted = np.atleast_1d(np.asarray(openings, dtype=float))
    after = np.searchsorted(np.maximum.accumulate(path.opening), wanted)
    inside = after < path.opening.size
    j = np.clip(after, 1, path.opening.size - 1)
    rise = path.opening[j] - path.opening[j - 1]
    t = np.where(inside, (wanted - path.opening[j - 1]) / np.where(rise > 0.0, rise, 1.0), np.nan)
    force = path.force[j - 1] + t * (path.force[j] - path.force[j - 1])
    sides = [s[j - 1] + t[:, None] * (s[j] - s[j - 1]) for s in (path.upper, path.lower)]
    return StripPath(np.where(inside, wanted, np.nan), force, *sides)


def strains_at(side: Side, states: Any, x: Any, gauge_length: float = 0.0) -> Any:
    """Strains (states, places) of one side (one case) at distances `x` (places,) [mm] from its far end.

    `states` (states, 4): rows of `StripPath.upper` or `.lower`. With a `gauge_length` [mm] the mean over it, as a
    gauge reads it; over an end, the mean of the part on the bonded length.
    """
    if side.size != 1:
        raise ModelInputError(f"strains of a side: give one case; given {side.size}")
    states = np.atleast_2d(np.asarray(states, dtype=float))
    many = Side(
        np.repeat(np.asarray(side.length, dtype=float), states.shape[0]), side.stiffness, side.width, side.law,
        side.fixed, side.anchors,
    )  # fmt: skip
    start = {"far_slip": states[:, 0], "far_strain": states[:, 1], "active": states[:, 2]}
    if gauge_length:
        return gauge_strain(many, x, gauge_length, **start) * states[:, 3:]
    return profile(many, x, **start)[1] * states[:, 3:]
