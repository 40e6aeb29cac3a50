"""Shear of beams with one opening crack: V_f, V_s and V_c over the opening, largest values, first debonding."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.beam.prepare import Prepared, prepare
from cracktie.errors import ModelInputError
from cracktie.mechanics.compiled import writable
from cracktie.models.bond import laws

OFFSETS = 8
"""Crack positions over one strip spacing that a result averages; a fixed one may meet three strips or none."""
LEAST_OFFSETS = 7
SLICES = 32
POINTS = 96
OPENINGS = 96
TOLERANCE = 1e-9


@dataclass(frozen=True)
class Fineness:
    """Slices of the crack, points of a bond path and openings; `FAST` errs by about 1 % in single beams."""

    slices: int = SLICES
    points: int = POINTS
    openings: int = OPENINGS


FINE = Fineness()
FAST = Fineness(slices=12, points=48, openings=40)


@dataclass(frozen=True)
class Peaks:
    """What each beam comes to; arrays (beams,), means over the crack positions, N and mm.

    `V_max` with its shares `V_f`, `V_s`, `V_c` and opening `w` there; `V_f_max` apart with `w_f_max`; `V_worst` and
    `V_f_worst` at the least favourable position; `V_bare` without FRP; `V_deb` at the first debonding to an end (NaN
    where none comes) with `w_deb`; strains of the fibres on the crack at V_max, mean and
    largest, the largest at any opening, and the share of fibres torn at V_max.
    """

    V_max: Any
    w: Any
    V_f: Any
    V_s: Any
    V_c: Any
    V_f_max: Any
    w_f_max: Any
    V_worst: Any
    V_f_worst: Any
    V_bare: Any
    w_bare: Any
    V_deb: Any
    w_deb: Any
    strain_mean: Any
    strain_most: Any
    strain_ever: Any
    torn: Any

    @property
    def gain(self) -> Any:
        """Contribution by subtraction: V_max less the largest shear of the same beam without FRP, N."""
        return self.V_max - self.V_bare


@dataclass(frozen=True)
class Response:
    """Mean curves over the crack positions, (beams, openings), N over the opening `w` [mm] at the mouth; and peaks."""

    w: Any
    V_f: Any
    V_s: Any
    V_c: Any
    peaks: Peaks
    prepared: Prepared

    @property
    def V(self) -> Any:
        """Sum of the three, N."""
        return self.V_f + self.V_s + self.V_c


def respond(
    inputs: Mapping[str, Any],
    *,
    w: Any = None,
    coefficients: Mapping[str, Any] | None = None,
    law: str = laws.DEFAULT,
    offsets: Any = OFFSETS,
    centres: Any = None,
    fineness: Fineness = FINE,
    workers: int = 1,
) -> Response:
    """Shear of one or many beams as the crack opens.

    `inputs` by glossary name (see `prepare`); N, mm, MPa, degrees. `w` openings at the mouth, (openings,) or (beams,
    openings), increasing; None: up to the rotation limit. `offsets` a number of crack positions spread over one strip
    spacing, or their shares of it. `centres` x of the strips where their places count (None: strips without end);
    `x_mid` among the inputs is then the x of the crack at mid-height. x grows from the support to the load, and
    strips are told by the x that their fibres have on the level of the soffit. Raises `ModelInputError`.
    """
    prepared = prepare(inputs, coefficients=coefficients, law=law)
    return _run(prepared, w, offsets, centres, fineness, workers, curves=True)


def peaks(
    inputs: Mapping[str, Any],
    *,
    coefficients: Mapping[str, Any] | None = None,
    law: str = laws.DEFAULT,
    offsets: Any = OFFSETS,
    centres: Any = None,
    fineness: Fineness = FAST,
    workers: int = 1,
) -> Peaks:
    """The largest values alone, for many beams; arguments as in `respond`."""
    prepared = prepare(inputs, coefficients=coefficients, law=law)
    return _run(prepared, None, offsets, centres, fineness, workers, curves=False).peaks


def positions(offsets: Any) -> Any:
    """Crack positions as shares of the strip spacing around the middle one, (positions,)."""
    if np.ndim(offsets) == 0:
        count = int(offsets)
        if count < 1:
            raise ModelInputError(f"crack positions: {offsets}; at least 1")
        return (np.arange(count) + 0.5) / count - 0.5
    return np.asarray(offsets, dtype=float)


def _run(
    prepared: Prepared, w: Any, offsets: Any, centres: Any, fineness: Fineness, workers: int, *, curves: bool
) -> Response:
    grid = prepared.grid(fineness.openings) if w is None else _openings(w, prepared.size)
    V_s, V_c = prepared.stirrups(grid), prepared.concrete(grid)
    shifts = positions(offsets)
    places = np.empty((1, 0)) if centres is None else np.atleast_2d(np.asarray(centres, dtype=float))
    if prepared.rows is None or prepared.law is None:
        V_f = np.zeros_like(grid)
        return Response(grid, V_f, V_s, V_c, _bare(grid, V_s, V_c), prepared)
    rows = np.ascontiguousarray(np.broadcast_to(prepared.law.rows, (prepared.size, prepared.law.rows.shape[1])))
    V_f, found = _parallel(
        prepared.law.code, rows, prepared.rows, grid, V_s, V_c, shifts, places, fineness, workers, curves
    )
    return Response(grid, V_f, V_s, V_c, _peaks(found, grid, V_s + V_c), prepared)


def _openings(w: Any, size: int) -> Any:
    grid = np.atleast_2d(np.asarray(w, dtype=float))
    if grid.shape[1] < 1 or not (np.isfinite(grid).all() and (grid > 0.0).all() and (np.diff(grid) > 0.0).all()):
        raise ModelInputError("crack openings w must increase from a value above 0 mm")
    return np.ascontiguousarray(np.broadcast_to(grid, (size, grid.shape[1])))


def _parallel(
    code: int, laws_: Any, rows: Any, grid: Any, V_s: Any, V_c: Any, shifts: Any, centres: Any,
    fineness: Fineness, workers: int, curves: bool,
) -> tuple[Any, Any]:  # fmt: skip
    """The kernel over all beams, in as many threads as `workers`; the same result for any number of them."""
    from cracktie.mechanics import crossed_kernel as kernel

    laws_, rows, grid, V_s, V_c, shifts, centres = map(writable, (laws_, rows, grid, V_s, V_c, shifts, centres))
    size = len(rows)
    V_f = np.empty((size if curves else 0, grid.shape[1]))
    found = np.empty((size, kernel.FOUND))
    points = fineness.points + (8 if rows[:, kernel.ANCHORED].any() else 0)

    def part(low: int, high: int) -> None:
        room = (fineness.slices, grid.shape[1])
        kernel.beams(
            code, laws_[low:high], rows[low:high], grid[low:high], V_s[low:high], V_c[low:high], shifts,
            centres[low:high] if len(centres) > 1 else centres, fineness.slices, points, np.empty(room),
            np.empty(room), V_f[low:high], found[low:high], TOLERANCE,
        )  # fmt: skip

    count = max(1, min(workers, size))
    cuts = np.linspace(0, size, count + 1).astype(int)
    if count == 1:
        part(0, size)
    else:
        with ThreadPoolExecutor(count) as pool:
            list(pool.map(part, cuts[:-1], cuts[1:]))
    return V_f, found


def _bare(grid: Any, V_s: Any, V_c: Any) -> Peaks:
    V = V_s + V_c
    at = V.argmax(axis=1)
    row = np.arange(len(V))
    zero, none = np.zeros(len(V)), np.full(len(V), np.nan)
    top, w = V[row, at], grid[row, at]
    return Peaks(
        top, w, zero, V_s[row, at], V_c[row, at], zero, none, top, zero, top, w, none, none, zero, zero, zero, zero
    )


def _peaks(found: Any, grid: Any, others: Any) -> Peaks:
    from cracktie.mechanics import crossed_kernel as kernel

    at = others.argmax(axis=1)
    row = np.arange(len(others))
    return Peaks(
        V_max=found[:, kernel.V_MAX], w=found[:, kernel.W_AT], V_f=found[:, kernel.V_F_AT],
        V_s=found[:, kernel.V_S_AT], V_c=found[:, kernel.V_C_AT],
        V_f_max=found[:, kernel.V_F_MAX], w_f_max=found[:, kernel.W_F_MAX], V_worst=found[:, kernel.WORST],
        V_f_worst=found[:, kernel.WORST_F], V_bare=others[row, at], w_bare=grid[row, at],
        V_deb=found[:, kernel.V_DEB], w_deb=found[:, kernel.W_DEB], strain_mean=found[:, kernel.STRAIN_MEAN],
        strain_most=found[:, kernel.STRAIN_MOST],
        strain_ever=found[:, kernel.STRAIN_EVER], torn=found[:, kernel.TORN],
    )  # fmt: skip
