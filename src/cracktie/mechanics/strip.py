"""Bonded FRP strips: equilibrium paths, anchors, strips across a crack, strains where gauges sit.

Lengths in mm, forces in N, stresses in MPa; a strip lies on a rigid substrate, E t s'' = tau(s). Many cases run at
once: each field is a number or an array (cases,), and every result has the case as first axis. Laws whose kind is
bilinear are marched exactly, others by Runge-Kutta with the relative error `TOLERANCE` a step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.mechanics.bond_law import BondLaw, cases, not_negative, positive, refuse

TOLERANCE = 1e-11
POINTS = 400
"""Points of a path unless the caller says otherwise."""
LEAST_POINTS = 48
LONGEST = 600.0


@dataclass(frozen=True)
class Anchor:
    """A spring between strip and concrete; numbers or arrays (cases,).

    The force rises with `k_a` [N/mm] to `F_u` [N], falls in a straight line over `soft_slip` [mm] to `residual` F_u
    and stays there. `x` is its distance from the far end [mm]; 0 is an end anchor.
    """

    k_a: Any
    F_u: Any
    soft_slip: Any
    residual: Any = 0.0
    x: Any = 0.0


@dataclass(frozen=True)
class Side:
    """A bonded length between its far end and the loaded end (the crack); numbers or arrays (cases,).

    `length` [mm]; `stiffness` = n t_f E_f [N/mm]; `width` [mm]; `fixed` true where the far end cannot slip (corner of
    a closed wrap); `anchors` in any order. With `width` 1 all forces are per mm of width, those of anchors too.
    """

    length: Any
    stiffness: Any
    width: Any
    law: BondLaw
    fixed: bool = False
    anchors: Sequence[Anchor] = ()
    _arrays: tuple[Any, Any, Any] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_arrays", _arrays(self))

    @property
    def size(self) -> int:
        """Number of cases."""
        return int(self._arrays[0].shape[0])

    @property
    def arrays(self) -> tuple[Any, Any, Any]:
        """What the kernels read: law rows (cases, 8+), geometry (cases, 4), anchors (cases, anchors, 5)."""
        return self._arrays


@dataclass(frozen=True)
class Path:
    """Equilibrium states of bonded lengths in path order, arrays (cases, points); the first state is unloaded.

    `slip` [mm] and `force` [N] at the loaded end; the state at the far end: `far_slip` [mm], `far_strain` (just
    before an end anchor), `active` [mm] the slipping length, `far_force` [N] of a fixed end.
    """

    slip: Any
    force: Any
    far_slip: Any
    far_strain: Any
    active: Any
    far_force: Any


def _arrays(side: Side) -> tuple[Any, Any, Any]:
    where = "bonded length"
    named = {"length": side.length, "stiffness": side.stiffness, "width": side.width, "law": side.law.tau_max}
    springs = []
    for i, anchor in enumerate(side.anchors):
        own = {n: getattr(anchor, n) for n in ("x", "k_a", "F_u", "soft_slip", "residual")}
        named |= {f"anchor {i + 1} {n}": v for n, v in own.items()}
    x = cases(where, **named)
    positive(where, length=x["length"], stiffness=x["stiffness"], width=x["width"])
    for i in range(len(side.anchors)):
        springs.append(_spring(f"{where}, anchor {i + 1}", [x[f"anchor {i + 1} {n}"] for n in _SPRING], x["length"]))
    size = x["length"].shape[0]
    rows = np.ascontiguousarray(np.broadcast_to(side.law.rows, (size, side.law.rows.shape[1])))
    rate = np.sqrt(rows[:, 0] / (rows[:, 1] * x["stiffness"]))
    longest = LONGEST / rate
    shorter = f"at most {longest.min():g} mm can be followed: slips at the far end vanish; enter a shorter length"
    refuse(where, "length", x["length"], x["length"] < longest, shorter)
    geometry = np.column_stack([x["length"], x["stiffness"], x["width"], np.full(size, float(side.fixed))])
    anchors = np.stack(springs, axis=1) if springs else np.empty((size, 0, 5))
    order = np.argsort(anchors[:, :, 0], axis=1, kind="stable")
    return rows, geometry, np.ascontiguousarray(np.take_along_axis(anchors, order[:, :, None], axis=1))


_SPRING = ("x", "k_a", "F_u", "soft_slip", "residual")


def _spring(where: str, values: list[Any], length: Any) -> Any:
    x, k_a, F_u, soft_slip, residual = values
    not_negative(where, x=x, F_u=F_u)
    positive(where, k_a=k_a, soft_slip=soft_slip)
    refuse(where, "x", x, x < length, f"it must lie within the bonded length of {np.min(length):g} mm")
    refuse(where, "residual", residual, (residual >= 0.0) & (residual <= 1.0), "it must lie between 0 and 1")
    return np.column_stack([x, k_a, F_u, soft_slip, residual])


def number_of(points: int, side: Side) -> int:
    """The points of a path if they are enough for its corners; raises `ModelInputError`."""
    least = LEAST_POINTS + 8 * len(side.anchors)
    if points < least:
        raise ModelInputError(f"path of a bonded length: points = {points}; needs {least} or more")
    return points


def follow(side: Side, *, slip_max: Any, points: int = POINTS) -> Path:
    """Path of a bonded length from the unloaded state to a loaded-end slip of at least `slip_max` [mm].

    The corners of anchor forces and, at a free end, of the bond law are among the points. Forces between points are
    straight lines: their error falls with the square of `points`. Raises `ModelInputError`.
    """
    from cracktie.mechanics import strip_kernel

    rows, geometry, anchors = side.arrays
    points = number_of(points, side)
    limit = _one_a_case("path of a bonded length", side, slip_max=slip_max)
    paths = np.empty((side.size, 6, points))
    strip_kernel.follow_all(side.law.code, rows, geometry, anchors, limit, paths, TOLERANCE)
    return Path(*(paths[:, i] for i in range(6)))


def _one_a_case(where: str, side: Side, **value: Any) -> Any:
    """A positive value as array (cases,)."""
    x = cases(where, size=np.ones(side.size), **value)
    name = next(iter(value))
    positive(where, **{name: x[name]})
    if x[name].shape[0] != side.size:
        raise ModelInputError(f"{where}: {x[name].shape[0]} values of {name} for {side.size} bonded lengths")
    return x[name]


@dataclass(frozen=True)
class Peak:
    """Largest force of each case [N] with its slip [mm] and far-end state; arrays (cases,)."""

    force: Any
    slip: Any
    far_slip: Any
    far_strain: Any
    active: Any


def peak(side: Side, *, slip_max: Any, points: int = POINTS) -> Peak:
    """Largest force of a bonded length up to `slip_max` [mm], sharpened between the points of its path.

    Relative error about 1e-12 for bilinear laws. Of several maxima the largest; a force that still grows at
    `slip_max` is returned as it stands there.
    """
    from cracktie.mechanics import strip_kernel

    path = follow(side, slip_max=slip_max, points=points)
    paths = np.stack([path.slip, path.force, path.far_slip, path.far_strain, path.active, path.far_force], axis=1)
    rows, geometry, anchors = side.arrays
    found = np.empty((side.size, 5))
    strip_kernel.peaks_all(side.law.code, rows, geometry, anchors, paths, found, TOLERANCE)
    return Peak(*(found[:, i] for i in range(5)))


def profile(side: Side, x: Any, *, far_slip: Any, far_strain: Any = 0.0, active: Any = None) -> tuple[Any, Any]:
    """Slip [mm] and strain at distances `x` [mm] from the far end in the state that starts there.

    `far_slip`, `far_strain`, `active` (None: the whole length) as in `Path`, numbers or (cases,); `x` a number,
    (places,) or (cases, places); returns two arrays (cases, places). At an interior anchor the strain is that of the
    far side of it, at an end anchor that of the loaded side.
    """
    from cracktie.mechanics import strip_kernel

    rows, geometry, anchors = side.arrays
    where = "strain profile"
    whole = geometry[:, 0] if active is None else active
    state = cases(where, size=np.ones(side.size), far_slip=far_slip, far_strain=far_strain, active=whole)
    not_negative(where, far_slip=state["far_slip"], far_strain=state["far_strain"], active=state["active"])
    places = np.atleast_1d(np.asarray(x, dtype=float))
    places = np.ascontiguousarray(np.broadcast_to(places, (side.size, places.shape[-1])))
    inside = ((places >= 0.0) & (places <= geometry[:, :1])).all(axis=1)
    refuse(where, "x", places.max(axis=1), inside, "gauges sit between the far end (0) and the loaded end")
    starting = np.column_stack([state["far_slip"], state["far_strain"], state["active"]])
    slips, strains = np.empty(places.shape), np.empty(places.shape)
    strip_kernel.profile_all(side.law.code, rows, geometry, anchors, starting, places, slips, strains, TOLERANCE)
    return slips, strains


def gauge_strain(
    side: Side, x: Any, gauge_length: float, *, far_slip: Any, far_strain: Any = 0.0, active: Any = None
) -> Any:
    """Mean strain over `gauge_length` [mm] centred at `x` [mm]: what a gauge reads; arguments as in `profile`.

    Where the gauge reaches over an end, the mean of the part on the bonded length. Returns (cases, places).
    """
    positive("strain gauge", gauge_length=gauge_length)
    places = np.atleast_1d(np.asarray(x, dtype=float))
    ends = side.arrays[1][:, :1]
    low = np.clip(places - 0.5 * gauge_length, 0.0, ends)
    high = np.clip(places + 0.5 * gauge_length, 0.0, ends)
    refuse("strain gauge", "x", places.max(), (high > low).all(), "the gauge lies off the bonded length")
    state = {"far_slip": far_slip, "far_strain": far_strain, "active": active}
    return (profile(side, high, **state)[0] - profile(side, low, **state)[0]) / (high - low)


def under_growing_slip(path: Path, slips: Any) -> Any:
    """Force [N] when the loaded end is pulled to `slips` [mm]: the first state of the path that has that slip.

    What a snap-back hides is jumped over, as in a test under displacement control. `slips` (slips,), increasing;
    returns (cases, slips), NaN beyond the path.
    """
    wanted = np.atleast_1d(np.asarray(slips, dtype=float))
    found = np.full((path.slip.shape[0], wanted.size), np.nan)
    for i, (slip, force) in enumerate(zip(path.slip, path.force, strict=True)):
        reached = np.maximum.accumulate(slip)
        after = np.searchsorted(reached, wanted)
        inside = after < slip.size
        j = np.maximum(after[inside], 1)
        t = (wanted[inside] - slip[j - 1]) / np.where(slip[j] > slip[j - 1], slip[j] - slip[j - 1], 1.0)
        found[i, inside] = force[j - 1] + t * (force[j] - force[j - 1])
    return found
