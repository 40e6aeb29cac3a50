"""Quantities derived from channels: shear, net deflection, stiffness, energy, ductility."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.trail import Trail
from cracktie.mechanics.statics import SimpleBeam, shear, shear_influence


@dataclass(frozen=True)
class Shear:
    """Shear force at a section: total, and the part of the applied load alone (both arrays, N), with the trail."""

    total: Any
    applied: Any
    self_weight: float
    trail: Trail


@dataclass(frozen=True)
class Line:
    """Slope of a regression with its standard error, correlation squared and number of points; `halves` are the slopes
    of the lower and the upper half of its range, where they were asked for."""

    slope: float
    u: float
    r2: float
    points: int
    halves: tuple[float, float] | None = None


@dataclass(frozen=True)
class Work:
    """Energy under load over deflection: to the peak and to its fall afterwards (N mm), and deflections (mm).

    `deflection_after` and `energy_after` are None where the load never falls that far. Two idealised deflections of
    yield, each None where it cannot be: `deflection_yield` by a secant, `deflection_equal` by equal energy; `ductility`
    and `ductility_equal` are the last deflection over them.
    """

    energy_peak: float
    deflection_peak: float
    energy_after: float | None
    deflection_after: float | None
    deflection_yield: float | None
    ductility: float | None
    deflection_equal: float | None = None
    ductility_equal: float | None = None


@dataclass(frozen=True)
class Unloading:
    """One unloading before the peak: first and last row, loads there (N), deflections there (mm), its line."""

    start: int
    end: int
    load: float
    least: float
    deflection: float
    residual: float
    line: Line


def shear_at_section(
    beam: SimpleBeam, x: float, loads: Sequence[tuple[float, Any]], *, rig_weight: float = 0.0, self_weight: bool = True
) -> Shear:
    """Shear in N at x mm for measured loads (place mm, values N positive down).

    `rig_weight` (N) is what rests on the beam but was zeroed out of the cell (spreader, plates); it is shared by
    the load points in equal parts. The self-weight is that of `beam`.
    """
    if not loads:
        raise ModelInputError("no load channel; at least one (place, values) is needed")
    applied = np.zeros(np.asarray(loads[0][1], dtype=float).shape)
    rig = 0.0
    for place, values in loads:
        influence = shear_influence(beam, x, place)
        applied = applied + influence * np.asarray(values, dtype=float)
        rig += influence * rig_weight / len(loads)
    own = float(shear(beam, x)) if self_weight else 0.0
    trail = Trail().add(
        "shear_at_section",
        {"x_mm": x, "rig_weight_N": rig_weight, "self_weight_N": own, "rig_part_N": rig},
        np.isfinite(applied),
    )
    return Shear(applied + rig + own, applied, own, trail)


def shear_from_reaction(beam: SimpleBeam, x: float, reaction: Any, *, side: str) -> Any:
    """Shear in N at x mm from a measured support reaction (N, zeroed under the beam's own weight).

    Valid between that support and the nearest load. The cell on the right gives minus the reaction.
    """
    if side not in ("left", "right"):
        raise ModelInputError(f"side is {side!r}; it is 'left' or 'right'")
    beam.check_place(x)
    return (1.0 if side == "left" else -1.0) * np.asarray(reaction, dtype=float) + shear(beam, x)


def net_deflection(at_load: Any, left_support: Any, right_support: Any, *, a: float, span: float) -> Any:
    """Deflection at `a` mm from the left support less the straight line between the settlements of both supports."""
    if not 0.0 <= a <= span or span <= 0.0:
        raise ModelInputError(f"place {a:g} mm is not inside the span of {span:g} mm")
    share = a / span
    return np.asarray(at_load, dtype=float) - (
        np.asarray(left_support, dtype=float) * (1.0 - share) + np.asarray(right_support, dtype=float) * share
    )


def two_faces(front: Any, back: Any, *, limit: float = 0.10) -> tuple[Any, float, bool]:
    """Mean of both faces, largest difference over the largest mean, and whether that exceeds `limit` (twist)."""
    f, b = np.asarray(front, dtype=float), np.asarray(back, dtype=float)
    mean = 0.5 * (f + b)
    largest = float(np.nanmax(np.abs(mean)))
    difference = float(np.nanmax(np.abs(f - b))) / largest if largest > 0.0 else 0.0
    return mean, difference, difference > limit


def last_pass(load: Any, *, low: float, reached: float) -> int:
    """First row of the loading that goes through `low` and on to `reached` (N); 0 where the load began above `low`.

    Passes before it, which turned back below `reached`, seat beam and rig: bedding closes there, not the beam's
    deflection.
    """
    p = np.asarray(load, dtype=float)
    there = np.flatnonzero(p >= reached)
    below = np.flatnonzero(p[: there[0] if there.size else p.size] < low)
    return int(below[-1]) if below.size else 0


def stiffness(deflection: Any, load: Any, *, low: float, high: float) -> Line:
    """Slope of load over deflection on the first loading from `low` to `high` (loads), and those of its two halves.

    Only rows on the envelope count, at the largest load so far within four times the noise of one reading (0.1 to 5 %
    of `high`): no unloading, no reloading, no hold in which the load relaxes. By least squares; as readings of
    the deflection scatter by sigma, that slope is too small by the factor 1 - sigma^2/var(delta), which is taken out
    (errors in the abscissa, method of moments).
    """
    d, p = np.asarray(deflection, dtype=float), np.asarray(load, dtype=float)
    running = np.maximum.accumulate(np.where(np.isfinite(p), p, -np.inf))
    within = min(max(4.0 * reading_noise(p), 0.001 * abs(high)), 0.05 * abs(high))
    on = (running <= high) & (p >= running - within)
    keep = np.isfinite(d) & np.isfinite(p) & (p >= low) & (p <= high) & on
    d, p, noise = d[keep], p[keep], reading_noise(d)
    whole, upper = _freed(d, p, noise), p > 0.5 * (low + high)
    try:
        lower, above = (_freed(d[half], p[half], noise).slope for half in (~upper, upper))
    except ModelInputError:
        return whole
    return replace(whole, halves=(lower, above))


def reading_noise(values: Any) -> float:
    """Standard deviation of one reading about a slow course, from second differences between rows (whose variance is
    six times that of a reading); by their median, so that jumps count for nothing. 0 for fewer than four readings."""
    bends = np.diff(np.asarray(values, dtype=float), 2)
    bends = bends[np.isfinite(bends)]
    return 1.4826 * float(np.median(np.abs(bends))) / math.sqrt(6.0) if bends.size > 1 else 0.0


def _freed(x: Any, y: Any, noise: float) -> Line:
    """A regression freed of what noise in x takes off its slope; as it is where noise is most of the range."""
    line = regression(x, y)
    share = noise**2 / float(np.var(x))
    return line if share > 0.5 else replace(line, slope=line.slope / (1.0 - share), u=line.u / (1.0 - share))


def unloadings(deflection: Any, load: Any, *, share: float = 0.1) -> list[Unloading]:
    """Unloadings before the peak: falls of the load below its largest so far by `share` of the peak or more in which
    the
    deflection goes back.

    A load drop of the beam, whose deflection stays or grows, is none. The line is the regression between 20 and 80 % of
    the fall on the way down.
    """
    d, p = np.asarray(deflection, dtype=float), np.asarray(load, dtype=float)
    rows = np.flatnonzero(np.isfinite(d) & np.isfinite(p))
    if rows.size < 3:
        return []
    d, p = d[rows], p[rows]
    top = int(np.argmax(p))
    running = np.maximum.accumulate(p[: top + 1])
    away = np.flatnonzero(running - p[: top + 1] >= share * float(p[top]))
    found = []
    for group in np.split(away, np.flatnonzero(np.diff(running[away]) > 0.0) + 1):
        if not group.size:
            continue
        start = int(np.flatnonzero(p[: group[0]] >= running[group[0]])[-1])
        end = int(group[np.argmin(p[group])])
        fall, back = float(p[start] - p[end]), float(d[start] - d[end])
        if back <= 0.02 * float(np.abs(d[: top + 1]).max()):
            continue
        part = slice(start, end + 1)
        inside = (p[part] >= p[end] + 0.2 * fall) & (p[part] <= p[end] + 0.8 * fall)
        try:
            line = regression(d[part][inside], p[part][inside])
        except ModelInputError:
            continue
        ends = int(rows[start]), int(rows[end])
        found.append(Unloading(*ends, float(p[start]), float(p[end]), float(d[start]), float(d[end]), line))
    return found


def regression(x: Any, y: Any) -> Line:
    """Straight line by least squares; `ModelInputError` for fewer than three points or equal abscissae."""
    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if a.size < 3 or np.ptp(a) == 0.0:
        raise ModelInputError(f"{a.size} points do not make a regression line; at least 3 with different x are needed")
    xm, ym = a - a.mean(), b - b.mean()
    slope = float(xm @ ym / (xm @ xm))
    rest = float(((ym - slope * xm) ** 2).sum())
    total = float(ym @ ym)
    u = math.sqrt(rest / (a.size - 2) / float(xm @ xm))
    return Line(slope, u, 1.0 - rest / total if total > 0.0 else 1.0, int(a.size))


def work(
    deflection: Any, load: Any, *, fraction: float = 0.85, yield_share: float = 0.75, behind: int | None = None
) -> Work:
    """Energy by trapezoids on raw readings (net of what unloadings gave back), and two idealised yield points.

    By a secant: where the secant through `yield_share` of the peak reaches the peak (75 %: the Park-type definition,
    from memory). By equal energy: a bilinear curve up to the peak load with the same energy to the last deflection,

        W = P_max (delta_u - delta_y/2),   delta_y = 2 (delta_u - W/P_max).

    Both mislead for shear failures, so show the other deflections with them. The last deflection is where the load has
    fallen to `fraction` of the peak; `behind` is the row behind it where an operator's unloading must not count (by
    default the first such reading after the peak).
    """
    d, p = np.asarray(deflection, dtype=float), np.asarray(load, dtype=float)
    keep = np.isfinite(d) & np.isfinite(p)
    behind = None if behind is None else int(keep[:behind].sum())
    d, p = d[keep], p[keep]
    if p.size < 3:
        raise ModelInputError(f"{p.size} readings with load and deflection; at least 3 are needed")
    energy = np.concatenate(([0.0], np.cumsum(0.5 * (p[1:] + p[:-1]) * np.diff(d))))
    top = int(np.argmax(p))
    level = fraction * float(p[top])
    end_d = end_w = None
    if behind is None:
        below = np.flatnonzero(p[top:] <= level)
        behind = top + int(below[0]) if below.size else None
    if behind is not None and top < behind < p.size:
        j = behind
        share = (p[j - 1] - level) / (p[j - 1] - p[j]) if p[j - 1] != p[j] else 1.0
        end_d = float(d[j - 1] + share * (d[j] - d[j - 1]))
        end_w = float(energy[j - 1] + 0.5 * (p[j - 1] + level) * (end_d - d[j - 1]))
    at_yield = _yield_like(d[: top + 1], p[: top + 1], yield_share)
    ductility = end_d / at_yield if end_d is not None and at_yield else None
    equal = 2.0 * (end_d - end_w / float(p[top])) if end_d is not None and end_w is not None else None
    equal = equal if equal is not None and equal > 0.0 else None
    by_energy = end_d / equal if end_d is not None and equal else None
    return Work(float(energy[top]), float(d[top]), end_w, end_d, at_yield, ductility, equal, by_energy)


def _yield_like(d: Any, p: Any, share: float) -> float | None:
    level = share * float(p[-1])
    j = int(np.flatnonzero(p >= level)[0])
    if j == 0:
        return None
    part = (level - p[j - 1]) / (p[j] - p[j - 1])
    return float((d[j - 1] + part * (d[j] - d[j - 1])) / share)
